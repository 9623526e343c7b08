"""How shots on control marks lie against the published values: residuals, what marks say of each other, a site fit."""

from dataclasses import dataclass
from typing import Any

import geopandas
import numpy as np
import pandas as pd

from geoqa.errors import LayerError
from geoqa.frames.systems.resolve import resolve
from geoqa.library.accepted import Lengths, Placed
from geoqa.library.design_tables import column, filled, texts_of
from geoqa.library.numbers import beside, uncertainties
from geoqa.library.shapes import elevations_of, labels_of, places_of, series_of
from geoqa.library.systems import one_unit, projected, same_height, same_system
from geoqa.model.quantity import Length
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.control.residual_tables import ResidualTables
from geoqa.steps.control.site_fit import SiteFit

_AXES = ("easting", "northing", "elevation")


@dataclass(frozen=True, kw_only=True, eq=False)
class ControlResiduals:
    """Residuals of shots on control marks.

    Attributes
    ----------
    residuals : DataFrame
        One row a shot, on its index: ``mark``, and measured minus published ``easting``, ``northing``, ``elevation``
        and ``horizontal`` (their length in plan). Missing for a shot on no mark.
    sessions : DataFrame
        One row a session, and one of all where there are several: number of shots and marks, mean and RMSE of each
        axis, radius and height that hold 95 % of errors like these, which marks are outlying, and what the marks say
        of each other in words.
    """

    residuals: pd.DataFrame
    sessions: pd.DataFrame


@dataclass(frozen=True, kw_only=True, eq=False)
class FittedSite:
    """A plane similarity and a vertical plane from measured to published marks. Nothing is moved by it.

    Attributes
    ----------
    parameters : DataFrame
        ``parameter`` (shift, scale, rotation, slope), ``value`` and ``se`` in ``unit``, and whether it is ``proven``:
        beyond four standard errors.
    marks : DataFrame
        One row a mark: residuals before and after, redundancy, statistic of the outlier test, ``outlying``.
    warnings : tuple of str
        Known blunders that the fit would hide (a wrong foot, frame, scale or north), and what cannot be told.
    """

    parameters: pd.DataFrame
    marks: pd.DataFrame
    warnings: tuple[str, ...]


def control_residuals(
    shots: geopandas.GeoDataFrame,
    marks: Placed,
    *,
    mark: str,
    u_h: Lengths,
    u_v: Lengths,
    unit: str | None = None,
    mark_id: str | None = None,
    mark_u_h: str | Length = "0 m",
    mark_u_v: str | Length = "0 m",
    session: str | None = None,
) -> ControlResiduals:
    """Take shots on control marks minus the published values, and ask which mark does not fit the others.

    Parameters
    ----------
    shots : GeoDataFrame
        Points, in the system of `marks`; elevations, where they have some, in the unit of the plan.
    marks : GeoDataFrame or GeoSeries
        Published places, in a projected system, in 2D or with elevations.
    mark : str
        Column of `shots` with the name of the mark that was shot; names that are no mark, and missing ones, are no
        check shots.
    u_h, u_v : str, Length, or float, array or Series beside `unit`
        Standard uncertainty (1 sigma) of a shot: horizontal per axis, and vertical.
    unit : {"m", "ft", "ftUS", "in", "cm", "mm"}, optional
        Unit of uncertainties that are numbers.
    mark_id : str, optional
        Column of `marks` that names them; their index if not given.
    mark_u_h, mark_u_v : str or Length
        Standard uncertainty of the published values: horizontal per axis, and vertical.
    session : str, optional
        Column of `shots` that says which were measured in one go.

    Returns
    -------
    ControlResiduals
        In the unit of the system.

    Raises
    ------
    FrameError
        Shots and marks are not in one projected system, or plan and elevations in two units.
    GeometryInputError
        A row holds something other than a point.
    LayerError
        A column is missing, marks share a name or have none but row numbers, or uncertainties are no numbers.
    QuantityError
        An uncertainty without a unit.

    Notes
    -----
    The step ``residual-tables``. No diagnosis stands behind it: in a job, shots under a named blunder are in no sum;
    here every shot that is handed over counts. Marks are held against their common shift by data snooping (Baarda 1968)
    in turn, chance of calling a good one outlying 0.001; two that disagree are two that disagree.

    Examples
    --------
    >>> import geopandas, geoqa
    >>> marks = geopandas.GeoSeries.from_wkt(
    ...     ["POINT Z (2228000 444000 1450)", "POINT Z (2229000 444000 1455)"], index=["CP-1", "CP-2"], crs="EPSG:6547")
    >>> shots = geopandas.GeoDataFrame({"on": ["CP-2", None]}, geometry=geopandas.GeoSeries.from_wkt(
    ...     ["POINT Z (2229000.03 444000.04 1454.98)", "POINT Z (2228500 444100 1452)"]), crs="EPSG:6547")
    >>> geoqa.control_residuals(shots, marks, mark="on", u_h="0.02 ft", u_v="0.03 ft").residuals.round(3)
       mark  easting  northing  elevation  horizontal
    0  CP-2     0.03      0.04      -0.02        0.05
    1   NaN      NaN       NaN        NaN         NaN
    """
    layers, names = control_layers(
        shots, marks, mark=mark, u=(u_h, u_v), unit=unit, mark_id=mark_id, mark_u=(mark_u_h, mark_u_v), session=session
    )
    made = ResidualTables().run(layers)
    found, index = made["control_table"], series_of(shots, what="shots").index
    row = found["shot_key"].astype("int64").to_numpy()
    place = np.full(len(index), -1)
    place[row] = pd.Index(layers["control"]["mark"]).get_indexer(pd.Index(found["mark"]))
    columns: dict[str, Any] = {"mark": names.take(place, allow_fill=True)}
    for axis in (*_AXES, "horizontal"):
        columns[axis] = np.full(len(index), np.nan)
        columns[axis][row] = found[axis].to_numpy(float)
    sessions = made["control_sessions"].drop(columns=["over_h", "over_v", "left_out", "left_out_elevation", "without"])
    return ControlResiduals(residuals=pd.DataFrame(columns, index=index), sessions=sessions)


def site_fit(
    shots: geopandas.GeoDataFrame,
    marks: Placed,
    *,
    mark: str,
    u_h: Lengths,
    u_v: Lengths,
    unit: str | None = None,
    mark_id: str | None = None,
    mark_u_h: str | Length = "0 m",
    mark_u_v: str | Length = "0 m",
) -> FittedSite:
    """Fit the shift, turn, scale and tilt that lay measured marks on published ones best; nothing is moved.

    Parameters
    ----------
    shots, marks, mark, u_h, u_v, unit, mark_id, mark_u_h, mark_u_v
        As in `control_residuals`; each mark enters with the mean of its shots.

    Returns
    -------
    FittedSite
        Lengths in the unit of the system.

    Raises
    ------
    StepError
        Shots on fewer than two marks.
    FrameError, GeometryInputError, LayerError, QuantityError
        As in `control_residuals`.

    Notes
    -----
    The step ``site-fit``: least squares, a plane similarity of four parameters and a vertical plane of three; marks
    are tested by data snooping (Baarda 1968).

    Examples
    --------
    >>> import geopandas, geoqa
    >>> east, north = [2228000, 2229000, 2229000, 2228000], [444000, 444000, 445000, 445000]
    >>> marks = geopandas.GeoSeries(geopandas.points_from_xy(east, north), index=list("ABCD"), crs="EPSG:6547")
    >>> shots = marks.translate(0.2, 0.0).rename("geometry").rename_axis("on").reset_index()
    >>> found = geoqa.site_fit(shots, marks, mark="on", u_h="0.02 ft", u_v="0.03 ft")
    >>> found.parameters.iloc[:2].round(3)
         parameter  value    se unit  proven
    0   shift east   -0.2  0.01   ft    True
    1  shift north    0.0  0.01   ft   False
    """
    layers, names = control_layers(
        shots, marks, mark=mark, u=(u_h, u_v), unit=unit, mark_id=mark_id, mark_u=(mark_u_h, mark_u_v), session=None
    )
    made = SiteFit().run(layers)
    place = pd.Index(layers["control"]["mark"]).get_indexer(pd.Index(made["site_fit_marks"]["mark"]))
    return FittedSite(
        parameters=made["site_fit"],
        marks=made["site_fit_marks"].assign(mark=names.take(place)),
        warnings=tuple(made["site_fit_warnings"]["warning"]),
    )


def control_layers(
    shots: geopandas.GeoDataFrame,
    marks: Placed,
    *,
    mark: str,
    u: tuple[Lengths, Lengths],
    unit: str | None,
    mark_id: str | None,
    mark_u: tuple[str | Length, str | Length],
    session: str | None,
) -> tuple[Layers, Any]:
    """Lay shots and marks out for the steps that compare them; the key of a shot is its row.

    Parameters
    ----------
    shots, marks, mark, unit, mark_id, session
        As in `control_residuals`.
    u, mark_u : (horizontal per axis, vertical)
        As `u_h` and `u_v`, and `mark_u_h` and `mark_u_v`.

    Returns
    -------
    Layers
        With ``shots``, ``control`` and ``limits``.
    names : extension array
        What the marks are called.
    """
    places, published = series_of(shots, what="shots"), series_of(marks, what="marks")
    same_system(places, published, what=("shots", "marks"))
    same_height(places, published, what=("shots", "marks"))
    for table, what in ((places, "shots"), (published, "marks")):
        one_unit(table, what=what)
    frame = resolve(projected(published, what="marks"))
    names = labels_of(marks, mark_id, what="marks", option="mark_id")
    control = _placed(published, "marks").assign(
        mark=texts_of(pd.Series(names)), held=False, independent=True, u_h=0.0, u_v=0.0
    )
    on = column(shots, mark, what="shots", option="mark")
    table = _placed(places, "shots").assign(
        shot_key=pd.Series(np.arange(len(places))).astype("str"),
        line=0,
        line_id=filled(len(places), None) if on is None else texts_of(on),
        role="check",
        use=True,
    )
    if mark_id is None and isinstance(published.index, pd.RangeIndex):
        _refuse_unnamed(table["line_id"], control["mark"], mark)
    told = column(shots, session, what="shots", option="session")
    table["session"] = filled(len(table), None) if told is None else texts_of(told)
    for axis, own, of_mark in zip(("h", "v"), u, mark_u, strict=True):
        table[f"u_{axis}_random"] = uncertainties(own, places.index, name=f"u_{axis}", unit=frame.unit, given=unit)
        table[f"u_{axis}_common"] = 0.0
        control[f"u_{axis}"] = beside(of_mark, control.index, name=f"mark_u_{axis}", unit=frame.unit.name)
    made = {"shots": conform("shots", table), "control": conform("control", control), "limits": empty("limits")}
    return Layers(made, frame=frame), names


def _refuse_unnamed(on: pd.Series, marks: pd.Series, mark: str) -> None:
    """Refuse marks that have row numbers for names, where shots name none: a forgotten `mark_id` compares nothing."""
    named = on.dropna()
    if len(named) and len(marks) and not named.isin(marks).any():
        raise LayerError(
            f"shots: none of the names in '{mark}' is a mark, the first is {named.iloc[0]!r}; marks are called "
            f"{', '.join(map(repr, marks.head(3)))}{', …' if len(marks) > 3 else ''} by their index. Name the column "
            "of marks that holds their names with mark_id=."
        )


def _placed(points: geopandas.GeoSeries, what: str) -> pd.DataFrame:
    places = places_of(points, what=what)
    return pd.DataFrame({"easting": places[:, 0], "northing": places[:, 1], "elevation": elevations_of(points)})
