"""Places under faces against asking every face about every place."""

import numpy as np
import pytest
from scipy.spatial import Delaunay

from geoqa.kernels.design.face_strips import faces_over, into_strips


def pairs(corners, faces, place):
    strips = into_strips(corners, faces, place)
    found = [
        (strips.order[at], face)
        for over in faces_over(corners, faces, strips)
        for at, face in zip(over.at.tolist(), over.face.tolist(), strict=True)
    ]
    assert len(found) == len(set(found))
    return set(found)


def asked_one_by_one(corners, faces, place):
    a, b, c = (corners[faces[:, corner]] for corner in range(3))
    ahead, aside = b - a, c - a
    gap = place[:, None] - a[None]
    with np.errstate(divide="ignore", invalid="ignore"):
        whole = ahead[:, 0] * aside[:, 1] - ahead[:, 1] * aside[:, 0]
        second = (gap[..., 0] * aside[:, 1] - gap[..., 1] * aside[:, 0]) / whole
        third = (ahead[:, 0] * gap[..., 1] - ahead[:, 1] * gap[..., 0]) / whole
        inside = (second >= -1e-9) & (third >= -1e-9) & (second + third <= 1 + 1e-9) & (whole != 0)
    return set(zip(*np.nonzero(inside), strict=True))


def slivers(rng, angle):
    """Thin faces across a site 1000 ft wide, in one direction, among small ones."""
    middle = rng.uniform(0, 1000, (40, 2))
    along, across = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    shape = np.stack([middle - 500 * along, middle + 500 * along, middle + 2 * across], axis=1)
    return shape.reshape(-1, 2), np.arange(120).reshape(-1, 3)


@pytest.mark.parametrize("angle", [0.0, 0.3, np.pi / 4, 1.2, np.pi / 2])
def test_slivers_in_any_direction(angle):
    rng = np.random.default_rng(5)
    mesh = rng.uniform(0, 1000, (300, 2))
    long, thin = slivers(rng, angle)
    corners = np.concatenate([mesh, long])
    faces = np.concatenate([Delaunay(mesh).simplices, thin + len(mesh)])
    place = np.concatenate([rng.uniform(-50, 1050, (1500, 2)), corners[::7], [[np.nan, 1.0]]])
    assert pairs(corners, faces, place) == asked_one_by_one(corners, faces, place)


def test_a_long_sliver_is_not_asked_about_the_places_in_its_box():
    rng = np.random.default_rng(6)
    mesh = rng.uniform(0, 1000, (2000, 2))
    long, thin = slivers(rng, np.pi / 4)
    corners = np.concatenate([mesh, long])
    faces = np.concatenate([Delaunay(mesh).simplices, thin + len(mesh)])
    place = rng.uniform(0, 1000, (4000, 2))
    strips = into_strips(corners, faces, place)
    high, wide = strips.high, strips.wide
    assert high < 60
    assert wide < 30
    assert strips.rows * strips.high >= 1000


@pytest.mark.parametrize("places", [1, 30_000])
def test_one_face_and_many_places(places):
    rng = np.random.default_rng(7)
    corners, faces = np.array([[0.0, 0.0], [100.0, 0.0], [0.0, 100.0]]), np.array([[0, 1, 2]])
    place = rng.uniform(0, 100, (places, 2))
    expected = {(row, 0) for row in np.flatnonzero(place.sum(axis=1) <= 100).tolist()}
    assert pairs(corners, faces, place) == expected


def test_a_corner_is_under_all_its_faces_and_a_wall_under_none():
    corners = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0], [5.0, 5.0]])
    faces = np.array([[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4], [0, 2, 4]])
    assert pairs(corners, faces, corners[4:]) == {(0, face) for face in range(4)}
    assert pairs(corners, faces[4:], corners[4:]) == set()
