"""Lines beside a centre line: true arcs beside arcs, and within the stated distance beside spirals and parabolas."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.baseline.course import Course
from geoqa.kernels.baseline.nearest import station_offset
from geoqa.kernels.baseline.parallel import parallel

SPIRALLED = Course(
    easting=[0.0, 0.0], northing=[0.0, 300.0], azimuth=[0.0, 0.0], length=[300.0, 250.0], start_curvature=[0.0, 0.0],
    end_curvature=[0.0, -1 / 300], station=[1000.0, 1300.0], stationed=[300.0, 250.0],
)  # fmt: skip


def level(station):
    return np.full(station.shape, 50.0)


def inside(pieces, row, count=9):
    """Places along one piece, from its own numbers."""
    if pieces.sense[row] == 0:
        share = np.linspace(0, 1, count)[:, None]
        return pieces.start[row] + share * (pieces.end[row] - pieces.start[row])
    from_centre = pieces.start[row] - pieces.centre[row]
    turn = -pieces.sense[row] * np.linspace(0, pieces.length[row] / pieces.radius[row], count)
    return pieces.centre[row] + np.column_stack([
        from_centre[0] * np.cos(turn) - from_centre[1] * np.sin(turn),
        from_centre[0] * np.sin(turn) + from_centre[1] * np.cos(turn),
    ])  # fmt: skip


@pytest.mark.parametrize("offset", [-60.0, 0.0, 45.0])
@pytest.mark.parametrize("within", [0.0005, 0.01])
def test_pieces_stay_within_the_stated_distance_of_a_spiral(offset, within):
    pieces = parallel(
        SPIRALLED, start=1000.0, end=1550.0, offset=offset, elevation=level, breaks=np.array([]), within=within
    )
    spots = np.concatenate([inside(pieces, row) for row in range(len(pieces.length))])[1:-1]
    assert np.abs(station_offset(SPIRALLED, *spots.T).offset - offset).max() < within
    np.testing.assert_allclose(pieces.start[1:], pieces.end[:-1], atol=1e-9)
    np.testing.assert_allclose([inside(pieces, row)[-1] for row in range(len(pieces.length))], pieces.end, atol=1e-6)
    assert 3 < len(pieces.length) < 40


def test_a_parabola_is_divided_until_chords_fit():
    def sag(station):
        return 50 + (station - 1150) ** 2 / 20_000

    pieces = parallel(
        SPIRALLED, start=1000.0, end=1300.0, offset=5.0, elevation=sag, breaks=np.array([1150.0]), within=0.002
    )
    middle = (pieces.station[1:] + pieces.station[:-1]) / 2
    assert np.abs(sag(middle) - (pieces.start_elevation + pieces.end_elevation) / 2).max() < 0.002
    assert (pieces.sense == 0).all()
    assert 1150.0 in pieces.station


def test_beyond_the_centre_is_refused():
    arc = Course(easting=[0], northing=[0], azimuth=[0], length=[100], start_curvature=[0.02], end_curvature=[0.02],
                 station=[0], stationed=[100])  # fmt: skip
    with pytest.raises(GeometryInputError, match=r"50\.00 right would reach the centre of the curve, 50\.00 away"):
        parallel(arc, start=0, end=100, offset=50.0, elevation=level, breaks=np.array([]), within=0.01)
