"""The recipes of ``docs/cookbook.md`` run as they stand, and print what the page says they print.

With GEOQA_WRITE_DOCS=1 what they print is written into the page, to be read before it is kept.
"""

import contextlib
import io
import os
import re
import shutil
from pathlib import Path

import pytest

pytestmark = pytest.mark.long

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "cookbook.md"
BLOCK = re.compile(r"^```python\n(?P<code>.*?)^```\n(?:\n```text\n(?P<printed>.*?)^```\n)?", re.DOTALL | re.MULTILINE)


def recipes():
    """Title and text of every recipe; the first part is what stands before them."""
    first, *parts = re.split(r"^## ", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    return first, {part.partition("\n")[0]: part for part in parts}


SHARED, RECIPES = recipes()


@pytest.fixture
def beside_the_demo(tmp_path, monkeypatch):
    shutil.copytree(ROOT / "sample_jobs" / "tannery_lane", tmp_path / "job")
    monkeypatch.chdir(tmp_path)


def run(code, names):
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(compile(code, "recipe", "exec"), names)
    return "".join(line.rstrip() + "\n" for line in printed.getvalue().splitlines())


def test_there_are_twelve_recipes_and_each_has_something_to_run():
    assert len(RECIPES) >= 12
    assert all(BLOCK.search(text) for text in RECIPES.values())


@pytest.mark.parametrize("title", RECIPES)
@pytest.mark.usefixtures("beside_the_demo")
def test_a_recipe_prints_what_the_page_says(title):
    names = {"__name__": "recipe"}
    run(BLOCK.search(SHARED)["code"], names)
    for block in BLOCK.finditer(RECIPES[title]):
        printed = run(block["code"], names)
        if os.environ.get("GEOQA_WRITE_DOCS") == "1":
            text = f"```python\n{block['code']}```\n" + (f"\n```text\n{printed}```\n" if printed else "")
            PAGE.write_text(PAGE.read_text(encoding="utf-8").replace(block[0], text), encoding="utf-8", newline="\n")
        else:
            assert printed == (block["printed"] or "")
