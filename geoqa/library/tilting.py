"""What a crew's own test of plumb and tilted shots says of its tilt compensation."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import geopandas
import numpy as np
import pandas as pd

from geoqa.errors import GeometryInputError, JobError, QuantityError
from geoqa.frames.systems.resolve import resolve
from geoqa.kernels.arrays import Floats
from geoqa.kernels.tilt.limits import CHECKS
from geoqa.library.design_tables import filled
from geoqa.library.lengths import distance_in, positive_length
from geoqa.library.logs import azimuths_in, lengths_in, numbers_in, texts_in, times_in
from geoqa.library.shapes import elevations_of, places_of, series_of
from geoqa.library.systems import one_unit, projected
from geoqa.model.check import CONTROL
from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.model.words import many
from geoqa.steps.tilt.study import TEST, TiltStudy

_DIFFERENCES = ("difference_e", "difference_n", "difference_v", "radial", "tangential")
_STEEPEST_PLUMB = 20.0  # degrees, as the option of the step


@dataclass(frozen=True, kw_only=True, eq=False)
class TiltTest:
    """What a tilt test says; lengths in the unit of the system, angles in degrees.

    Attributes
    ----------
    shots : DataFrame
        One row a shot, on its index: whether it is ``plumb``; and for a tilted one with a plumb shot of its point and
        session, tilted minus mean plumb: ``difference_e``, ``difference_n``, ``difference_v``, ``horizontal``, and
        turned into the lean ``radial`` (positive towards the antenna) and ``tangential`` (positive clockwise).
        NaN where there is nothing to compare, or no azimuth.
    classes : DataFrame
        By class of tilt, ``low`` to ``high`` degrees: number of shots, robust 1 sigma ``u_h`` (per axis) and ``u_v``
        with their 95 % bands, largest differences seen, and the ellipse that holds the next shot.
    model : DataFrame
        Biases of heading, tilt angle and rod, and spreads, with their 95 % bands and what they mean in words.
    curve : DataFrame
        Errors to expect, degree by degree up to the largest tilt tested; without azimuths no row.
    limits : DataFrame
        Largest ``tilt`` that still proves each tolerance, at no deviation and at half of it used up, with the biases
        ``kept`` or ``removed``; ``cautious`` with the upper end of what the test leaves open of shift and scatter.
    plan : DataFrame
        What to test next, most useful first.
    conclusion : str
        In one sentence.
    setting : str
        Lines of a job file that use the result; empty where it does not tell enough.
    """

    shots: pd.DataFrame
    classes: pd.DataFrame
    model: pd.DataFrame
    curve: pd.DataFrame
    limits: pd.DataFrame
    plan: pd.DataFrame
    conclusion: str
    setting: str


def tilt_study(
    shots: geopandas.GeoDataFrame,
    *,
    point: str,
    tilt: str,
    rod: str | Length,
    azimuth: str | None = None,
    session: str | None = None,
    time: str | None = None,
    unit: str | None = None,
    plumb_below: float = 3.0,
    u_h: str | Length | None = None,
    u_v: str | Length | None = None,
    u_h_common: str | Length = "0 m",
    u_v_common: str | Length = "0 m",
    tolerances: Mapping[str, Mapping[str, str | Length]] | None = None,
    rule: str = "guarded",
) -> TiltTest:
    """Compare tilted shots with plumb ones of the same points, and learn how far the rod may lean.

    Parameters
    ----------
    shots : GeoDataFrame
        Points with elevations in a projected system, both in one unit.
    point : str
        Column with the name of the point that was shot; a row without one is no shot of the test.
    tilt : str
        Column of numbers: degrees from plumb, 0 to 90. A row without one is no shot of the test.
    rod : str or Length
        Length from the tip to the antenna reference: one for all, ``"2 m"``, or the column that holds it in `unit`.
    azimuth : str, optional
        Column of numbers: degrees clockwise from grid north, from tip to antenna. Without it sizes can be told, and
        no bias.
    session : str, optional
        Column that says which shots were measured in one go: a session may be shifted as a whole, so shots are
        compared within one. All of them are one if not given.
    time : str, optional
        Column of times, for the seconds that a shot takes; naive ones are taken as UTC.
    unit : {"m", "ft", "ftUS", "in", "cm", "mm"}, optional
        Unit of a column of rods.
    plumb_below : float
        Degrees; a shot that leans less counts as plumb, held with the bubble.
    u_h, u_v : str or Length, optional
        Standard uncertainty (1 sigma) of a plumb shot, horizontal per axis and vertical, used where no point has two
        plumb shots that would tell it.
    u_h_common, u_v_common : str or Length
        What the shots of a session have in common, 1 sigma: it does not show in a test within one, and counts in what
        can be proven.
    tolerances : mapping of kind to mapping of check to length, optional
        What is to be proven: ``{"curb-top": {"offset": "0.10 ft", "elevation": "0.08 ft"}}``. Checks are ``offset``
        (to either side of a line), ``position`` (radius about a point) and ``elevation`` (up or down).
    rule : str
        As in `judge`.

    Returns
    -------
    TiltTest

    Raises
    ------
    FrameError
        Shots are not in a projected system with a linear unit, or plan and elevations in two units.
    GeometryInputError
        A row holds something other than a point, or a tilt is not between 0 and 90 degrees.
    JobError
        An unknown check or rule, or a kind with limits of a line and of a point.
    LayerError
        A column is missing, or not of numbers or times.
    QuantityError
        A length without a unit, or not positive; only one of `u_h` and `u_v`; or `plumb_below` out of bounds.

    Notes
    -----
    The step ``tilt-study``: generalised least squares for the biases, exact chi-square bands for the plumb spreads,
    and the one decision rule for what can be proven. Nothing is claimed beyond the tilts and rods tested.
    Where plumb and tilted shots of one point never meet, the tables are empty and `conclusion` says so.

    Examples
    --------
    One point, twice plumb and leaned to four sides by 20 degrees: the tip strays by 0.05 ft.

    >>> import geopandas, numpy as np, geoqa
    >>> off = np.array([[0, 0], [0.01, 0], [0, 0.05], [0.05, 0], [0, -0.05], [-0.05, 0]])
    >>> shots = geopandas.GeoDataFrame(
    ...     {"on": "N1", "lean": [0, 0, 20, 20, 20, 20]},
    ...     geometry=geopandas.points_from_xy(2228000 + off[:, 0], 444000 + off[:, 1], [1450.0] * 6), crs="EPSG:6547")
    >>> found = geoqa.tilt_study(shots, point="on", tilt="lean", rod="2 m")
    >>> found.shots["horizontal"].round(3).tolist()
    [nan, nan, 0.05, 0.045, 0.05, 0.055]
    >>> found.classes[["low", "high", "shots", "largest_h"]].round(3)
        low  high  shots  largest_h
    0  18.0  25.0      4      0.055
    """
    series = series_of(shots, what="shots")
    own = one_unit(series, what="shots")
    step = TiltStudy(plumb_below=_plumb_below(plumb_below))
    lean = _leans(shots, tilt)
    table = _shots_table(shots, point, lean, session)
    azimuths = azimuths_in(shots, azimuth, what="shots")
    table = table.assign(
        tilt_azimuth=azimuths,
        rod_height=lengths_in(shots, rod, what="shots", option="rod", unit=own, given=unit),
        time=times_in(shots, time, what="shots"),
        **_uncertainties((u_h, u_v), (u_h_common, u_v_common), own),
    )
    limits, codes = _tolerances(tolerances or {}, rule, own)
    layers = Layers(
        {"shots": conform("shots", table), "limits": limits, "codes": codes},
        frame=resolve(projected(series, what="shots")),
    )
    made = step.run(layers)
    test = made["tilt_test"]
    told = "Nothing can be said about tilt: no shot has both a point and a tilt."
    return TiltTest(
        shots=_one_row_a_shot(made["tilt_pairs"], lean < step.plumb_below, series.index),
        classes=made["tilt_classes"],
        model=made["tilt_model"],
        curve=made["tilt_curve"],
        limits=made["tilt_limits"],
        plan=made["tilt_plan"],
        conclusion=str(test["conclusion"].iloc[0]) if len(test) else told,
        setting=str(test["setting"].iloc[0]) if len(test) else "",
    )


def _plumb_below(degrees: Any) -> float:
    if isinstance(degrees, bool) or not isinstance(degrees, int | float) or not 0 < degrees < _STEEPEST_PLUMB:
        raise QuantityError(
            f"plumb_below is {degrees!r}; give degrees above 0 and below {_STEEPEST_PLUMB:.0f}, under which a rod was "
            "held with the bubble."
        )
    return float(degrees)


def _leans(shots: Any, name: str) -> Floats:
    lean = numbers_in(shots, name, what="shots", option="tilt")
    if (wrong := (lean < 0) | (lean > 90)).any():
        row = int(np.argmax(wrong))
        label = repr(shots.index[[row]].tolist()[0])
        raise GeometryInputError(
            f"shots: '{name}' holds {lean[row]:g} (row {label}), {many(int(wrong.sum()), 'such row')}; "
            f"tilt is the angle from "
            "plumb, 0 to 90 degrees. Mend these rows, or make them missing."
        )
    return lean


def _shots_table(shots: Any, point: str, lean: Floats, session: str | None) -> pd.DataFrame:
    """Rows of the table of shots; those without a point are of no kind, and so of no test."""
    series = series_of(shots, what="shots")
    places = places_of(series, what="shots")
    on = texts_in(shots, point, what="shots", option="point")
    return pd.DataFrame(
        {
            "shot_key": pd.Series(np.arange(len(places))).astype("str"),
            "source": filled(len(places), "table"),
            "line": np.arange(len(places)),
            "easting": places[:, 0],
            "northing": places[:, 1],
            "elevation": elevations_of(series),
            "line_id": on,
            "kind": filled(len(places), TEST).where(on.notna()),
            "role": "other",
            "use": True,
            "tilt": lean,
            "session": texts_in(shots, session, what="shots", option="session"),
        }
    )


def _uncertainties(
    own: tuple[str | Length | None, ...], common: tuple[str | Length, ...], unit: LengthUnit
) -> dict[str, float]:
    """Columns of uncertainty, one value for all rows; those of plumb shots only where they are declared."""
    if (own[0] is None) != (own[1] is None):
        raise QuantityError("u_h and u_v belong together; declare both, or leave both out.")
    made = {}
    for axis, random, shared in zip(("h", "v"), own, common, strict=True):
        made[f"u_{axis}_common"] = distance_in(shared, unit, name=f"u_{axis}_common")
        if random is not None:
            made[f"u_{axis}_random"] = positive_length(random, unit, name=f"u_{axis}").to(unit)
    return made


def _tolerances(
    tolerances: Mapping[str, Mapping[str, str | Length]], rule: str, unit: LengthUnit
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Tables of limits and of codes, which say whether a kind is one of lines or of points."""
    rows = [
        {"ruleset": "call", "kind": kind, "check": check, "lower": -limit, "upper": limit, "rule": rule,
         "reference": "tolerances", "verified": False}
        for kind, check, limit in _limits(tolerances, unit)
    ]  # fmt: skip
    codes = [
        {"code": kind, "kind": kind, "geometry": "point" if "position" in checks else "line", "role": "feature"}
        for kind, checks in tolerances.items()
    ]
    columns = ["ruleset", "kind", "check", "lower", "upper", "rule", "reference", "verified"]
    limits = pd.DataFrame(rows, columns=columns).astype({"verified": "bool"})
    return conform("limits", limits), conform(
        "codes", pd.DataFrame(codes, columns=["code", "kind", "geometry", "role"])
    )


def _limits(tolerances: Mapping[str, Mapping[str, str | Length]], unit: LengthUnit) -> Iterator[tuple[str, str, float]]:
    for kind, checks in tolerances.items():
        if not isinstance(checks, Mapping):
            raise JobError(
                f"tolerances[{kind!r}] is {checks!r}; name the check that it bounds, for example "
                f'{{{kind!r}: {{"offset": "0.10 ft"}}}}.'
            )
        if {"offset", "position"} <= set(checks) or kind == CONTROL:
            raise JobError(
                f"tolerances[{kind!r}]: a kind is one of lines (offset) or of points (position), and none is called "
                f"{CONTROL}; give two kinds."
            )
        for check, limit in checks.items():
            if check not in CHECKS:
                raise JobError(
                    f"tolerances[{kind!r}]: '{check}' is not a check of tilt; allowed are {', '.join(CHECKS)}."
                )
            yield str(kind), check, positive_length(limit, unit, name=f"tolerances[{kind!r}][{check!r}]").to(unit)


def _one_row_a_shot(pairs: pd.DataFrame, plumb: np.ndarray, index: pd.Index) -> pd.DataFrame:
    columns: dict[str, Any] = {"plumb": plumb}
    row = pairs["shot_key"].astype("int64").to_numpy()
    for name in _DIFFERENCES:
        columns[name] = np.full(len(index), np.nan)
        columns[name][row] = pairs[name].to_numpy(float)
    columns["horizontal"] = np.hypot(columns["difference_e"], columns["difference_n"])
    return pd.DataFrame(columns, index=index)
