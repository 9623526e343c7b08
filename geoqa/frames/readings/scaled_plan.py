"""Grid, ellipsoid and ground distance side by side, and whether a plan was scaled to the ground."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoqa.errors import FrameError
from geoqa.frames.systems.factors import combined_factor
from geoqa.kernels.control.similarity import fit_similarity
from geoqa.model.frame import Frame
from geoqa.model.words import many

Array = NDArray[np.float64]

EARTH = 6_371_000.0
"""Metres: mean radius, for how much a height does to a scale."""
SIGMAS = 3.0
"""Standard errors by which two scales must differ to be told apart."""


@dataclass(frozen=True, kw_only=True)
class ScaledPlan:
    """Whether a plan lies on the grid or on the ground.

    Attributes
    ----------
    answer : str
        ``grid``, ``ground``, ``neither``, or ``cannot tell``.
    ppm, se_ppm : float
        Scale of the plan over the grid, less 1, in parts per million, and its standard error.
    expected_ppm : float
        What ground distances would have here.
    held : (easting, northing) or None
        Place that is the same on both, where the scale is proven; NaN-free.
    held_se : float
        Its standard error per axis, in the frame's unit.
    turn : float
        Degrees by which the plan is turned against the grid, counter-clockwise.
    shift : (easting, northing)
        Plan minus grid at the middle of the points.
    shortened : (easting, northing) or None
        Shift left over when the plan is scaled about 0, 0 by the factor expected here, where that is a whole number
        of thousands in both axes within its uncertainty: what shortened ground coordinates look like.
    factor : float
        Combined factor at the middle of the points.
    reason : str
        In words, with the numbers.
    """

    answer: str
    ppm: float
    se_ppm: float
    expected_ppm: float
    held: tuple[float, float] | None
    held_se: float
    turn: float
    shift: tuple[float, float]
    shortened: tuple[float, float] | None
    factor: float
    reason: str


def scaled_plan(
    frame: Frame,
    grid: ArrayLike,
    plan: ArrayLike,
    *,
    ellipsoid_height: float,
    u: float | None = None,
    u_height: float = 0.0,
) -> ScaledPlan:
    """Tell whether plan coordinates are on the grid or were scaled to the ground.

    Parameters
    ----------
    frame : Frame
    grid : (n, 2) array
        Grid easting and northing of points, in the frame's unit.
    plan : (n, 2) array
        The same points as the plan gives them, same unit; shifted and turned as it may be.
    ellipsoid_height : float
        Of the ground at the site, in the frame's unit; not the elevation.
    u : float, optional
        Standard uncertainty of a difference per axis; from the residuals if left out.
    u_height : float
        Standard uncertainty of the height, in the frame's unit: 12 m are 2 ppm of what is expected.

    Returns
    -------
    ScaledPlan

    Raises
    ------
    FrameError
        Fewer than three points.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> grid = np.array([[2228500.0, 446000.0], [2229500.0, 446100.0], [2230400.0, 445900.0]])
    >>> plan = grid[0] + (grid - grid[0]) / 0.99987061
    >>> found = scaled_plan(resolve("EPSG:6547"), grid, plan, ellipsoid_height=1372.0, u=0.01)
    >>> found.answer, round(found.ppm, 1), [round(each, 1) for each in found.held]
    ('ground', 129.4, [2228500.0, 446000.0])
    """
    grid_marks, plan_marks = np.asarray(grid, float), np.asarray(plan, float)
    used = np.isfinite(grid_marks).all(axis=1) & np.isfinite(plan_marks).all(axis=1)
    if used.sum() < 3:
        raise FrameError(
            f"{many(int(used.sum()), 'point has', 'points have')} both grid and plan "
            "coordinates; at least three are needed to tell a scale."
        )
    grid_marks, plan_marks = grid_marks[used], plan_marks[used]
    similarity = fit_similarity(grid_marks, plan_marks, u=u)
    middle = grid_marks.mean(axis=0)
    factor = float(combined_factor(frame, middle[:1], middle[1:], [ellipsoid_height])[0])
    ppm, se, expected = (similarity.scale - 1) * 1e6, similarity.scale_se * 1e6, (1 / factor - 1) * 1e6
    se_expected = u_height * frame.unit.metres_float / EARTH * 1e6
    on_grid, on_ground = abs(ppm) <= SIGMAS * se, abs(ppm - expected) <= SIGMAS * float(np.hypot(se, se_expected))
    answer = {(True, False): "grid", (False, True): "ground", (False, False): "neither"}.get(
        (on_grid, on_ground), "cannot tell"
    )
    stated = f"scale {ppm:+.1f} ± {se:.1f} ppm (1 sigma); grid would be 0, ground {expected:+.1f} ppm here"
    if answer == "cannot tell":
        stated += ": the points are too few, too close or too uncertain; ask the plan's notes"
    held = held_se = None
    if answer in ("ground", "neither"):
        turn = np.array([[similarity.a, -similarity.b], [similarity.b, similarity.a]])
        held = np.linalg.solve(
            turn - np.eye(2), grid_marks.mean(axis=0) @ (turn - np.eye(2)).T - (plan_marks - grid_marks).mean(axis=0)
        )
        held_se = float(np.sqrt(similarity.covariance[2, 2]) / abs(similarity.scale - 1))
    return ScaledPlan(
        answer=answer,
        ppm=ppm,
        se_ppm=se,
        expected_ppm=expected,
        held=None if held is None else (float(held[0]), float(held[1])),
        held_se=np.nan if held_se is None else held_se,
        turn=similarity.rotation,
        shift=_pair((plan_marks - grid_marks).mean(axis=0)),
        shortened=_shortened(plan_marks - grid_marks / factor, np.abs(middle) * se_expected * 1e-6),
        factor=factor,
        reason=stated,
    )


def _shortened(left: Array, u: Array) -> tuple[float, float] | None:
    """Whole thousands that are left in both axes, and not 0 in both."""
    mean, spread = left.mean(axis=0), np.hypot(left.std(axis=0), u)
    whole = np.round(mean / 1000.0) * 1000.0
    if not whole.any() or (np.abs(mean - whole) > np.minimum(SIGMAS * spread + 0.1, 100.0)).any():
        return None
    return _pair(whole)


def _pair(values: Array) -> tuple[float, float]:
    return float(values[0]), float(values[1])
