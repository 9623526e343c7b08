"""In which system a table of places is: one projected system with a linear unit, or a refusal that says what next."""

import re
from typing import Any

from geoqa.errors import FrameError
from geoqa.frames.systems.definitions import linear_unit, systems
from geoqa.frames.systems.resolve import refuse_web_map
from geoqa.model.quantity import LengthUnit

_CODE = re.compile(r"^[A-Za-z]+:[0-9]+$")


def definition(crs: Any) -> str:
    """Code or WKT of the system of a table.

    Examples
    --------
    >>> import geopandas
    >>> definition(geopandas.GeoSeries([], crs="EPSG:6547").crs)
    'EPSG:6547'
    """
    return crs.srs if _CODE.match(crs.srs) else crs.to_wkt("WKT2_2019")


def projected(table: Any, *, what: str) -> str:
    """Code or WKT of the system of a table, if lengths can be measured in it.

    Parameters
    ----------
    table : GeoDataFrame or GeoSeries
    what : str
        Name of the argument, for messages.

    Returns
    -------
    str

    Raises
    ------
    FrameError
        No system is set; or it is in degrees, made for web maps, or of axes that are not east and north.

    Examples
    --------
    >>> import geopandas
    >>> projected(geopandas.GeoSeries([], crs="EPSG:4326"), what="points")
    Traceback (most recent call last):
    ...
    geoqa.errors.FrameError: points are in degrees (WGS 84); lengths, offsets and tolerances need a projected system \
in metres or feet. Take the coordinates as they were collected in their zone, for example EPSG:6547.
    """
    if table.crs is None:
        raise FrameError(
            f"{what} have no coordinate system, so nobody knows the unit of their lengths. State the one they were "
            f"collected in: {what}.set_crs('EPSG:6547') only names it and moves nothing."
        )
    if table.crs.is_geographic:
        raise FrameError(
            f"{what} are in degrees ({table.crs.name}); lengths, offsets and tolerances need a projected system in "
            "metres or feet. Take the coordinates as they were collected in their zone, for example EPSG:6547."
        )
    text = definition(table.crs)
    plan, _ = systems(text, f"The system of {what}")
    refuse_web_map(plan, what=f"The system of {what}")
    linear_unit(plan, what=f"The system of {what}")
    return text


def unit_of(table: Any, *, what: str) -> LengthUnit:
    """Linear unit of the system of a table, by the system's own factor.

    Examples
    --------
    >>> import geopandas
    >>> unit_of(geopandas.GeoSeries([], crs="EPSG:6565"), what="points").name
    'ftUS'
    """
    return linear_unit(systems(projected(table, what=what))[0], what=what)


def same_system(one: Any, other: Any, *, what: tuple[str, str]) -> None:
    """Refuse two tables that do not share one projected system; a vertical part may stand on either side.

    Raises
    ------
    FrameError
        As in `projected`; or the two systems differ, be it only by the foot.

    Examples
    --------
    >>> import geopandas
    >>> shots, walk = geopandas.GeoSeries([], crs="EPSG:6547"), geopandas.GeoSeries([], crs="EPSG:6547+8228")
    >>> same_system(shots, walk, what=("points", "lines"))
    """
    texts = [projected(table, what=name) for table, name in zip((one, other), what, strict=True)]
    if texts[0] == texts[1]:
        return
    plans = [systems(text)[0] for text in texts]
    if not plans[0].equals(plans[1], ignore_axis_order=True):
        raise FrameError(
            f"{what[0]} are in {plans[0].name} ({_unit(plans[0])}), {what[1]} in {plans[1].name} "
            f"({_unit(plans[1])}); bring one of the two into the system of the other with geoqa.convert first."
        )


def same_height(one: Any, other: Any, *, what: tuple[str, str]) -> None:
    """Refuse two tables whose systems have different vertical parts; a system without one says nothing.

    Raises
    ------
    FrameError

    Examples
    --------
    >>> import geopandas
    >>> shots, walk = geopandas.GeoSeries([], crs="EPSG:6547"), geopandas.GeoSeries([], crs="EPSG:6547+8228")
    >>> same_height(shots, walk, what=("points", "lines"))
    """
    height, another = (systems(projected(table, what=name))[1] for table, name in zip((one, other), what, strict=True))
    if height is not None and another is not None and not height.equals(another):
        raise FrameError(
            f"{what[0]} have elevations in {height.name}, {what[1]} in {another.name}; bring one of the two into the "
            "system of the other first, so that the difference is one of height."
        )


def one_unit(table: Any, *, what: str) -> LengthUnit:
    """Unit of a table's plan and of its elevations, which must be one.

    Raises
    ------
    FrameError
        As in `projected`; or plan and elevations are in two units.

    Examples
    --------
    >>> import geopandas
    >>> one_unit(geopandas.GeoSeries([], crs="EPSG:6547+5703"), what="shots")
    Traceback (most recent call last):
    ...
    geoqa.errors.FrameError: shots have their plan in ft and their elevations in m; bring both into one unit with \
geoqa.convert first.
    """
    plan, height = systems(projected(table, what=what))
    unit = linear_unit(plan, what=what)
    if height is not None and linear_unit(height, what=what) != unit:
        raise FrameError(
            f"{what} have their plan in {unit.name} and their elevations in {linear_unit(height, what=what).name}; "
            "bring both into one unit with geoqa.convert first."
        )
    return unit


def _unit(plan: Any) -> str:
    return linear_unit(plan, what=plan.name).full_name
