"""How far a rod may lean before a tolerance can no longer be proven with it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import degrees, radians, sqrt

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import JobError
from geoqa.kernels.arrays import Booleans, Floats
from geoqa.kernels.judging.verdict import IN, judge, judge_radial
from geoqa.kernels.precision.budget import combine
from geoqa.kernels.precision.components import TwoSpreads
from geoqa.kernels.precision.estimate import UNKNOWN, Estimate, declared, student
from geoqa.kernels.tilt.classes import tilt_classes
from geoqa.kernels.tilt.compensation import TiltModel

CHECKS = ("offset", "position", "elevation")
"""What a limit may be on: one plan axis, the radius round a place, or elevation."""

_ROUNDS, _BETWEEN = 10, 8  # each round of trial tilts leaves a ninth of the interval
_STEPS = 90  # a third of a degree over 30; the turn is then halved down
_PARTS = ("radial", "tangential", "vertical")
_ONE_SIDED = 1.6448536269514722  # standard uncertainties that a proof to one side needs
_ROD = 0.02  # a rod within this share of the tested ones is one of them


@dataclass(frozen=True, kw_only=True, eq=False)
class TiltedShot:
    """Expected errors of tilted shots; arrays of shape (n,), NaN beyond what was tested.

    Attributes
    ----------
    u_radial, u_tangential, u_vertical : float64
        Standard uncertainty along the lean, square to it, and in elevation.
    u_radial_low, u_radial_high, u_tangential_low, u_tangential_high, u_vertical_low, u_vertical_high : float64
        Bands of the same.
    shift_radial, shift_tangential, shift_vertical : float64
        What the significant biases of the test do to the tip; 0 where none is significant.
    """

    u_radial: Floats
    u_radial_low: Floats
    u_radial_high: Floats
    u_tangential: Floats
    u_tangential_low: Floats
    u_tangential_high: Floats
    u_vertical: Floats
    u_vertical_low: Floats
    u_vertical_high: Floats
    shift_radial: Floats
    shift_tangential: Floats
    shift_vertical: Floats


@dataclass(frozen=True, kw_only=True)
class LargestTilt:
    """Largest lean at which a tolerance can still be proven.

    Attributes
    ----------
    tilt : float
        Degrees; at every lean up to this one the verdict would be IN. NaN where it is at none.
    cautious : float
        The same with shift and uncertainty together at the upper end of what the test leaves open.
    plumb : bool
        Whether a plumb shot without compensation proves it. With `tilt` NaN: plumb only, or not at all.
    whole_range : bool
        Proven up to the largest tilt tested; what lies beyond is unknown.
    from_classes : bool
        From the sizes of differences by class, for want of azimuths; `tilt` is then a tested one.
    """

    tilt: float
    cautious: float
    plumb: bool
    whole_range: bool
    from_classes: bool


def known_tilt_model(
    *,
    rod: float,
    heading_spread: float,
    angle_spread: float,
    plumb_h: float,
    plumb_v: float,
    tilt_high: float,
    heading_bias: float = 0.0,
    angle_bias: float = 0.0,
) -> TiltModel:
    """Make a model of declared numbers instead of a test.

    Parameters
    ----------
    rod : float
        Length from the tip to the antenna reference.
    heading_spread, angle_spread : float
        Standard uncertainties, degrees.
    plumb_h, plumb_v : float
        Standard uncertainty of a plumb shot, horizontal per axis and vertical.
    tilt_high : float
        Degrees up to which the declaration holds.
    heading_bias, angle_bias : float
        Degrees.

    Returns
    -------
    TiltModel
        With bands of no width, and no shots behind it.

    Examples
    --------
    >>> model = known_tilt_model(
    ...     rod=6.562, heading_spread=1.0, angle_spread=0.3, plumb_h=0.025, plumb_v=0.045, tilt_high=45
    ... )
    >>> round(largest_tilt(model, limit=0.10, check="offset").tilt, 1)
    22.9
    """

    def two(base: float, extra: float) -> TwoSpreads:
        extra = float(np.radians(extra))
        return TwoSpreads(
            base=declared(base),
            extra=declared(extra),
            ratio=declared((extra / base) ** 2 if base else np.nan),
            base_likely=np.array([base**2]),
            extra_likely=np.array([extra**2]),
        )

    return TiltModel(
        heading_bias=declared(heading_bias),
        angle_bias=declared(angle_bias),
        rod_error=declared(0.0),
        heading_spread=declared(heading_spread),
        angle_spread=declared(angle_spread),
        angle_spread_v=declared(angle_spread),
        plumb_h=declared(plumb_h),
        plumb_v=declared(plumb_v),
        tangential=two(plumb_h, heading_spread),
        radial=two(plumb_h, angle_spread),
        vertical=two(plumb_v, angle_spread),
        together=0.0,
        left=(0.0, 0.0, 0.0),
        headings=(),
        tilt_low=0.0,
        tilt_high=tilt_high,
        rod_low=rod,
        rod_high=rod,
        points=0,
        plumb_shots=0,
        tilted_shots=0,
        left_out=0,
        classes=tilt_classes([], [], []),
    )


def tilted_shot(model: TiltModel, tilt: ArrayLike, *, rod: float | None = None, confidence: float = 0.95) -> TiltedShot:
    """Predict the errors of tilted shots from a crew's test.

    Parameters
    ----------
    model : TiltModel
        From `learn_tilt`, with azimuths, or `known_tilt_model`.
    tilt : (n,) array
        Degrees; compensation on, also at 0.
    rod : float, optional
        Length to predict for; without, the longest tested.
    confidence : float
        Of the bands.

    Returns
    -------
    TiltedShot
        NaN beyond the largest tilt tested, for rods not tested, and where the test cannot tell.

    Notes
    -----
    The vertical part rests on the elevations of the test themselves, whatever made them stray.

    Examples
    --------
    >>> model = known_tilt_model(
    ...     rod=6.562, heading_spread=1.0, angle_spread=0.3, plumb_h=0.025, plumb_v=0.045, tilt_high=45
    ... )
    >>> found = tilted_shot(model, [0, 30, 50])
    >>> found.u_tangential.round(4).tolist(), found.u_vertical.round(4).tolist()
    ([0.025, 0.0625, nan], [0.045, 0.0482, nan])
    """
    lean = _tested(model, np.asarray(tilt, dtype=np.float64), rod)
    ends = {"": None, "_low": (1 - confidence) / 2, "_high": (1 + confidence) / 2}
    u = {f"u_{part}{end}": _u(model, part, lean, share) for part in _PARTS for end, share in ends.items()}
    return TiltedShot(**u, **{f"shift_{part}": _shift(model, part, lean) for part in _PARTS})


def largest_tilt(
    model: TiltModel,
    *,
    limit: float,
    check: str,
    deviation: float = 0.0,
    more: float = 0.0,
    rod: float | None = None,
    rule: str = "guarded",
    biases: str = "kept",
    confidence: float = 0.95,
) -> LargestTilt:
    """Find the largest lean at which a tolerance can still be proven.

    Parameters
    ----------
    model : TiltModel
        From `learn_tilt` or `known_tilt_model`.
    limit : float
        Tolerance, as ±limit on an axis or in elevation, or as a radius.
    check : str
        ``offset`` (every plan axis by itself: the worse of radial and tangential decides, for a lean may point
        anywhere), ``position`` (radius; both axes at the worse uncertainty), or ``elevation``.
    deviation : float
        Deviation that is to be proven IN: 0 at best, half the tolerance as a working figure.
    more : float
        Further standard uncertainty of every shot, per axis or in elevation: what a session has in common does not
        show in a test within it.
    rod : float, optional
        As in `tilted_shot`.
    rule : str
        As in `judge`.
    biases : str
        ``kept``: the significant biases stay and add to the deviation; ``removed``: the compensation
        was set right after the test.
    confidence : float
        Of the bands behind `cautious`.

    Returns
    -------
    LargestTilt
        Never beyond what was tested.

    Raises
    ------
    JobError
        An unknown check or word for biases, or a limit that is not above 0.

    Notes
    -----
    Decided by the one decision rule. Without azimuths the classes stand in, from the smallest tilt up, each
    with its robust size as u.

    Examples
    --------
    >>> model = known_tilt_model(
    ...     rod=6.562, heading_spread=1.0, angle_spread=0.3, plumb_h=0.025, plumb_v=0.045, tilt_high=45
    ... )
    >>> found = largest_tilt(model, limit=0.10, check="offset", deviation=0.05)
    >>> found.tilt, found.plumb
    (nan, True)
    """
    if check not in CHECKS:
        raise JobError(f"'{check}' is not a check of tilt; allowed are {', '.join(CHECKS)}.")
    if biases not in {"kept", "removed"}:
        raise JobError(f"'{biases}' says nothing about biases; allowed are kept and removed.")
    if not limit > 0:
        raise JobError(f"A tolerance of {limit} proves nothing; give one above 0.")
    deviation = abs(deviation)
    plumb_u = (model.plumb_v if check == "elevation" else model.plumb_h).value
    plumb = bool(_inside(check, np.array([deviation]), limit, combine([plumb_u], more), rule)[0])
    if model.tangential is None:
        return _by_classes(model, check, limit, deviation, more, rule, plumb)

    parts = ("vertical",) if check == "elevation" else ("radial", "tangential")

    def proven(tilt: Floats, careful: bool) -> Booleans:
        lean = _tested(model, tilt, rod)
        each = [_expected(model, part, lean, rod, tilt, biases == "kept") for part in parts]
        if careful:
            each = [_careful(model, part, lean, rod, tilt, has, biases == "kept", confidence)
                    for part, has in zip(parts, each, strict=True)]  # fmt: skip
        if check == "position":
            off, u = np.hypot(*(shift for shift, _ in each)), np.maximum(*(spread for _, spread in each))
            return _inside(check, deviation + off, limit, combine(u, more), rule)
        return np.all([_inside(check, deviation + off, limit, combine(u, more), rule) for off, u in each], axis=0)

    tilt = _last(lambda t: proven(t, False), model.tilt_high)
    return LargestTilt(
        tilt=tilt,
        cautious=_last(lambda t: proven(t, True), model.tilt_high),
        plumb=plumb,
        whole_range=tilt == model.tilt_high,
        from_classes=False,
    )


def _expected(
    model: TiltModel, part: str, lean: _Lean, rod: float | None, tilt: Floats, kept: bool
) -> tuple[Floats, Floats]:
    """Size of the shift and standard uncertainty of one part, as the test found them."""
    off = np.abs(_shift(model, part, lean)) if kept else np.zeros(tilt.shape)
    off = off + _left(model, part)  # what nothing explains nobody sets right
    return off, _remembered_u(model, part, rod, None, tuple(tilt.tolist()))


def _careful(
    model: TiltModel,
    part: str,
    lean: _Lean,
    rod: float | None,
    tilt: Floats,
    found: tuple[Floats, Floats],
    kept: bool,
    confidence: float,
) -> tuple[Floats, Floats]:
    """The same where both together are as large as the test allows: shift + 1.645 u at the upper end of its band.

    A bias that the test could not tell from none is there to its upper end as well; both ends at once would be rarer
    than the band says (MOVER, Zou and Donner 2008, reference from memory).
    """
    off, u = found
    high = _remembered_u(model, part, rod, (1 + confidence) / 2, tuple(tilt.tolist()))
    if not kept:
        return off, high
    shift, reach = known_shift(model, part, lean.along, lean.across, lean.tilt, confidence=confidence)
    off = np.maximum(off, np.abs(shift) + _left(model, part))
    more = _ONE_SIDED * np.maximum(high - u, 0.0)
    whole = np.hypot(reach, more)
    with np.errstate(invalid="ignore", divide="ignore"):
        return (
            off + np.where(whole > 0, reach * (reach / whole), 0.0),
            u + np.where(whole > 0, more * (more / whole), 0.0) / _ONE_SIDED,
        )


def known_shift(
    model: TiltModel, part: str, along: Floats, across: Floats, tilt: Floats, *, confidence: float = 0.95
) -> tuple[Floats, Floats]:
    """What the biases as estimated do to one part, significant or not, and how far that may be wrong to either side.

    A rod error that is not significant is none: one lean shows angle and rod together, and a rod is measured.
    """
    if part == "tangential":
        heading = _of(model.heading_bias)
        times = student((1 + confidence) / 2, heading.dof)
        return across * np.radians(heading.value), across * np.radians(heading.se) * times
    value, spread, length, error, together = _angle_and_rod(model)
    by = (along, np.sin(tilt)) if part == "radial" else (-across, -(1 - np.cos(tilt)))
    variance = (by[0] * spread) ** 2 + (by[1] * error) ** 2 + 2 * together * by[0] * by[1] * spread * error
    times = student((1 + confidence) / 2, _of(model.angle_bias).dof)
    return by[0] * value + by[1] * length, np.sqrt(np.maximum(variance, 0.0)) * times


def _angle_and_rod(model: TiltModel) -> tuple[float, float, float, float, float]:
    """Angle bias and its standard error, radians; rod error and its own; correlation of both."""
    angle, short = _of(model.angle_bias), _of(model.rod_error)
    together = 0.0 if model.together is None else model.together
    value, spread = radians(angle.value), radians(angle.se)
    if short.significant:
        return value, spread, short.value, short.se, together
    if short.se > 0:  # as if the rod were known: the angle alone
        value -= together * spread / short.se * short.value
    return value, spread * sqrt(max(1 - together**2, 0.0)), 0.0, 0.0, 0.0


def _of(bias: Estimate | None) -> Estimate:
    return UNKNOWN if bias is None else bias


def degrees_off(model: TiltModel) -> tuple[float, float]:
    """Standard uncertainty of heading and tilt angle of a later shot, degrees; biases and what is open of both in it.

    Examples
    --------
    >>> model = known_tilt_model(
    ...     rod=6.562, heading_spread=1.2, angle_spread=0.3, plumb_h=0.02, plumb_v=0.03, tilt_high=45, heading_bias=0.9
    ... )
    >>> [round(each, 2) for each in degrees_off(model)]
    [1.5, 0.3]
    """
    if model.tangential is None or model.radial is None or model.vertical is None:
        return np.nan, np.nan
    spreads = model.tangential, (model.radial, model.vertical)  # plan and elevations each show the angle
    heading = float(np.hypot(np.radians(_settled(model.heading_bias)), np.radians(_of(model.heading_bias).se)))
    angle = float(np.hypot(np.radians(_settled(model.angle_bias)), _angle_and_rod(model)[1]))
    return (
        degrees(sqrt(spreads[0].extra_expected + heading**2)),
        degrees(sqrt(max(each.extra_expected for each in spreads[1]) + angle**2)),
    )


def _last(proven: Callable[[np.ndarray], np.ndarray], highest: float) -> float:
    """Largest tilt up to which everything is proven."""
    steps = np.linspace(0.0, highest, _STEPS + 1)
    fails = np.flatnonzero(~proven(steps))
    if fails.size == 0:
        return highest
    if fails[0] == 0:
        return np.nan
    low, high = steps[fails[0] - 1], steps[fails[0]]
    for _ in range(_ROUNDS):
        between = np.linspace(low, high, _BETWEEN + 2)
        first = int(np.argmin(np.append(proven(between[1:-1]), False)))
        low, high = between[first], between[first + 1]
    return float(low)


def _by_classes(
    model: TiltModel, check: str, limit: float, deviation: float, more: float, rule: str, plumb: bool
) -> LargestTilt:
    sized = model.classes
    part = "v" if check == "elevation" else "h"
    known = np.flatnonzero(sized.count > 0)
    reached = []
    for end in ("", "_high"):
        u = getattr(sized, f"u_{part}{end}")[known]
        u = combine(np.maximum.accumulate(u) if u.size else u, more)
        good = _inside(check, np.full(u.shape, deviation), limit, u, rule)
        held = int(np.argmin(good)) if not good.all() else good.size
        reached.append(float(sized.largest[known][held - 1]) if held else np.nan)
    return LargestTilt(
        tilt=reached[0],
        cautious=reached[1],
        plumb=plumb,
        whole_range=reached[0] == model.tilt_high,
        from_classes=True,
    )


def _inside(check: str, deviation: Floats, limit: float, u: Floats, rule: str) -> Booleans:
    u = np.where(np.isfinite(u), u, np.nan)
    if check == "position":
        found = judge_radial(deviation, limit=limit, u=u, rule=rule)
    else:
        found = judge(deviation, lower=-limit, upper=limit, u=u, rule=rule)
    return (found.verdict == IN) & np.isfinite(u)  # a rule that does not look at u still needs a tested one


@dataclass(frozen=True)
class _Lean:
    """Arms of the errors of a tilted shot; NaN where nothing may be claimed."""

    along: Floats
    across: Floats
    tilt: Floats  # radians


def _tested(model: TiltModel, tilt: Floats, rod: float | None) -> _Lean:
    rod = model.rod_high if rod is None else float(rod)
    known = model.rod_low * (1 - _ROD) <= rod <= model.rod_high * (1 + _ROD)
    with np.errstate(invalid="ignore"):
        t = np.radians(np.where((tilt >= 0) & (tilt <= model.tilt_high + 1e-9) & known, tilt, np.nan))
    return _Lean(along=rod * np.cos(t), across=rod * np.sin(t), tilt=t)


@lru_cache(maxsize=64)
def _remembered_u(
    model: TiltModel, part: str, rod: float | None, share: float | None, tilt: tuple[float, ...]
) -> Floats:
    """As `_u`; every tolerance of a job asks for the same leans first, and the likely values are many."""
    return _u(model, part, _tested(model, np.array(tilt), rod), share)


def _u(model: TiltModel, part: str, lean: _Lean, share: float | None) -> Floats:
    """Standard uncertainty of one part, or the value below which lies a share of the likely ones."""
    arm = lean.along if part == "radial" else lean.across
    spreads: TwoSpreads | None = getattr(model, part)
    if spreads is None or spreads.base_likely.size == 0:
        return np.full(arm.shape, np.nan)
    if share is None:
        return np.sqrt(spreads.base.value**2 + arm**2 * spreads.extra_expected)
    likely = spreads.base_likely + arm[..., None] ** 2 * spreads.extra_likely
    return np.sqrt(np.quantile(likely, share, axis=-1))


def _left(model: TiltModel, part: str) -> float:
    return model.left[("tangential", "radial", "vertical").index(part)]


def _shift(model: TiltModel, part: str, lean: _Lean) -> Floats:
    """What the significant biases do to one part."""
    if part == "tangential":
        return lean.across * np.radians(_settled(model.heading_bias))
    angle, short = np.radians(_settled(model.angle_bias)), _settled(model.rod_error)
    if part == "radial":
        return lean.along * angle + np.sin(lean.tilt) * short
    return -lean.across * angle - (1 - np.cos(lean.tilt)) * short


def _settled(bias: Estimate | None) -> float:
    return bias.value if bias is not None and bias.significant else 0.0
