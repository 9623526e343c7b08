import numpy as np
import pytest

from geoqa.errors import LayerError
from geoqa.steps.alignments import alignments

LINES = {"B": ("curb-top", 0.0, 0, 100), "A": ("walk-front", 9.0, 50, 120)}


def test_lines_are_numbered_by_name_with_kind_source_and_ends(job):
    made = alignments(job.layers(**job.design(LINES)))
    assert made.names.tolist() == ["A", "B"]
    assert made.kinds.tolist() == ["walk-front", "curb-top"]
    assert made.sources.tolist() == ["design", "design"]
    assert [made.start.tolist(), made.end.tolist()] == [[50, 0], [120, 100]]


def test_a_piece_of_a_line_runs_between_its_stations(job):
    made = alignments(job.layers(**job.design(LINES)))
    inside, beyond = made.pieces([1, 1], [20.0, 90.0], [50.0, 130.0])
    assert inside.length == pytest.approx(30)
    assert beyond is None


def test_a_line_without_elements_is_kept_without_ends(job):
    tables = job.design(LINES)
    tables["design_elements"] = tables["design_elements"][tables["design_elements"]["line"] == "A"]
    made = alignments(job.layers(**tables))
    assert made.names.tolist() == ["A", "B"]
    assert np.isnan(made.start).tolist() == [False, True]


@pytest.mark.parametrize(
    ("column", "value", "message"),
    [
        ("line", "Z", "Element of line 'Z', which is no design line"),
        ("shape", "spline", "shape 'spline' on line 'B' cannot be used; shapes are line and arc"),
        ("length", 70.0, "Design line 'B' cannot be used: .* is not as long as its ends"),
    ],
)
def test_an_element_that_does_not_fit_is_refused_by_the_name_of_its_line(job, column, value, message):
    tables = job.design(LINES)
    elements = tables["design_elements"]
    elements.loc[elements["line"] == "B", column] = value
    with pytest.raises(LayerError, match=message):
        alignments(job.layers(**tables))
