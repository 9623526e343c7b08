"""Which known survey blunder explains what shots on control marks show, and which shots it acts on."""

from dataclasses import dataclass
from typing import Any

import geopandas
import numpy as np
import pandas as pd

from geoqa.contract.causes import cause_named
from geoqa.kernels.arrays import Integers
from geoqa.library.accepted import Lengths, Placed
from geoqa.library.control import control_layers
from geoqa.library.lengths import length_in
from geoqa.library.logs import azimuths_in, lengths_in, numbers_in, texts_in, times_in
from geoqa.library.numbers import uncertainties
from geoqa.library.shapes import series_of
from geoqa.model.quantity import Length
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.diagnosis import Diagnose
from geoqa.steps.judging.text_columns import rows_of

_SHIFTS = ["shift_easting", "shift_northing", "shift_elevation"]


@dataclass(frozen=True, kw_only=True, eq=False)
class BlunderDiagnosis:
    """What shots on control marks say of blunders; nothing is corrected.

    Attributes
    ----------
    status : str
        ``none`` (no known blunder shows), ``named``, ``group`` (named, and others predict the same), ``none-fits``,
        ``two-disagree`` (two marks, and no third that would tell which is off) or ``no-control``.
    causes : DataFrame
        The explanation first (``explanation`` 1, one row a cause that it holds), then the runner-up (2): ``cause``,
        its ``title``, ``variant``, ``subject``, on how many ``shots`` it acts and how many more are ``doubtful``, label
        of the ``first`` of them, its size ``shift_easting``, ``shift_northing``, ``shift_elevation`` (shown minus true)
        and 1 sigma ``u_easting`` and so on, ``probability`` and ``prior``, fit (``chi2``, ``dof``, ``p_fit``), which
        causes are ``alike`` and what ``separates`` them, all of it in ``words``, and the ``remedy`` in a job file or
        in the field.
    shots : DataFrame
        One row a shot, on its index: its ``mark``, names of the ``causes`` that act on it (missing where none does),
        whether that is ``doubtful`` for one of them, and their shifts together; NaN where none acts or it is not known.
    acts : DataFrame
        One row a cause and a shot it acts on, on the index of the shots and in their order: ``cause``, ``subject``,
        whether it is ``sure``, and its shift.
    gaps : DataFrame
        What could not be diagnosed for want of which ``field``, and for how many shots.
    """

    status: str
    causes: pd.DataFrame
    shots: pd.DataFrame
    acts: pd.DataFrame
    gaps: pd.DataFrame


def diagnose(
    shots: geopandas.GeoDataFrame,
    marks: Placed,
    *,
    mark: str,
    u_h: Lengths,
    u_v: Lengths,
    u_h_common: Lengths,
    u_v_common: Lengths,
    unit: str | None = None,
    mark_id: str | None = None,
    mark_u_h: str | Length = "0 m",
    mark_u_v: str | Length = "0 m",
    session: str | None = None,
    time: str | None = None,
    initialization: str | None = None,
    rod: str | None = None,
    tilt: str | None = None,
    azimuth: str | None = None,
    source: str | None = None,
    separation: str | Length | None = None,
) -> BlunderDiagnosis:
    """Hold known causes of blunders against what shots on control marks show, and say whom they act on.

    Parameters
    ----------
    shots : GeoDataFrame
        All shots of a job, in the system of `marks`, elevations in the unit of the plan; fixed solutions only. Those on
        marks show a blunder, and the others are what it spoils.
    marks : GeoDataFrame or GeoSeries
        Published places, in a projected system, in 2D or with elevations.
    mark : str
        Column of `shots` with the name of the mark that was shot; names that are no mark, and missing ones, are no
        check shots.
    u_h, u_v : str, Length, or float, array or Series beside `unit`
        Standard uncertainty (1 sigma) of a shot's own: horizontal per axis, and vertical.
    u_h_common, u_v_common : str, Length, or float, array or Series beside `unit`
        Standard uncertainty that the shots of a session share. What is called a blunder hangs on it; 0 is a claim.
    unit : {"m", "ft", "ftUS", "in", "cm", "mm"}, optional
        Unit of uncertainties that are numbers, and of the column `rod`.
    mark_id : str, optional
        Column of `marks` that names them; their index if not given.
    mark_u_h, mark_u_v : str or Length
        Standard uncertainty of the published values: horizontal per axis, and vertical.
    session, initialization, source : str, optional
        Columns of `shots` that say which were measured in one go, after one initialization, and came in one file.
        Without sessions, breaks of more than an hour part them.
    time : str, optional
        Column of times, of a datetime dtype; naive ones are taken as UTC. Without it the order of rows stands for it.
    rod : str, optional
        Column of rod heights in `unit`, as entered.
    tilt, azimuth : str, optional
        Columns of degrees from plumb, and clockwise from grid north, from tip to antenna.
    separation : str or Length, optional
        Height of the geoid above the ellipsoid at the site, negative below it; open if left out.

    Returns
    -------
    BlunderDiagnosis
        Lengths in the unit of the system.

    Raises
    ------
    FrameError
        Shots and marks are not in one projected system, or plan and elevations in two units.
    GeometryInputError
        A row holds something other than a point.
    LayerError
        A column is missing, or of another dtype; or marks share a name.
    QuantityError
        A length without a unit.

    Notes
    -----
    The step ``diagnosis``: every cause acts as its geometry says at this site; up to three at once are weighed by
    Laplace's approximation of their evidence, with priors from common practice. Blocks of shots that no check shot
    felt, which a job finds in deviations from design, are not searched here, and `gaps` says so.

    Examples
    --------
    Four marks, each shot in the morning and in the afternoon, when all elevations are half a foot low; and a shot of
    the work at either time.

    >>> import geopandas, numpy as np, pandas as pd, geoqa
    >>> east, north = np.array([2228000, 2229000, 2229000, 2228000.0]), np.array([444000, 444000, 445000, 445000.0])
    >>> marks = geopandas.GeoSeries(geopandas.points_from_xy(east, north, [1450.0] * 4), index=list("ABCD"),
    ...     crs="EPSG:6547")
    >>> places = geopandas.points_from_xy([*east, 2228500, *east, 2228600], [*north, 444500, *north, 444500],
    ...     [1450.0] * 5 + [1449.5] * 5)
    >>> log = {"on": [*"ABCD", None] * 2, "half": ["am"] * 5 + ["pm"] * 5,
    ...     "at": pd.date_range("2026-05-04 08:00", periods=10, freq="30min")}
    >>> shots = geopandas.GeoDataFrame(log, geometry=places, crs="EPSG:6547")
    >>> found = geoqa.diagnose(shots, marks, mark="on", session="half", time="at", u_h="0.02 ft", u_v="0.03 ft",
    ...     u_h_common="0.02 ft", u_v_common="0.03 ft")
    >>> found.status, found.causes["cause"].iloc[0], round(float(found.causes["shift_elevation"].iloc[0]), 2)
    ('group', 'elevation-constant', -0.5)
    >>> found.shots["causes"].dropna().index.tolist()
    [5, 6, 7, 8, 9]
    """
    layers, names = control_layers(
        shots, marks, mark=mark, u=(u_h, u_v), unit=unit, mark_id=mark_id, mark_u=(mark_u_h, mark_u_v), session=session
    )
    frame, index = layers.frame, series_of(shots, what="shots").index
    control: pd.DataFrame = layers["control"]
    place = rows_of(layers["shots"]["line_id"], control["mark"])
    keys = _keys(index)
    numbers = {
        "rod_height": lengths_in(shots, rod, what="shots", option="rod", unit=frame.unit, given=unit),
        "tilt": numbers_in(shots, tilt, what="shots", option="tilt"),
        "tilt_azimuth": azimuths_in(shots, azimuth, what="shots"),
        "u_h_common": uncertainties(u_h_common, index, name="u_h_common", unit=frame.unit, given=unit),
        "u_v_common": uncertainties(u_v_common, index, name="u_v_common", unit=frame.unit, given=unit),
    }
    table = layers["shots"].assign(
        **numbers,
        shot_key=keys,
        line=np.arange(len(keys)),
        role=pd.Series(np.where(place >= 0, "check", "feature"), dtype="str"),
        source=texts_in(shots, source, what="shots", option="source").fillna("shots"),
        initialization=texts_in(shots, initialization, what="shots", option="initialization"),
        time=times_in(shots, time, what="shots"),
    )
    step = Diagnose(separation=_separation(separation, frame.unit))
    made = step.run(Layers({**layers, "shots": conform("shots", table)}, frame=frame))
    row = rows_of(made["cause_shots"]["shot_key"], keys)
    return BlunderDiagnosis(
        status=str(made["causes"]["status"].iloc[0]),
        causes=_with_labels(made["causes"], keys, index),
        shots=_one_row_a_shot(made["cause_shots"], row, names.take(place, allow_fill=True), index),
        acts=_on_index(made["cause_shots"], row, index),
        gaps=made["diagnosis_gaps"],
    )


def _keys(index: pd.Index) -> pd.Series:
    """Keys of shots: their labels, by which words call them; their rows where two labels read the same."""
    labels = pd.Series(index.to_flat_index() if isinstance(index, pd.MultiIndex) else index).astype("str")
    if labels.isna().any() or labels.duplicated().any():
        return pd.Series(np.arange(len(index))).astype("str")
    return labels


def _separation(value: str | Length | None, unit: Any) -> Length | None:
    if value is None:
        return None
    length_in(value, unit, name="separation")
    return value if isinstance(value, Length) else Length.parse(value)


def _with_labels(causes: pd.DataFrame, keys: pd.Series, index: pd.Index) -> pd.DataFrame:
    """Causes with their titles, and the first shot by its label."""
    row = rows_of(causes["first"], keys)
    labels = pd.Series(index.to_flat_index(), dtype="object").reindex(row).array  # -1 is no row
    titled = causes.assign(first=labels, title=[cause_named(each).title for each in causes["cause"]])
    columns = list(causes.columns)
    columns.insert(columns.index("cause") + 1, "title")
    return titled[columns]


def _one_row_a_shot(acting: pd.DataFrame, row: Integers, marks: Any, index: pd.Index) -> pd.DataFrame:
    """What acts on every shot, and by how much in all."""
    causes = acting["cause"].groupby(row).agg("; ".join).reindex(range(len(index))).astype("str")
    doubtful = np.zeros(len(index), dtype=bool)
    doubtful[row[~acting["sure"].to_numpy(bool)]] = True
    shift = np.zeros((len(index), 3))
    np.add.at(shift, row, acting[_SHIFTS].to_numpy(float))
    shift[causes.isna().to_numpy()] = np.nan
    columns: dict[str, Any] = {"mark": marks, "causes": causes.array, "doubtful": doubtful}
    columns |= {name: shift[:, axis] for axis, name in enumerate(_SHIFTS)}
    return pd.DataFrame(columns, index=index)


def _on_index(acting: pd.DataFrame, row: Integers, index: pd.Index) -> pd.DataFrame:
    """Causes and the shots they act on, in the order of the shots."""
    order = np.argsort(row, kind="stable")
    return acting.drop(columns="shot_key").iloc[order].set_axis(index[row[order]])
