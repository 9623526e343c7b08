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
