"""The compiled search gives the answers of the plain one, or says what it lacks."""

import subprocess
import sys
from dataclasses import fields

import numpy as np
import pytest

from geoqa.errors import GeometryInputError, MissingExtraError
from geoqa.kernels.design import station
from geoqa.kernels.design import station_compiled as station_fast
from geoqa.kernels.design.cells import index_elements
from geoqa.kernels.design.element_making import from_bulges, from_vertices

FAR = np.array([13_000_000.0, 300_000.0])


def assert_same(found, expected):
    for field in fields(expected):
        np.testing.assert_array_equal(getattr(found, field.name), getattr(expected, field.name), err_msg=field.name)


def tangle(seed, *, arcs):
    rng = np.random.default_rng(seed)
    path = FAR + np.cumsum(rng.normal(0, 8, (600, 2)), axis=0)
    path[::7] = path[1::7][: len(path[::7])]  # some elements without length
    bulges = np.where(rng.random(600) < 0.4 * arcs, rng.normal(0, 0.7, 600), 0.0)
    e = from_bulges(path, bulges, np.repeat(np.arange(30), 20))
    near = e.start[rng.integers(0, len(e), 3000)] + rng.normal(0, 6, (3000, 2))
    far = np.array([[np.nan, 300_000.0], [22_000_000.0, 9_300_000.0]])
    points = np.concatenate([near, e.end, far])
    return e, points, rng


@pytest.mark.parametrize("arcs", [False, True])
@pytest.mark.parametrize("reach", [0.3, 20.0, 500.0])
def test_the_compiled_search_gives_the_answers_of_the_plain_one(arcs, reach):
    pytest.importorskip("numba")
    e, points, _ = tangle(4, arcs=arcs)
    assert_same(station_fast.nearest(points, e, reach=reach), station.nearest(points, e, reach=reach))


def test_groups_and_an_index_are_used_as_in_the_plain_search():
    pytest.importorskip("numba")
    e, points, rng = tangle(5, arcs=True)
    index = index_elements(e, reach=3.0, element_group=e.line % 4)
    options = {"reach": 30.0, "index": index, "point_group": rng.integers(0, 6, len(points))}
    assert_same(station_fast.nearest(points, e, **options), station.nearest(points, e, **options))
    assert station_fast.nearest([], e, reach=1.0).line.shape == (0,)
    with pytest.raises(GeometryInputError, match="give a positive length"):
        station_fast.nearest(points, e, reach=0.0)


def test_without_the_optional_package_the_message_says_how_to_get_it(monkeypatch):
    station_fast._compiled.cache_clear()
    monkeypatch.setitem(sys.modules, "numba", None)
    with pytest.raises(MissingExtraError, match=r'pip install "geoqa-survey\[fast\]"'):
        station_fast.nearest([[0, 0]], from_vertices([[0, 0], [0, 9]], [0, 0]), reach=1.0)
    station_fast._compiled.cache_clear()


def test_the_plain_search_does_not_import_the_optional_package():
    rooms = "geoqa.kernels.design.station, geoqa.kernels.design.station_compiled"
    code = f"import sys, {rooms}; sys.exit('numba' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
