"""Sections of walks that are planes: slope and width are those of the plane wherever the shots of either edge lie."""

import numpy as np
import pytest

from bench.walk_shots import layers_of, walk_rows
from geoqa import testing
from geoqa.kernels.precision.one_place import places_along
from geoqa.steps.linework.observed import observed
from geoqa.steps.linework.observed_strings import strings_among
from geoqa.steps.linework.pairs import pairs_of
from geoqa.steps.walks.panels import panels
from geoqa.steps.walks.walks import Walks

SLOPE, GRADE, WIDTH = 0.02, 0.05, 6.0
AT = np.arange(0, 201, 25.0)


def rows_on_a_plane(shift):
    """Both edges of a walk on one plane; the shots of the back lie `shift` ahead of those of the front."""
    along = [np.zeros(len(AT)), np.full(len(AT), shift)]
    return walk_rows(
        AT, slope=SLOPE, grade=GRADE, width=WIDTH, errors=tuple(GRADE * each for each in along),
        plan=tuple(np.column_stack([np.zeros(len(AT)), each]) for each in along),
    )  # fmt: skip


def sections(rows):
    layers = layers_of(rows, ("walk", "cross-slope", -1 / 48, 1 / 48))
    shots = observed(layers)
    strings = strings_among(layers, shots)
    pairs, alone = pairs_of(shots, layers["codes"], strings=strings, reach=15.0, gap=60.0, slack=0.5)
    return panels(shots, pairs, alone, apart=5.0)


@pytest.mark.parametrize("shift", [0.0, 7.0, 12.5, 18.0])
def test_a_plane_has_its_slope_and_width_at_every_section(shift):
    done = testing.run(layers_of(rows_on_a_plane(shift), ("walk", "cross-slope", -1 / 48, 1 / 48)), Walks())
    made = done["walk_sections"]
    assert len(made) >= len(AT)
    np.testing.assert_allclose(made["cross_slope"], SLOPE, atol=1e-9)
    np.testing.assert_allclose(made["width"], WIDTH, atol=1e-9)
    assert set(made["towards"]) == {"falls to walk-front"}


def test_the_uncertainty_is_that_of_the_shots_a_section_lies_between():
    """7 ft past a shot of 25 ft: 1, 18/25 and 7/25 of three shots, 0.02 ft each, over 6 ft."""
    made = testing.run(layers_of(rows_on_a_plane(7.0), ("walk", "cross-slope", -1 / 48, 1 / 48)), Walks())
    u = made["walk_sections"]["u_cross_slope"].to_numpy(float)
    expected = 0.02 * np.sqrt(1 + (18 / 25) ** 2 + (7 / 25) ** 2) / WIDTH
    inner = u[1:-1]
    assert np.abs(inner - expected).min() < 1e-5
    np.testing.assert_allclose(inner, expected, rtol=0.01)


def test_minutes_between_both_edges_are_those_of_the_nearest_shots():
    """Up the front, a shot a minute, and down the back: the first of the front is 17 minutes from the last."""
    found = sections(rows_on_a_plane(0.0))
    count = len(AT)
    np.testing.assert_allclose(np.sort(found.table["between"]), 1 + 2 * np.arange(count), atol=1e-9)
    # where the nearest shot across was taken after another start, nothing that lasts is known to be shared
    rows = rows_on_a_plane(7.0)
    late = [row | {"session": "B", "initialization": "B1"} if row["code"] == "WKB" and row["station"] > 100 else row
            for row in rows]  # fmt: skip
    between = sections(late).table["between"].to_numpy(float)
    # of one start: the front at 25, 50 and 75, and the back at 7, 32, 57 and 82; the front at 100 is nearer to 107
    assert (int(np.isfinite(between).sum()), int(np.isinf(between).sum())) == (7, 9)


def test_sections_near_each_other_are_their_mean():
    found = sections(rows_on_a_plane(3.0))
    stations = found.table["station"].to_numpy(float)
    assert np.diff(stations).min() > 5.0
    assert len(stations) == len(np.unique(places_along(np.zeros(len(stations)), stations, reach=5.0)))
    # two sections 3 ft apart, one of either edge's shot
    assert [len(each) for each in found.table["named"]][1:-1] == [2] * (len(stations) - 2)
