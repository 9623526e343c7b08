"""Uncertainty put together from its parts, and what a method with that uncertainty can prove."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats
from geoqa.kernels.judging.verdict import IN, NO_DATA, OUT, judge, judge_radial, provable

_TO_EXPANDED = 1.959963984540054  # U at 95 % over u, many degrees of freedom
_HALVINGS = 60


@dataclass(frozen=True, kw_only=True, eq=False)
class Capability:
    """What a method with one standard uncertainty can decide; arrays of shape (n,).

    Attributes
    ----------
    provable : bool
        The best deviation there is would be IN.
    in_from, in_to : float64
        Deviations between these are IN; NaN where none is. Infinite towards a side without limit.
    out_below, out_above : float64
        Deviations beyond these are OUT; NaN on a side without limit. Radial: no value below.
    one_third : bool
        U at 95 % is at most a third of the tolerance, the usual rule for choosing an instrument.
    """

    provable: np.ndarray
    in_from: np.ndarray
    in_to: np.ndarray
    out_below: np.ndarray
    out_above: np.ndarray
    one_third: np.ndarray


def combine(*parts: ArrayLike) -> Floats:
    """Combine independent standard uncertainties: root of the sum of squares.

    Parameters
    ----------
    *parts : float or (n,) array
        Standard uncertainties of one unit; NaN makes the result NaN.

    Returns
    -------
    (n,) float64 array
        In that unit.

    Examples
    --------
    >>> combine([0.03, 0.03], [0.04, float("nan")]).tolist()
    [0.05, nan]
    """
    total = sum((np.asarray(part, dtype=np.float64) ** 2 for part in parts), np.float64(0.0))
    return np.sqrt(np.asarray(total))


def tilted_u(
    tilt: ArrayLike,
    *,
    rod: ArrayLike,
    u_heading: ArrayLike,
    u_angle: ArrayLike,
    plumb_h: ArrayLike,
    plumb_v: ArrayLike,
) -> tuple[Floats, Floats, Floats]:
    """Standard uncertainty of the tip of a tilted, compensated rod.

    Parameters
    ----------
    tilt : (n,) array
        Degrees from plumb.
    rod : float or (n,) array
        Length from the tip to the antenna reference.
    u_heading, u_angle : float or (n,) array
        Standard uncertainty of the lean's azimuth and of the tilt angle, degrees.
    plumb_h, plumb_v : float or (n,) array
        Standard uncertainty of a plumb shot, horizontal per axis and vertical.

    Returns
    -------
    radial, tangential, vertical : (n,) float64 array
        Along the lean, square to it, and in elevation. Even at tilt 0 the compensation adds its
        angle's part to the radial one.

    Notes
    -----
    u_r² = a² + (L cos t u_t)², u_tan² = a² + (L sin t u_psi)², u_v² = v² + (L sin t u_t)²: own derivation, first
    order in the angles.

    Examples
    --------
    >>> parts = tilted_u([0.0, 30.0], rod=6.562, u_heading=1.0, u_angle=0.3, plumb_h=0.025, plumb_v=0.045)
    >>> [part.round(4).tolist() for part in parts]
    [[0.0425, 0.0389], [0.025, 0.0625], [0.045, 0.0482]]
    """
    t = np.radians(np.asarray(tilt, dtype=np.float64))
    rod = np.asarray(rod, dtype=np.float64)
    angle, heading = np.radians(u_angle), np.radians(u_heading)
    return (
        combine(plumb_h, rod * np.cos(t) * angle),
        combine(plumb_h, rod * np.sin(t) * heading),
        combine(plumb_v, rod * np.sin(t) * angle),
    )


def capability(
    *,
    lower: ArrayLike,
    upper: ArrayLike,
    u: ArrayLike,
    rule: str = "guarded",
    radial: bool = False,
    halvings: int = _HALVINGS,
) -> Capability:
    """Tell what a method can decide under a tolerance.

    Parameters
    ----------
    lower, upper : float or (n,) array
        Limits on the deviation; infinite for none. Radial: `upper` is the radius, `lower` not used.
    u : float or (n,) array
        Standard uncertainty of the deviation; radial: per axis.
    rule : str
        As in `judge`.
    radial : bool
        The limit is a radius round a place.
    halvings : int
        Steps of the bisection, which begins within half of the tolerance and 100 u.

    Returns
    -------
    Capability
        Found by bisection of the one decision rule itself, so that it can never disagree with it.

    Raises
    ------
    JobError
        As `judge`.

    Notes
    -----
    The tolerance of the one-third rule is half the distance between two limits, or the distance of a single
    one from the design. That rule: measuring accuracy at least a third of the tolerance, U.S. Access Board,
    Dimensional Tolerances in Construction and for Surface Accessibility, 2011.

    Examples
    --------
    >>> found = capability(lower=-0.10, upper=0.10, u=[0.02, 0.06])
    >>> found.provable.tolist(), found.in_to.round(4).tolist(), found.out_above.round(4).tolist()
    ([True, False], [0.0671, nan], [0.1329, 0.1987])
    """
    low, high, u = np.broadcast_arrays(*(np.asarray(each, dtype=np.float64) for each in (lower, upper, u)))
    low = np.full(high.shape, -np.inf) if radial else low
    able = provable(lower=low, upper=high, u=u, rule=rule, radial=radial)

    def verdict(deviation: Floats) -> np.ndarray:
        if radial:
            return judge_radial(np.maximum(deviation, 0.0), limit=high, u=u, rule=rule).verdict
        return judge(deviation, lower=low, upper=high, u=u, rule=rule).verdict

    both = np.isfinite(low) & np.isfinite(high)
    half = np.where(both, (_finite(high) - _finite(low)) / 2, np.abs(np.where(np.isfinite(high), high, low)))
    far = _finite(half) + 100 * _finite(u) + 1e-300
    inside = np.where(np.isfinite(high), _finite(high) - far, _finite(low) + far)
    inside = np.where(verdict(np.zeros(high.shape)) == IN, 0.0, inside)  # 0 may lie beyond a single limit
    best = np.where(both, (_finite(low) + _finite(high)) / 2, 0.0 if radial else inside)
    upper_end, lower_end = np.where(np.isfinite(high), high, best), np.where(np.isfinite(low), low, best)
    known = verdict(np.where(np.isfinite(high), upper_end, lower_end)) != NO_DATA

    def holds(deviation: Floats) -> np.ndarray:
        told = verdict(deviation)
        return np.concatenate([told[:2] == IN, told[2:] != OUT])

    # all four ends are halved at once: a verdict costs much the same for few numbers as for many
    in_to, in_from, out_above, out_below = _turn(
        holds,
        np.stack([best, best, upper_end, lower_end]),
        np.stack([upper_end, lower_end, upper_end + far, lower_end - far]),
        halvings,
    )
    return Capability(
        provable=able,
        in_from=np.where(able, np.where(np.isfinite(low), in_from, 0.0 if radial else -np.inf), np.nan),
        in_to=np.where(able, np.where(np.isfinite(high), in_to, np.inf), np.nan),
        out_below=np.where(known & np.isfinite(low), out_below, np.nan),
        out_above=np.where(known & np.isfinite(high), out_above, np.nan),
        one_third=_TO_EXPANDED * u <= half / 3 * (1 + 1e-12),
    )


def _turn(holds: Callable[[np.ndarray], np.ndarray], inside: Floats, outside: Floats, halvings: int) -> Floats:
    """Last deviation from `inside` towards `outside` at which something holds, by bisection."""
    for _ in range(halvings):
        middle = (inside + outside) / 2
        yes = holds(middle)
        inside, outside = np.where(yes, middle, inside), np.where(yes, outside, middle)
    return inside


def _finite(values: Floats) -> Floats:
    return np.where(np.isfinite(values), values, 0.0)
