import pickle

import numpy as np
import pytest

from geoqa.errors import LayerError
from geoqa.job.execute import execute
from geoqa.job.plan import default_steps
from geoqa.kernels.design import cells, station
from geoqa.model.tables.layer import Layers
from geoqa.simulate import make
from geoqa.steps.design import alignments as module
from geoqa.steps.design.alignments import alignments

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


@pytest.mark.long
def test_a_run_builds_the_index_of_its_lines_once_for_all_steps_and_no_other_run_uses_it(monkeypatch):
    built, real = [], cells.index_elements

    def counted(elements, **options):
        built.append((elements, options["element_group"] is not None))
        return real(elements, **options)

    for room in (module, station):
        monkeypatch.setattr(room, "index_elements", counted)
    made = []
    for seed in (1, 2):
        layers = make(seed=seed).layers()
        execute(layers, default_steps())
        made.append(list(built))
        built.clear()
    for each in made:
        assert all(elements is each[0][0] for elements, _ in each)
        assert len([by_kind for _, by_kind in each if by_kind]) == 1
        assert len(each) <= 2  # by kind, and once over all kinds for shots whose code is in question
    assert made[0][0][0] is not made[1][0][0]


def test_lines_are_worked_out_anew_where_a_table_is_another(job):
    layers = job.layers(**job.design(LINES))
    first = alignments(layers)
    assert alignments(layers) is first
    other = Layers({**layers, "design_elements": layers["design_elements"].copy()}, frame=layers.frame)
    assert alignments(other) is not first
    assert alignments(pickle.loads(pickle.dumps(layers))) is not first


def test_an_index_made_for_one_reach_answers_for_another(job):
    made = alignments(job.layers(**job.design(LINES)))
    at = [[2_228_000.0 + 3.0, 446_060.0], [2_228_000.0 + 40.0, 446_060.0]]
    by_group = {"point_group": [0, 0], "index": made.index(5.0, by_kind=True)}
    near = station.nearest(at, made.elements, reach=5.0, **by_group)
    far = station.nearest(at, made.elements, reach=50.0, **by_group)
    assert (near.element >= 0).tolist() == [True, False]
    assert (far.element >= 0).tolist() == [True, True]
    assert made.index(50.0, by_kind=True) is by_group["index"]
