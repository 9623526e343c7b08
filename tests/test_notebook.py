"""The notebook of ``docs`` runs from top to bottom in a kernel of its own, and shows what its text speaks of."""

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

pytestmark = pytest.mark.long

BOOK = Path(__file__).resolve().parents[1] / "docs" / "first_look.ipynb"


@pytest.fixture(scope="module")
def cells():
    book = nbformat.read(BOOK, as_version=4)
    stored = [cell.get("outputs") for cell in book.cells if cell.cell_type == "code"]
    assert not any(stored), "the notebook is kept without what it prints: clear its outputs"
    NotebookClient(book, timeout=240, kernel_name="python3", resources={"metadata": {"path": BOOK.parent}}).execute()
    return [cell for cell in book.cells if cell.cell_type == "code"]


def shown(cell, kind):
    """What a cell printed or showed, as text of one kind."""
    if kind == "stream":
        return "".join(
            output.text for output in cell.outputs if output.output_type == "stream" and output.name == "stdout"
        )
    return "".join(output.data.get(kind, "") for output in cell.outputs if "data" in output)


def of(cells, start):
    return next(cell for cell in cells if start in cell.source)


def test_no_cell_warns_or_fails(cells):
    for cell in cells:
        assert not [output for output in cell.outputs if output.output_type == "error"]
        assert not [output for output in cell.outputs if output.get("name") == "stderr"], cell.outputs


def test_the_misnamed_check_is_seen_and_named(cells):
    assert "435.0" in shown(of(cells, "control_residuals"), "text/plain")
    assert "named CP-5 was taken on CP-4" in shown(of(cells, "geoqa.assess"), "stream")


def test_the_planted_defects_head_the_list_of_the_work(cells):
    table = shown(of(cells, "results.work"), "text/html")
    assert "MH-2 rim" in table
    assert "CFL-R-2" in table


def test_the_gap_of_the_back_of_the_walk_is_no_accusation(cells):
    table = shown(of(cells, "results.evidence"), "text/html")
    assert "WKB-R-2" in table
    assert "shoot it, or show that it was not to be built" in table


def test_the_figure_is_shown_once_and_the_map_inside_its_cell(cells):
    assert len(shown(of(cells, "results.plot"), "image/png")) > 20_000
    page = shown(of(cells, "results.map()"), "text/html")
    assert page.startswith("<iframe srcdoc=")


def test_results_shown_by_themselves_are_the_list_and_under_it_the_map_which_opens_without_a_network(
    chromium, tmp_path
):
    book = nbformat.v4.new_notebook()
    code = "import geoqa\nresults = geoqa.run('tannery_lane.toml', write=False)\nresults"
    book.cells = [nbformat.v4.new_code_cell(code)]
    folder = BOOK.parents[1] / "sample_jobs" / "tannery_lane"
    NotebookClient(book, timeout=240, kernel_name="python3", resources={"metadata": {"path": folder}}).execute()
    (output,) = book.cells[0].outputs
    page = chromium.new_page(viewport={"width": 1200, "height": 1600})
    page.context.set_offline(True)
    asked, said = [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    place = tmp_path / "cell.html"
    place.write_text(f"<!doctype html><meta charset=utf-8>{output.data['text/html']}", encoding="utf-8")
    page.goto(place.as_uri())
    inside = page.frame_locator("iframe")
    inside.locator("body[data-ready]").wait_for(timeout=60_000)
    assert "MH-2 rim" in page.locator("table").nth(1).inner_text()
    assert "11 places of the work are out of tolerance" in inside.locator("#headline").inner_text()
    inside.locator("#list .item").first.click()
    inside.locator(".card").wait_for()
    assert [url for url in asked if not url.startswith(("about:", "data:"))] == [place.as_uri()]
    assert said == []
    page.close()
