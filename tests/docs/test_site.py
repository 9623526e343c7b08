"""The site is built without a warning, asks no network for anything, and can be searched from disk."""

import os
import re
import subprocess
import sys

import pytest

from bench.pages import DOCS, ROOT

pytestmark = pytest.mark.long

LOADED = re.compile(r"""<(?:script|link|img|iframe)\b[^>]*?\b(?:src|href)=["']?(?:https?:)?//[^\s>]*[^>]*>""")
LINK = re.compile(r"\[[^\]]*\]\((?!https?:|#)([^)#\s]+)")


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    folder = tmp_path_factory.mktemp("site")
    done = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "-f", str(ROOT / ".mkdocs.yml"), "-d", str(folder)],
        env=os.environ | {"NO_MKDOCS_2_WARNING": "1", "NO_COLOR": "1"},
        capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "WARNING" not in done.stderr
    return folder


def test_every_page_is_built(site):
    assert {path.stem for path in DOCS.glob("*.md")} <= {path.stem for path in site.glob("*.html")}


def test_no_page_loads_anything_from_a_network(site):
    loaded = {(page.name, tag) for page in site.glob("*.html") for tag in LOADED.findall(page.read_text("utf-8"))}
    assert loaded == set()
    styles = "".join(path.read_text("utf-8") for path in site.rglob("*.css"))
    assert not re.search(r"(?:url\(|@import)\s*[\"']?(?:https?:)?//", styles)


def test_links_of_the_first_pages_lead_somewhere():
    for page in (ROOT / "README.md", ROOT / "DEVELOPERS.md"):
        assert [link for link in LINK.findall(page.read_text("utf-8")) if not (ROOT / link).exists()] == []


@pytest.mark.browser
def test_a_page_that_was_opened_from_disk_is_searched_without_a_network(site, chromium):
    page = chromium.new_context().new_page()
    asked, troubles = [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: troubles.append(str(error)))
    page.goto((site / "index.html").as_uri())
    page.locator("input.md-search__input").click()
    page.keyboard.type("leaning rod", delay=20)
    page.wait_for_selector(".md-search-result__item", state="attached", timeout=30_000)
    assert troubles == []
    assert [url for url in asked if not url.startswith(("file:", "data:", "blob:", "about:"))] == []
