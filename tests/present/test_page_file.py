"""The file itself: whole, without links, and the same every time."""

import os
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest

import geoqa.present.map.frame as frame
from geoqa.errors import OutputError
from geoqa.present.map.page import MapPage
from geoqa.present.map.scripts import bare, ordered


class Outline(HTMLParser):
    """What a browser would fetch or run."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.fetched, self.scripts, self.styles, self._inside = [], [], [], None

    def handle_starttag(self, tag, attributes):
        named = dict(attributes)
        self.fetched += [named[name] for name in ("src", "href", "data", "poster") if named.get(name)]
        self._inside = (tag, named.get("type")) if tag in ("script", "style") else None
        if tag == "script":
            self.scripts.append("")
        if tag == "style":
            self.styles.append("")

    def handle_data(self, data):
        if self._inside and self._inside[0] == "script":
            self.scripts[-1] += data
        if self._inside and self._inside[0] == "style":
            self.styles[-1] += data

    def handle_endtag(self, tag):
        self._inside = None


@pytest.fixture(scope="module")
def written(street, tmp_path_factory):
    folder = tmp_path_factory.mktemp("map")
    assert MapPage().write(street, folder) == ("map.html",)
    assert [path.name for path in folder.iterdir()] == ["map.html"]
    return (folder / "map.html").read_text(encoding="utf-8")


def test_the_page_names_nothing_to_fetch(written):
    outline = Outline()
    outline.feed(written)
    assert outline.fetched == []
    urls = re.findall(r"url\(\s*['\"]?([^)'\"]+)", "".join(outline.styles))
    assert [url for url in urls if not url.startswith(("data:", "#"))] == []
    assert "@import" not in "".join(outline.styles)
    assert "sourceMappingURL" not in written + frame.unfolded(written)


def test_libraries_that_are_not_needed_are_not_in_the_page(written):
    for text in (written, frame.unfolded(written)):
        assert re.search(r"jquery|bootstrap|font-?awesome", text, re.IGNORECASE) is None


def test_every_script_and_style_of_the_folder_is_in_the_page(written):
    scripts = ordered(frame.static, [frame.PICTURE, frame.DIFFERENCE, frame.START])
    unfold = {script.name for script in ordered(frame.static, [frame.UNFOLD])}
    listed = {*(script.name for script in scripts), *unfold, *frame.STYLES, "page.html"}
    assert {path.name for path in frame.STATIC.iterdir()} == listed
    pictured = frame.page(title="", about="{}", payload="", background="AAAA", difference="BBBB")
    texts = {name: frame.bare_style(frame.static(name)) for name in frame.STYLES} | {
        script.name: bare(script.body) for script in scripts
    }
    for name, text in texts.items():
        assert text.strip() in pictured + frame.unfolded(pictured)
        assert (text.strip() in written + frame.unfolded(written)) == (
            name not in (frame.PICTURE, frame.DIFFERENCE, "raster.js")
        )
    assert '<script type="text/plain" id="geoqa-background">AAAA</script>' in pictured
    assert '<script type="text/plain" id="geoqa-difference">BBBB</script>' in pictured


def test_a_note_that_ends_a_script_stays_inside_the_data(written, lines):
    outline = Outline()
    outline.feed(written)
    # Leaflet's switches, the folded scripts, what unfolds them, the two pieces of data, and the start
    assert len(outline.scripts) == 6
    assert lines.hostile.split("\u2028")[0] not in written


def test_the_title_of_the_page_is_text(street):
    page = frame.page(title="<script>alert(1)</script> & Co", about="{}", payload="")
    assert "<title>&lt;script&gt;alert(1)&lt;/script&gt; &amp; Co</title>" in page


@pytest.mark.long
def test_the_same_results_give_the_same_bytes_in_any_process(tmp_path):
    code = (
        "import importlib.util, sys; spec = importlib.util.spec_from_file_location('street', sys.argv[1]); "
        "made = importlib.util.module_from_spec(spec); spec.loader.exec_module(made); "
        "from geoqa.present.map.page import MapPage; MapPage().write(made.make_street(), sys.argv[2])"
    )
    pages = []
    for seed in ("1", "2"):
        folder = tmp_path / seed
        folder.mkdir()
        made = Path(__file__).with_name("conftest.py")
        environment = os.environ | {"PYTHONHASHSEED": seed}
        subprocess.run([sys.executable, "-c", code, str(made), str(folder)], check=True, env=environment)
        pages.append((folder / "map.html").read_bytes())
    assert pages[0] == pages[1]


def test_without_leaflet_the_map_says_what_to_install(street, tmp_path, monkeypatch):
    def missing(name):
        raise ModuleNotFoundError(name)

    monkeypatch.setattr(frame.resources, "files", missing)
    with pytest.raises(OutputError, match="run pip install django-js-lib-leaflet"):
        frame.leaflet("leaflet.js")


def test_the_small_page_stays_small(written):
    assert len(written) < 240_000


def test_scripts_fold_and_unfold_to_the_same_text(written):
    code = frame.unfolded(written)
    assert code.startswith("/* @preserve")
    assert f'data-size="{len(code.encode())}"' in written
