"""The design surface that shots are held against, and what it says at places in plan."""

from dataclasses import dataclass

import numpy as np

from geoqa.kernels.design.tin_elevation import SurfaceAt, surface_at, tin_grade
from geoqa.kernels.surfaces.outline import in_outline
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.surfaces import surfaces

AXES = ["easting", "northing", "elevation"]
CORNERS = ["first", "second", "third"]
BREAK = 2.0
"""Plan uncertainties round a shot within which a break of the surface is looked for."""
_ROUND = 8
_AT_ONCE = 100_000
"""Shots; each asks the surface as often as `_ROUND` says."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Surface:
    """A surface of given faces.

    Attributes
    ----------
    name, source : str
        As the job and its table of sources call it.
    points : (p, 3) float64
        In the job's unit.
    faces : (m, 3) int64
        Rows of `points`.
    """

    name: str
    source: str
    points: np.ndarray
    faces: np.ndarray


def surface_named(layers: Layers, name: str) -> Surface | None:
    """The surface of a name, or the only one that was read where none is named; None where that settles nothing."""
    known = surfaces(layers)
    if not name and len(known) == 1:
        name = known[0]
    if name not in known:
        return None

    def made() -> Surface | None:
        points, faces = layers["surface_points"], layers["surface_faces"]
        points, faces = points[points["surface"] == name], faces[faces["surface"] == name]
        if points["source"].nunique() > 1:
            return None
        order = np.argsort(points["point"].to_numpy(), kind="stable")
        return Surface(
            name=name,
            source=str(points["source"].iloc[0]),
            points=points[AXES].to_numpy(float)[order],
            faces=faces[CORNERS].to_numpy(np.int64),
        )

    found: Surface | None = layers.derived(f"surface {name}", ("surface_points", "surface_faces"), made)
    return found


@dataclass(frozen=True, kw_only=True, eq=False)
class Beneath:
    """What a surface says under shots; arrays of shape (n,).

    Attributes
    ----------
    at : SurfaceAt
    grade : (n, 2) float64
        Of the face, to the east and to the north; NaN where none lies.
    in_hole : bool
        No face lies there, and it is within the outermost edge.
    broken : float64
        1 sigma in elevation of what the surface does round the shot beyond the grade of its face.
    """

    at: SurfaceAt
    grade: np.ndarray
    in_hole: np.ndarray
    broken: np.ndarray


def beneath(surface: Surface, place: np.ndarray, u_plan: np.ndarray) -> Beneath:
    """Ask a surface for its elevation and shape under shots.

    Parameters
    ----------
    surface : Surface
    place : (n, 2) float64
    u_plan : (n,) float64
        1 sigma of each shot per axis.
    """
    at = surface_at(surface.points, surface.faces, *place.T)
    grade = tin_grade(surface.points, surface.faces, at.face)
    off = (at.face < 0) & np.isfinite(place).all(axis=1)
    in_hole = np.zeros(len(place), dtype=bool)
    if off.any():
        in_hole[off] = in_outline(surface.points[:, :2], surface.faces, place[off])
    return Beneath(at=at, grade=grade, in_hole=in_hole, broken=_broken(surface, place, at, grade, u_plan))


def _broken(surface: Surface, place: np.ndarray, at: SurfaceAt, grade: np.ndarray, u_plan: np.ndarray) -> np.ndarray:
    """What the surface does at `BREAK` plan uncertainties round a place, beyond what its face goes on to do.

    A curb face within the reach of the plan uncertainty is no grade: half of the step may be in the number.
    """
    angle = np.arange(_ROUND) * 2 * np.pi / _ROUND
    round_it = np.column_stack([np.sin(angle), np.cos(angle)])
    broken = np.zeros(len(place))
    for begin in range(0, len(place), _AT_ONCE):
        part = slice(begin, begin + _AT_ONCE)
        step = BREAK * np.nan_to_num(u_plan[part])[:, None, None] * round_it
        there = (place[part, None, :] + step).reshape(-1, 2)
        found = surface_at(surface.points, surface.faces, *there.T).elevation.reshape(-1, _ROUND)
        on_face = at.elevation[part, None] + (step * grade[part, None, :]).sum(axis=2)
        broken[part] = np.nan_to_num(np.abs(found - on_face)).max(axis=1) / BREAK
    return broken
