"""What a crew's own test of plumb and tilted shots says about its tilt compensation."""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, sqrt
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers
from geoqa.kernels.precision.components import TwoSpreads, contrasts, two_spreads
from geoqa.kernels.precision.estimate import (
    UNKNOWN,
    Estimate,
    linear_estimate,
)
from geoqa.kernels.precision.stated_spreads import stated_spreads
from geoqa.kernels.tilt.classes import EDGES, TiltClasses, tilt_classes
from geoqa.kernels.tilt.gon import fits_as_gon
from geoqa.kernels.tilt.left import each_session, left_by_class
from geoqa.kernels.tilt.plumb import careful_base, of_nails, of_points, plumb_spreads

_FEWEST = 3  # tilted shots with an azimuth, below which no model is tried


@dataclass(frozen=True, kw_only=True, eq=False)
class TiltModel:
    """A tilt compensation as learned from a test. What the test cannot tell is None or unknown, never 0.

    Attributes
    ----------
    heading_bias : Estimate or None
        Degrees; positive puts the tip clockwise of its place about the antenna's foot, as an azimuth read too small
        does. None, like all that follow down to the rod, without azimuths.
    angle_bias : Estimate or None
        Degrees; positive puts the tip too far towards the antenna and too low, as a tilt read too small does.
    rod_error : Estimate or None
        True minus entered rod length, unit of the coordinates, from what changes between plumb and tilted:
        positive puts the tip towards the antenna, and tilted shots less high than plumb ones.
    heading_spread, angle_spread : Estimate or None
        Standard uncertainty of the lean's azimuth, and of the tilt angle as the plan shows it, degrees.
    angle_spread_v : Estimate or None
        The same angle as the elevations show it; much larger than `angle_spread` means elevations stray
        for another reason.
    plumb_h, plumb_v : Estimate
        Standard uncertainty of a plumb shot within a point, horizontal per axis and vertical.
    tangential, radial, vertical : TwoSpreads or None
        Plumb and tilt spreads behind the above (the latter in radians), for prediction.
    together : float or None
        Correlation of the errors of `angle_bias` and `rod_error`: what one lean shows, both explain.
    left : (float, float, float)
        Sideways, along the lean and in elevation: largest mean of a class of tilt that heading, angle and rod leave
        unexplained, unit of the coordinates; 0 where that may be scatter. Sideways it speaks against `heading_bias`,
        in the other two against `angle_bias` and `rod_error`.
    headings : tuple of float
        Heading bias of each session, degrees, in the order of their names; empty where they may be one.
    tilt_low, tilt_high, rod_low, rod_high : float
        What was tested: degrees, and rod lengths. Nothing is claimed beyond.
    points, plumb_shots, tilted_shots, left_out : int
        What the model rests on, and shots that lack a coordinate, a tilt, an azimuth or a plumb shot of their point.
    classes : TiltClasses
        Sizes of the differences by class of tilt; these need no azimuth.
    as_gon : bool
        Read as gon, the azimuths follow the differences far better than as degrees.
    plumb_stated : (float, float) or None
        Scatter of a plumb shot as stated, horizontal and vertical, where no point has two plumb shots to learn it from.
        `plumb_h` and `plumb_v` are the same with infinite degrees of freedom where the leaning shots allow it.
    """

    heading_bias: Estimate | None
    angle_bias: Estimate | None
    rod_error: Estimate | None
    heading_spread: Estimate | None
    angle_spread: Estimate | None
    angle_spread_v: Estimate | None
    plumb_h: Estimate
    plumb_v: Estimate
    tangential: TwoSpreads | None
    radial: TwoSpreads | None
    vertical: TwoSpreads | None
    together: float | None
    left: tuple[float, float, float]
    headings: tuple[float, ...]
    tilt_low: float
    tilt_high: float
    rod_low: float
    rod_high: float
    points: int
    plumb_shots: int
    tilted_shots: int
    left_out: int
    classes: TiltClasses
    as_gon: bool = False
    plumb_stated: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class _Shots:
    """Shots of a test, row by row, and which of them count."""

    places: Floats  # (n, 3)
    tilt: Floats
    azimuth: Floats
    rod: Floats
    number: Integers  # of the point
    session: Integers
    upright: Booleans
    leaning: Booleans
    count: Integers  # plumb shots of every point


@dataclass(frozen=True, kw_only=True, eq=False)
class _Differences:
    """Tilted minus mean plumb shot of the same point, turned into the lean."""

    radial: Floats
    tangential: Floats
    vertical: Floats
    tilt: Floats  # radians
    usual: Floats  # mean tilt of its class, radians
    azimuth: Floats  # radians
    rod: Floats
    point: Integers
    session: Integers
    plumb: Integers  # plumb shots behind the mean


def turned(difference_e: ArrayLike, difference_n: ArrayLike, azimuth: ArrayLike) -> tuple[Floats, Floats]:
    """Turn plan differences into the direction of the lean.

    Parameters
    ----------
    difference_e, difference_n : (n,) array
        Tilted minus plumb.
    azimuth : (n,) array
        Degrees, from tip to antenna.

    Returns
    -------
    radial, tangential : (n,) float64 array
        Positive towards the antenna, and positive clockwise (to the right, seen from the tip).

    Examples
    --------
    >>> radial, tangential = turned([1.0, 0.0], [0.0, 1.0], [90.0, 90.0])
    >>> radial.round(9).tolist(), tangential.round(9).tolist()
    ([1.0, 0.0], [0.0, -1.0])
    """
    a = np.radians(np.asarray(azimuth, dtype=np.float64))
    e, n = np.asarray(difference_e, dtype=np.float64), np.asarray(difference_n, dtype=np.float64)
    return e * np.sin(a) + n * np.cos(a), e * np.cos(a) - n * np.sin(a)


def learn_tilt(
    point: ArrayLike,
    easting: ArrayLike,
    northing: ArrayLike,
    elevation: ArrayLike,
    *,
    tilt: ArrayLike,
    azimuth: ArrayLike | None,
    plumb: ArrayLike,
    rod: ArrayLike,
    session: ArrayLike | None = None,
    nail: ArrayLike | None = None,
    plumb_u: tuple[float, float] | None = None,
    edges: ArrayLike = EDGES,
    confidence: float = 0.95,
) -> TiltModel:
    """Learn the errors of a tilt compensation from plumb and tilted shots of the same points.

    Parameters
    ----------
    point : (n,) array
        Point of each shot. Shots in another session, which may be shifted as a whole, want another name.
    easting, northing, elevation : (n,) array
        Coordinates; NaN is missing.
    tilt : (n,) array
        Degrees from plumb as recorded.
    azimuth : (n,) array or None
        Degrees, from tip to antenna; NaN or None where not recorded.
    plumb : (n,) bool array
        Shots held plumb with the bubble, free of tilt errors.
    rod : float or (n,) array
        Entered length from the tip to the antenna reference, unit of the coordinates.
    session : (n,) array, optional
        Name of the session of each shot; a compensation settles anew in each. All are one if not given.
    nail : (n,) array, optional
        Name of the place of each shot, the same in every session. Where no point has two plumb shots, those of one nail
        in several sessions tell their scatter, each session shifted as a whole.
    plumb_u : (float, float), optional
        Declared standard uncertainty of a plumb shot, horizontal per axis and vertical, where no point has two plumb
        shots to learn it from. It is believed as far as the leaning shots allow it.
    edges : (k + 1,) array
        Degrees that part the classes of tilt.
    confidence : float
        Of every band.

    Returns
    -------
    TiltModel
        With None where azimuths are missing.

    Raises
    ------
    GeometryInputError
        Arrays of different length, or no tilted shot with a plumb one of its point.

    Notes
    -----
    Own derivation, first order, good to a few percent for errors of up to 2 degrees. With rod L, tilt t and
    azimuth of the lean a, a difference from the mean of p plumb shots has

    - tangential mean L sin t · heading bias, variance a² + (L sin t · u_psi)²,
    - radial mean L cos t · angle bias + sin t · rod error, variance a² + (L cos t · u_t)²,
    - vertical mean -L sin t · angle bias - (1 - cos t) · rod error, variance v² + (L sin t · u_t)²,

    and shares the error of that mean, a²/p or v²/p, with the others of its point, turned by its azimuth. The
    recorded tilts of one class count at their mean in radial and vertical means, for each carries the very error
    looked for. The plumb shots about their means tell a and v (exact chi-square bands); each component then tells
    its tilt spread by `two_spreads`. Biases by generalised least squares with these spreads, bands by Student's t.

    Examples
    --------
    >>> e, n, z = [0, 0.01, 0.1, -0.1], [0, 0, 0.1, -0.1], [5, 5.01, 5, 5.02]
    >>> upright = [True, True, False, False]
    >>> found = learn_tilt([1, 1, 1, 1], e, n, z, tilt=[0, 0, 20, 20], azimuth=None, plumb=upright, rod=6.562)
    >>> found.heading_bias is None, found.tilted_shots, round(found.plumb_h.value, 4)
    (True, 2, 0.005)
    """
    shots = _sorted(point, (easting, northing, elevation), tilt=tilt, azimuth=azimuth, plumb=plumb, rod=rod,
                    session=session)  # fmt: skip
    means, _, squares, dof = of_points(shots.places, shots.number, shots.upright)
    apart = shots.places - means[shots.number]
    repeated = dof > 0
    if not repeated and nail is not None:
        upright = shots.upright
        squares, dof = of_nails(shots.places[upright], np.asarray(nail)[upright], shots.session[upright])
    plumb_h, plumb_v = plumb_spreads(squares, 0 if plumb_u and not repeated else dof, plumb_u, confidence)
    sized = tilt_classes(
        shots.tilt[shots.leaning],
        np.hypot(apart[shots.leaning, 0], apart[shots.leaning, 1]),
        apart[shots.leaning, 2],
        edges=edges,
    )
    used = shots.leaning & np.isfinite(shots.azimuth)
    by_azimuth: dict[str, Any] = dict.fromkeys(_BY_AZIMUTH) | {"left": (0.0, 0.0, 0.0), "headings": ()}
    if used.sum() >= _FEWEST:
        made = _turned_differences(shots, apart, used, np.asarray(edges, dtype=np.float64))
        known = None if repeated else plumb_u
        by_azimuth = _by_azimuth(made, squares, (2 * dof, dof), known, confidence)
        if known is not None:
            plan = max(by_azimuth["tangential"], by_azimuth["radial"], key=lambda each: careful_base(each).value)
            plumb_h, plumb_v = careful_base(plan), careful_base(by_azimuth["vertical"])
    else:
        used = shots.leaning
    upright = shots.upright & np.isin(shots.number, shots.number[shots.leaning])
    return TiltModel(
        **by_azimuth,
        plumb_h=plumb_h,
        plumb_v=plumb_v,
        tilt_low=float(shots.tilt[used].min()),
        tilt_high=float(shots.tilt[used].max()),
        rod_low=float(shots.rod[used].min()),
        rod_high=float(shots.rod[used].max()),
        points=int(np.unique(shots.number[used]).size),
        plumb_shots=int(upright.sum()),
        tilted_shots=int(used.sum()),
        left_out=int(used.size - upright.sum() - used.sum()),
        classes=sized,
        plumb_stated=None if repeated else plumb_u,
    )


_BY_AZIMUTH = (
    "heading_bias",
    "angle_bias",
    "rod_error",
    "heading_spread",
    "angle_spread",
    "angle_spread_v",
    "tangential",
    "radial",
    "vertical",
    "together",
)


def _by_azimuth(
    differences: _Differences,
    squares: tuple[float, float],
    dof: tuple[float, float],
    plumb_u: tuple[float, float] | None,
    confidence: float,
) -> dict:
    along, across = differences.rod * np.cos(differences.tilt), differences.rod * np.sin(differences.tilt)
    same = (differences.point[:, None] == differences.point) / differences.plumb[:, None]
    base_h = np.eye(differences.tilt.size) + same * np.cos(differences.azimuth[:, None] - differences.azimuth)
    base_v = np.eye(differences.tilt.size) + same
    outward = np.column_stack([differences.rod * np.cos(differences.usual), np.sin(differences.usual)])
    upward = -np.column_stack([differences.rod * np.sin(differences.usual), 1 - np.cos(differences.usual)])

    def spreads(values: Floats, fixed: Floats, arm: Floats, base: Floats, axis: int) -> TwoSpreads:
        free_of = contrasts(values, fixed=fixed, base=base, extra=np.diag(arm**2))
        told = {"sum_squares": squares[axis], "dof": dof[axis], "confidence": confidence}
        if plumb_u is not None:
            return stated_spreads(free_of, stated=plumb_u[axis], **told)
        return two_spreads(free_of, **told)

    tangential = spreads(differences.tangential, across[:, None], across, base_h, 0)
    radial = spreads(differences.radial, outward, along, base_h, 0)
    vertical = spreads(differences.vertical, upward, across, base_v, 1)
    heading = _heading_bias(differences, tangential, across, base_h, confidence)
    kind = np.unique(differences.usual, return_inverse=True)[1].ravel()
    aside, headings = _sideways(differences, tangential, base_h, across, kind)
    angle, rod_error, together = _angle_and_rod(
        differences, radial, vertical, np.vstack([outward, upward]), (base_h, base_v), confidence
    )
    return {
        "heading_bias": heading,
        "angle_bias": angle,
        "rod_error": rod_error,
        "heading_spread": _in_degrees(tangential.extra),
        "angle_spread": _in_degrees(radial.extra),
        "angle_spread_v": _in_degrees(vertical.extra),
        "tangential": tangential,
        "radial": radial,
        "vertical": vertical,
        "together": together,
        "headings": headings,
        "as_gon": fits_as_gon(
            differences.tangential,
            differences.radial,
            tilt=differences.tilt,
            azimuth=differences.azimuth,
            rod=differences.rod,
            plumb=differences.plumb.astype(np.float64),
            spreads=(tangential, radial),
        ),
        "left": (aside, *_left_of_both(differences, radial, vertical, (outward, upward), (base_h, base_v), kind)),
    }


def _sideways(
    differences: _Differences, spreads: TwoSpreads, base: Floats, arm: Floats, kind: Integers
) -> tuple[float, tuple[float, ...]]:
    """What headings leave of classes of tilt, and the heading of each session where they differ.

    Where they differ each session is held against its own: with rods of two lengths, two headings would look like a
    tip that does not follow the lean.
    """
    if not np.isfinite(spreads.extra.value):
        return 0.0, ()
    covariance = spreads.base.value**2 * base + spreads.extra.value**2 * np.diag(arm**2)
    values, dof = differences.tangential, spreads.extra.dof
    headings = each_session(values, arm, covariance, differences.session, dof=dof)
    one_each = differences.session[:, None] == np.arange(max(headings.size, 1))
    effects = arm[:, None] * (one_each if headings.size else 1.0)
    left = left_by_class(values, effects, covariance, kind, dof=dof)
    return float(np.abs(left).max(initial=0.0)), tuple(np.degrees(headings).tolist())


def _left_of_both(
    differences: _Differences,
    radial: TwoSpreads,
    vertical: TwoSpreads,
    effects: tuple[Floats, Floats],
    bases: tuple[Floats, Floats],
    kind: Integers,
) -> tuple[float, float]:
    """Along the lean and in elevation, of angle and rod fitted to both at once."""
    if not (np.isfinite(radial.extra.value) and np.isfinite(vertical.extra.value)):
        return 0.0, 0.0
    along, across = differences.rod * np.cos(differences.tilt), differences.rod * np.sin(differences.tilt)
    none, kinds = np.zeros_like(bases[0]), int(kind.max()) + 1
    apart = np.block(
        [
            [radial.base.value**2 * bases[0] + radial.extra.value**2 * np.diag(along**2), none],
            [none, vertical.base.value**2 * bases[1] + vertical.extra.value**2 * np.diag(across**2)],
        ]
    )
    found = np.abs(
        left_by_class(
            np.r_[differences.radial, differences.vertical],
            np.vstack(effects),
            apart,
            np.r_[kind, kind + kinds],
            dof=radial.extra.dof,
        )
    )
    return float(found[:kinds].max()), float(found[kinds:].max())


def _heading_bias(
    differences: _Differences, spreads: TwoSpreads, across: Floats, base: Floats, confidence: float
) -> Estimate:
    if not np.isfinite(spreads.extra.value):
        return UNKNOWN
    covariance = spreads.base.value**2 * base + spreads.extra.value**2 * np.diag(across**2)
    value, spread, _ = _fitted(across[:, None], differences.tangential, covariance)
    return _in_degrees(linear_estimate(value[0], sqrt(spread[0, 0]), dof=spreads.extra.dof, confidence=confidence))


def _angle_and_rod(
    differences: _Differences,
    radial: TwoSpreads,
    vertical: TwoSpreads,
    effects: Floats,
    bases: tuple[Floats, Floats],
    confidence: float,
) -> tuple[Estimate, Estimate, float]:
    if not (np.isfinite(radial.extra.value) and np.isfinite(vertical.extra.value)):
        return UNKNOWN, UNKNOWN, np.nan
    along, across = differences.rod * np.cos(differences.tilt), differences.rod * np.sin(differences.tilt)
    values, none = np.r_[differences.radial, differences.vertical], np.zeros_like(bases[0])
    apart = np.block(
        [
            [radial.base.value**2 * bases[0] + radial.extra.value**2 * np.diag(along**2), none],
            [none, vertical.base.value**2 * bases[1] + vertical.extra.value**2 * np.diag(across**2)],
        ]
    )
    value, spread, taken = _fitted(effects, values, apart)
    # one wrong angle moves a tip outward and down at once; as much of that as the shots show, and the spreads allow,
    # enters the band but not the weights, which would lean on it
    left, arms = values - effects @ value, along * across
    shown = -float(np.sum(left[: arms.size] * left[arms.size :])) / float(np.sum(arms))
    together = np.diag(-arms * np.clip(shown, 0.0, min(radial.extra.value, vertical.extra.value) ** 2))
    spread = spread + taken @ np.block([[none, together], [together, none]]) @ taken.T
    angle, rod = (
        linear_estimate(value[k], sqrt(spread[k, k]), dof=radial.extra.dof, confidence=confidence) for k in (0, 1)
    )
    return _in_degrees(angle), rod, float(spread[0, 1] / sqrt(spread[0, 0] * spread[1, 1]))


def _fitted(columns: Floats, values: Floats, covariance: Floats) -> tuple[Floats, Floats, Floats]:
    """Generalised least squares: effects, their covariance, and the share every value has in them."""
    solved = np.linalg.solve(covariance, columns)
    spread = np.linalg.inv(columns.T @ solved)
    taken = spread @ solved.T
    return taken @ values, spread, taken


def _of_class(tilt: Floats, edges: Floats) -> Floats:
    kind = np.searchsorted(edges, tilt, side="right")
    return (np.bincount(kind, weights=tilt) / np.maximum(np.bincount(kind), 1))[kind]


def _sorted(
    point: ArrayLike,
    places: tuple[ArrayLike, ArrayLike, ArrayLike],
    *,
    tilt: ArrayLike,
    azimuth: ArrayLike | None,
    plumb: ArrayLike,
    rod: ArrayLike,
    session: ArrayLike | None,
) -> _Shots:
    """Sort the shots into plumb and tilted ones that can be used."""
    point, plumb = np.asarray(point), np.asarray(plumb, dtype=bool)
    columns = [np.asarray(each, dtype=np.float64) for each in places]
    if any(each.shape != point.shape for each in columns):
        raise GeometryInputError("point, easting, northing and elevation differ in length.")
    tilt, rod = (np.broadcast_to(np.asarray(each, dtype=np.float64), point.shape) for each in (tilt, rod))
    toward = np.full(point.shape, np.nan) if azimuth is None else np.asarray(azimuth, dtype=np.float64)
    if not toward.shape == plumb.shape == point.shape:
        raise GeometryInputError(f"azimuth {toward.shape} and plumb {plumb.shape} do not fit {point.size} points.")
    number = np.unique(point, return_inverse=True)[1].ravel()
    whole = np.isfinite(np.column_stack(columns)).all(axis=1)
    upright = plumb & whole
    count = np.bincount(number[upright], minlength=number.max(initial=-1) + 1)
    leaning = ~plumb & whole & np.isfinite(tilt) & np.isfinite(rod) & np.isin(number, number[upright])
    if not leaning.any():
        raise GeometryInputError(
            "No tilted shot has its coordinates, its tilt and a plumb shot of its point; "
            "a tilt test needs plumb and tilted shots on each point."
        )
    return _Shots(
        places=np.column_stack(columns),
        tilt=tilt,
        azimuth=toward,
        rod=rod,
        number=number,
        session=np.unique(np.zeros(point.shape) if session is None else np.asarray(session), return_inverse=True)[
            1
        ].ravel(),
        upright=upright,
        leaning=leaning,
        count=count,
    )


def _turned_differences(shots: _Shots, apart: Floats, used: Booleans, edges: Floats) -> _Differences:
    radial, tangential = turned(apart[used, 0], apart[used, 1], shots.azimuth[used])
    return _Differences(
        radial=radial,
        tangential=tangential,
        vertical=apart[used, 2],
        tilt=np.radians(shots.tilt[used]),
        usual=np.radians(_of_class(shots.tilt[used], edges)),
        azimuth=np.radians(shots.azimuth[used]),
        rod=shots.rod[used],
        point=shots.number[used],
        session=np.unique(shots.session[used], return_inverse=True)[1].ravel(),
        plumb=shots.count[shots.number[used]],
    )


def _in_degrees(angle: Estimate) -> Estimate:
    value, se, low, high = (degrees(each) for each in (angle.value, angle.se, angle.low, angle.high))
    return Estimate(value=value, se=se, low=low, high=high, dof=angle.dof)
