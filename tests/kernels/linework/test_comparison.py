"""Lines beside lines, against exact shares and the values of a well-known geometry library's own tests."""

import time

import numpy as np
import pytest
import shapely

from geoqa.errors import GeometryInputError
from geoqa.kernels.linework.comparison import (
    _cut,
    _leash,
    _lines,
    area_between,
    frechet,
    hausdorff,
    inside_length,
    past_ends,
    share_within,
)

REFERENCE = [[0, 0], [100, 0]]


@pytest.mark.parametrize(("width", "share"), [(1, 0.25), (2, 0.50), (3, 0.75), (3.8, 0.95), (4, 1.0)])
def test_the_share_of_a_slanting_line_is_a_quarter_of_the_width(width, share):
    # buffer overlay, Goodchild & Hunter 1997, IJGIS 11(3) 299-306; exact for this line
    assert share_within([[0, 0], [100, 4]], REFERENCE, width) == pytest.approx(share, abs=1e-12)


@pytest.mark.parametrize(("width", "share"), [(0.4, 0.0), (1, 60.5 / 101.5), (2.5, 1.0)])
def test_the_share_of_a_line_with_a_step(width, share):
    line = [[0, 0.5], [60, 0.5], [60, 2], [100, 2]]
    assert share_within(line, REFERENCE, width) == pytest.approx(share, abs=1e-12)


def test_far_from_the_origin_of_the_grid_the_share_is_the_same():
    away = np.array([2_400_000.125, 700_000.25])
    assert share_within(np.add(away, [[0, 0], [100, 4]]), np.add(away, REFERENCE), 2) == pytest.approx(0.5, abs=1e-9)


def test_what_lies_past_a_flat_cap_is_outside_and_counted():
    line = [[-10, 0.5], [50, 0.5], [105, 0.5]]
    assert inside_length(line, REFERENCE, 1.0, 1.0) == pytest.approx([50, 50])
    assert past_ends(line, REFERENCE) == pytest.approx([10, 5])
    assert past_ends([[-10, 5], [120, 5]], [[0, 0], [9, 0], [9, 9], [0, 0]]).tolist() == [0.0]


def test_a_line_bent_round_is_not_past_its_own_end():
    hook = [[0, 0], [100, 0], [100, 50], [-50, 50]]
    assert past_ends([[40, 51], [-30, 51]], hook) == pytest.approx([0.0])


def test_a_band_of_two_widths_reaches_to_its_sides():
    line = [[0, 0.5], [50, 0.5], [50, -0.5], [100, -0.5]]  # left, then right of a line to the east
    assert inside_length(line, REFERENCE, 0.6, 0.2)[[0, 2]] == pytest.approx([50, 0])
    assert inside_length(line, REFERENCE, 0.2, 0.6)[[0, 2]] == pytest.approx([0, 50])
    assert inside_length(line, REFERENCE, [0.2] * 3, [-0.1] * 3)[[0, 2]] == pytest.approx([0, 0])
    assert inside_length([[0, 0.15], [50, 0.15], [100, 0.05]], REFERENCE, 0.2, -0.1) == pytest.approx(
        [50, 25 * np.hypot(50, 0.1) / 50]
    )


@pytest.mark.parametrize(
    ("line", "reference", "near", "leash"),
    [
        # unit tests of GEOS, DiscreteHausdorffDistanceTest and DiscreteFrechetDistanceTest
        ([[0, 0], [2, 1]], [[0, 0], [2, 0]], 1.0, 1.0),
        ([[0, 0], [2, 0]], [[0, 1], [1, 2], [2, 1]], 2.0, None),
        ([[0, 0], [100, 0]], [[0, 0], [50, 50], [100, 0]], 50.0, 50.0),
        ([[1, 1], [2, 2]], [[1, 4], [2, 3]], 2.236068, 3.0),
    ],
)
def test_distances_of_lines(line, reference, near, leash):
    assert hausdorff(line, reference) == pytest.approx(near, abs=2e-3)
    if leash is not None:
        assert frechet(line, reference) == pytest.approx(leash, abs=0.2 if leash == 50 else 5e-3)


def test_vertices_alone_would_give_another_number():
    # the same GEOS tests: vertex by vertex 70.7106781186548 and 2.23606797749979; the leash itself is 50 and 2
    tent, roof = [[0, 0], [50, 50], [100, 0]], [[0, 1], [1, 2], [2, 1]]
    alone = shapely.frechet_distance(shapely.LineString(REFERENCE), shapely.LineString(tent))
    assert alone == pytest.approx(70.7106781186548)
    assert frechet(REFERENCE, tent) == pytest.approx(50.0, abs=1e-6)
    assert frechet([[0, 0], [2, 0]], roof) == pytest.approx(2.0, abs=1e-3)


def test_lines_beside_each_other_are_as_far_apart_as_they_are_whatever_their_pieces():
    line = np.column_stack([np.linspace(0, 1200, 50), np.full(50, 0.04)])
    assert frechet(line, [[0, 0], [1200, 0]]) == pytest.approx(0.04, abs=1e-6)


def test_area_between_lines_counts_both_sides_and_rings_by_what_differs():
    assert area_between([[0, 2], [100, 2]], REFERENCE) == pytest.approx(200)
    assert area_between([[0, 1], [50, -1], [100, 1]], REFERENCE) == pytest.approx(50)
    box, wider = ([[0, 0], [x, 0], [x, 10], [0, 10], [0, 0]] for x in (10, 11))
    assert area_between(box, wider) == pytest.approx(10)


def test_what_is_no_line_is_refused():
    for line in ([[0, 0]], [[0, 0], [np.nan, 1]]):
        with pytest.raises(GeometryInputError):
            share_within(line, REFERENCE, 1.0)


@pytest.mark.score
@pytest.mark.parametrize(("random", "common"), [(0.02, 0.0), (0.05, 0.03), (0.12, 0.0), (0.03, 0.10)])
def test_sound_work_is_seldom_called_too_little_within_its_band(random, common):
    # every place of the work within 0.08 of a band of 0.10, at least 95 % asked; 500 lines of 12 shots
    rng = np.random.default_rng(17)
    at, u = np.linspace(0, 220, 12), np.hypot(random, common)
    wrong = 0
    for _ in range(500):
        built = np.interp(at, [0, 70, 150, 220], rng.uniform(-0.08, 0.08, 4))
        seen = np.column_stack([at, built + rng.normal(0, random, 12) + rng.normal(0, common)])
        width = 0.10 + 1.959963984540054 * u
        inside = inside_length(seen, [[-1, 0], [221, 0]], width, width).sum()
        wrong += inside < 0.95 * np.hypot(*np.diff(seen, axis=0).T).sum()
    assert wrong <= 500 * 0.05


def test_a_vertex_far_off_its_line_costs_no_table_of_all_its_pieces():
    far = np.array([[0.0, 0.0], [50.0, 0.0], [1.4e6, 1.4e6], [100.0, 0.0], [200.0, 0.0]])
    design = np.array([[0.0, 1.0], [200.0, 1.0]])
    # by hand: from the vertex to the end of the design
    away = np.hypot(1.4e6 - 200.0, 1.4e6 - 1.0)
    assert hausdorff(far, design) == pytest.approx(away)
    assert frechet(far, design) == pytest.approx(away)


def _by_the_table(one, other):
    """Coupling measure by its recursion, Eiter and Mannila 1994, CD-TR 94/64, TU Wien (cited from memory)."""
    table = np.hypot(*(one[:, None] - other[None]).transpose(2, 0, 1))
    for i, j in np.ndindex(table.shape):
        before = [table[a, b] for a, b in ((i - 1, j), (i, j - 1), (i - 1, j - 1)) if a >= 0 and b >= 0]
        table[i, j] = max(table[i, j], min(before, default=0.0))
    return table[-1, -1]


def test_the_leash_is_that_of_the_published_table_and_never_longer_than_what_the_library_says():
    # GEOS skips parts of the table: of wild lines its number is too large now and then, of lines side by side the same
    rng = np.random.default_rng(41)
    for _ in range(60):
        one, other = (np.cumsum(rng.normal(0, 3, (rng.integers(2, 20), 2)), axis=0) for _ in range(2))
        assert _leash(one, other) == pytest.approx(_by_the_table(one, other), rel=1e-12)
        assert _leash(one, other) <= shapely.frechet_distance(shapely.LineString(one), shapely.LineString(other)) + 1e-9
    for _ in range(20):
        along = np.arange(0, 100, 2.0)
        one, other = (np.column_stack([along, rng.normal(0, 0.1, 50)]) for _ in range(2))
        library = shapely.frechet_distance(shapely.LineString(one), shapely.LineString(other))
        assert _leash(one, other) == pytest.approx(library, rel=1e-12)


@pytest.mark.parametrize("bumps", [1, 3])
def test_a_few_vertices_two_thousand_feet_off_cost_no_minutes(bumps):
    """GEOS took three minutes for such a line; the bound is a share of them that any machine holds."""
    line = np.column_stack([np.arange(0, 500.0, 10.0), np.full(50, 0.02)])
    line[10 : 10 + 9 * bumps : 9, 1] = 2000.0
    begun = time.process_time()
    assert frechet(line, [[0, 0], [490, 0]]) == pytest.approx(2000.0)
    assert time.process_time() - begun < 10


def test_a_step_of_a_hair_costs_no_more_than_the_pieces_there_may_be():
    """Two lines of 200 ft cut to 0.02 ft were 10,000 pieces each, and a table of 100 million distances."""
    along = np.linspace(0.0, 200.0, 9)
    line, other = (np.column_stack([along, np.sin(along / 20.0) + up]) for up in (0.0, 0.05))
    assert hausdorff(line, other, step=1e-5) == hausdorff(line, other, step=0.1) == pytest.approx(0.05, abs=1e-9)
    with_few = shapely.get_num_coordinates(_cut(*_lines(line, other), 1e-5)[0])
    assert with_few <= 2100
