"""Lines and circles through points: the best ones, with what is left of every point."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats

_ROUNDS = 200
_SMALL = 1e-12
_FLAT = 1e-9
"""Of the extent of points: what lies no farther off a straight line has no radius."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Circle:
    """A circle through points.

    Attributes
    ----------
    centre : (2,) float64
        Easting and northing; NaN where the points lie on a straight line.
    radius : float
        NaN where the points lie on a straight line.
    residual : (k,) float64
        Distance of each point from the circle, positive outside.
    error : float
        Root of the sum of squared residuals over the points that are more than three; NaN with three, which every
        circle fits.
    """

    centre: Floats
    radius: float
    residual: Floats
    error: float


def fit_circle(places: ArrayLike) -> Circle:
    """Fit a circle by least squares of the distances from it: the geometric fit.

    Fits of the circle's equation are shorter to write and give other radii: they weigh a point by its distance from the
    centre, and shrink short arcs.

    Parameters
    ----------
    places : (k, 2) array
        Three points or more.

    Returns
    -------
    Circle

    Raises
    ------
    GeometryInputError
        Fewer than three points, or a coordinate is missing.

    Examples
    --------
    >>> fit = fit_circle([[1, 7], [2, 6], [5, 8], [7, 7], [9, 5], [3, 7]])
    >>> fit.centre.round(6).tolist(), round(fit.radius, 6), round(float(np.linalg.norm(fit.residual)), 6)
    ([4.739782, 2.983533], 4.714226, 1.107971)
    """
    places = _places(places, least=3)
    middle = places.mean(axis=0)
    near = places - middle
    size = np.sqrt((near**2).sum(axis=1).mean())
    nothing = Circle(centre=np.full(2, np.nan), radius=np.nan, residual=np.full(len(near), np.nan), error=np.nan)
    if not size > 0 or np.linalg.svd(near, compute_uv=False)[-1] <= _FLAT * size:
        return nothing
    near = near / size
    centre, radius = _geometric(near, *_linear(near))
    residual = (np.hypot(*(near - centre).T) - radius) * size
    if not np.isfinite(radius):
        return nothing
    spare = len(near) - 3
    error = float(np.sqrt((residual**2).sum() / spare)) if spare else np.nan
    return Circle(centre=centre * size + middle, radius=float(radius * size), residual=residual, error=error)


def _linear(near: Floats) -> tuple[Floats, float]:
    """The circle whose equation fits best: where the geometric fit begins."""
    matrix = np.column_stack([2 * near, np.ones(len(near))])
    east, north, rest = np.linalg.lstsq(matrix, (near**2).sum(axis=1), rcond=None)[0]
    return np.array([east, north]), float(np.sqrt(max(rest + east**2 + north**2, _SMALL)))


def _geometric(near: Floats, centre: Floats, radius: float) -> tuple[Floats, float]:
    """Damped Gauss-Newton steps on the sum of squared distances."""
    damping, best = 1e-3, np.array([*centre, radius])

    def left(values: Floats) -> Floats:
        return np.asarray(np.hypot(*(near - values[:2]).T) - values[2])

    error = left(best)
    for _ in range(_ROUNDS):
        away = near - best[:2]
        distance = np.maximum(np.hypot(*away.T), _SMALL)
        slope = np.column_stack([-away / distance[:, None], -np.ones(len(near))])
        normal = slope.T @ slope
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal) + _SMALL), -slope.T @ error)
        tried = left(best + step)
        if tried @ tried <= error @ error:
            best, error, damping = best + step, tried, max(damping / 10, _SMALL)
            if np.abs(step).max() < 1e-13 * (1 + np.abs(best).max()):
                break
        else:
            damping *= 10
            if damping > 1 / _SMALL:
                break
    return best[:2], float(best[2])


@dataclass(frozen=True, kw_only=True, eq=False)
class Line:
    """A straight line through numbers.

    Attributes
    ----------
    level, slope : float
        The line is level + slope times x.
    residual : (k,) float64
        Number minus line.
    error : float
        Standard deviation of one number, from what is left; NaN with two.
    """

    level: float
    slope: float
    residual: Floats
    error: float


def fit_line(x: ArrayLike, y: ArrayLike) -> Line:
    """Fit a straight line to numbers along an axis that is free of error, such as a station.

    Parameters
    ----------
    x, y : (k,) array
        Two or more, not all at one x.

    Raises
    ------
    GeometryInputError
        There is no such line.

    Examples
    --------
    >>> fit = fit_line([3, 4.25, 5.5, 8], [4.5, 4.25, 5.5, 5.5])
    >>> round(fit.slope, 6), round(fit.level, 6), round(fit.error, 6)
    (0.245714, 3.662857, 0.485504)
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if x.shape != y.shape or x.ndim != 1 or len(x) < 2 or not np.isfinite(x).all() or not np.isfinite(y).all():
        raise GeometryInputError(
            f"No line through numbers of shapes {x.shape} and {y.shape}; give two or more of each, none lost."
        )
    from_middle = x - x.mean()
    spread = from_middle @ from_middle
    if not spread > 0:
        raise GeometryInputError("All numbers stand at one place; a line needs two.")
    slope = float(from_middle @ y / spread)
    level = float(y.mean() - slope * x.mean())
    residual = y - level - slope * x
    error = float(np.sqrt(residual @ residual / (len(x) - 2))) if len(x) > 2 else np.nan
    return Line(level=level, slope=slope, residual=residual, error=error)


def bulge_through_ends(places: ArrayLike) -> float:
    """Bulge of the arc from the first point to the last that lies nearest to the points between.

    Least squares of the distances from the circle, among the circles through both ends: an arc that joins what is drawn
    before and behind it.

    Parameters
    ----------
    places : (k, 2) array
        Three points or more, in order along the arc.

    Returns
    -------
    float
        Tangent of a quarter of the angle at the centre, positive where the arc turns left; 0 is straight, NaN where
        both ends lie at one place.

    Raises
    ------
    GeometryInputError
        Fewer than three points, or a coordinate is missing.

    Examples
    --------
    A quarter circle to the left, shot at its ends and its middle.

    >>> half = np.sqrt(0.5)
    >>> bool(np.isclose(bulge_through_ends([[1, 0], [half, half], [0, 1]]), np.tan(np.pi / 8), rtol=1e-12))
    True
    """
    places = _places(places, least=3)
    start, chord = places[0], places[-1] - places[0]
    half = np.hypot(*chord) / 2
    if not half > 0:
        return np.nan
    along = chord / (2 * half)
    near = places[1:-1] - start - chord / 2
    x, y = near @ along / half, near @ np.array([-along[1], along[0]]) / half
    middle = int(np.argmin(np.abs(x) - np.abs(y)))
    if y[middle] == 0:
        return 0.0 if not y.any() else _best(x, y, 0.0)
    # through the point: y b² + b (x² + y² - 1) - y = 0, and its arc lies on the side of the point
    power = x[middle] ** 2 + y[middle] ** 2 - 1
    roots = (-power + np.array([1, -1]) * np.sqrt(power**2 + 4 * y[middle] ** 2)) / (2 * y[middle])
    return _best(x, y, float(roots[np.sign(roots) == -np.sign(y[middle])][0]))


def _off_arc(x: Floats, y: Floats, bulge: float) -> Floats:
    """Distance from the circle through (-1, 0) and (1, 0), in a form that holds for a straight one."""
    straight = 1 - bulge**2
    far = np.hypot(2 * bulge * x, 2 * bulge * y - straight)
    return np.asarray((2 * bulge * (x**2 + y**2 - 1) - 2 * y * straight) / (far + 1 + bulge**2))


def _best(x: Floats, y: Floats, bulge: float) -> float:
    """Gauss-Newton on one number."""
    for _ in range(_ROUNDS):
        step = 1e-6 * (1 + abs(bulge))
        error = _off_arc(x, y, bulge)
        slope = (_off_arc(x, y, bulge + step) - _off_arc(x, y, bulge - step)) / (2 * step)
        size = slope @ slope
        if not size > 0:
            break
        change = float(-(slope @ error) / size)
        while abs(change) > _SMALL and (better := _off_arc(x, y, bulge + change)) @ better > error @ error:
            change /= 2
        bulge += change
        if abs(change) <= 1e-11 * (1 + abs(bulge)):
            break
    return bulge


def _places(places: ArrayLike, *, least: int) -> Floats:
    places = np.asarray(places, dtype=np.float64)
    if places.ndim != 2 or places.shape[1] != 2 or len(places) < least or not np.isfinite(places).all():
        raise GeometryInputError(f"Points of shape {places.shape}; give {least} or more, each easting and northing.")
    return places
