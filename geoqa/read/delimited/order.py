"""Column order of shots without a header: what the numbers can tell, and what they cannot.

Three neighbouring columns with decimals are two plane coordinates and an elevation, the elevation
last. Which plane coordinate comes first cannot be told from magnitudes: a place near the site decides it, stated by
the job, or found in its other files and its frame by whoever catches `OrderError`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from geoqa.errors import OrderError, SourceError
from geoqa.model.source import Evidence

if TYPE_CHECKING:
    from geoqa.read.delimited.delimited import TextTable

NEARER = 10.0
"""How many times nearer one reading must lie than the other to be taken."""


@dataclass(frozen=True)
class Around:
    """What may stand around three coordinates: the name before them, and texts behind, in order.

    Attributes
    ----------
    name : str
    behind : tuple of str
        The first of them may be numbers.
    """

    name: str
    behind: tuple[str, ...]


SHOTS = Around("shot", ("code", "note"))

_WIDEST = 50
"""Columns of a file without a header beyond which nothing is told."""
_CLOCK = re.compile(r"(\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}.*|\d{1,2}:\d{2}.*)$")


@dataclass(frozen=True, kw_only=True)
class _Column:
    empty: bool
    numeric: bool
    decimals: bool
    middle: float


def order_of(
    table: TextTable, *, near: tuple[float, float] | None, around: Around = SHOTS
) -> tuple[dict[str, int], tuple[Evidence, ...]]:
    """Tell the columns of a table without a header.

    Parameters
    ----------
    table : TextTable
    near : (easting, northing), optional
        A place at the site, in the file's unit.
    around : Around
        What stands before and behind the coordinates.

    Returns
    -------
    dict of str to int
        Our column to its position.
    tuple of Evidence

    Raises
    ------
    SourceError
        The numbers fit no order; `OrderError` where they fit two, with both readings.
    """
    if len(table.columns) > _WIDEST:
        raise SourceError(_unknown(table, around, f"it has {len(table.columns)} columns"))
    looks = [_look(table, at) for at in range(len(table.columns))]
    while looks[-1].empty and len(looks) > 3:  # rows that end in a delimiter
        looks.pop()
    first = _coordinates(table, looks, around)
    place = {"elevation": first + 2}
    if first == 1:
        place[around.name] = 0
    after = len(looks) - first - 3
    if after > len(around.behind):
        raise SourceError(_unknown(table, around, f"{after} columns follow the elevation"))
    for at, ours in zip(range(first + 3, len(looks)), around.behind, strict=False):
        if what := _no_words(table, looks, at, numbers_too=ours != around.behind[0]):
            raise SourceError(_unknown(table, around, f"column {at + 1} would be the {ours}, and holds {what}"))
    place |= dict(zip(around.behind, range(first + 3, len(looks)), strict=False))
    easting, why = _easting(table, looks, first, near, around)
    place |= {"easting": first + easting, "northing": first + 1 - easting}
    listed = ", ".join(f"{ours} = column {at + 1}" for ours, at in sorted(place.items(), key=lambda each: each[1]))
    return place, (Evidence(what="columns", answer=listed, because=why),)


def _look(table: TextTable, at: int) -> _Column:
    from geoqa.read.delimited.values import numbers

    text = table.text[at].head(1000)
    got = numbers(text, lines=table.lines[:1000], column="", decimal=table.decimal)
    filled = ~got.null
    numeric = bool(filled.any()) and np.isfinite(got.values[filled]).mean() >= 0.9
    decimals = bool(text[filled].str.contains(table.decimal, regex=False).mean() >= 0.9) if numeric else False
    middle = float(np.nanmedian(np.abs(got.values))) if numeric else np.nan
    return _Column(empty=not (text != "").any(), numeric=numeric, decimals=decimals, middle=middle)


def _no_words(table: TextTable, looks: list[_Column], at: int, *, numbers_too: bool) -> str:
    """What a column holds that cannot be a code or a note, or nothing; codes may be numbers."""
    if looks[at].numeric and numbers_too:
        return "numbers"
    text = table.text[at].head(1000)
    filled = text[text != ""]
    return "times or dates" if len(filled) and filled.str.match(_CLOCK).mean() >= 0.9 else ""


def _coordinates(table: TextTable, looks: list[_Column], around: Around) -> int:
    """Position of the first of three coordinate columns."""
    places = [at for at, each in enumerate(looks) if each.decimals]
    if len(places) != 3 or places[2] - places[0] != 2 or places[0] > 1:
        listed = ", ".join(str(at + 1) for at in places) or "none"
        raise SourceError(_unknown(table, around, f"columns with decimals: {listed}; expected are three side by side"))
    first = places[0]
    if not looks[first + 2].middle < min(looks[first].middle, looks[first + 1].middle):
        raise SourceError(
            _unknown(table, around, f"column {first + 3} would be the elevation, but is not the smallest of three")
        )
    return first


def _easting(
    table: TextTable, looks: list[_Column], first: int, near: tuple[float, float] | None, around: Around
) -> tuple[int, str]:
    """0 if the easting comes first, 1 if the northing does, and why."""
    one, two = looks[first].middle, looks[first + 1].middle
    orders = _orders(looks, first, len(table.columns), around)
    pair = f"columns {first + 1}, {first + 2} as"
    readings = (
        f"  {pair} easting, northing: about E {one:,.0f} N {two:,.0f}: {stated(orders[0])}\n"
        f"  {pair} northing, easting: about E {two:,.0f} N {one:,.0f}: {stated(orders[1])}"
    )
    if near is None:
        raise OrderError(
            f"'{table.name}' has no header, and numbers alone cannot tell easting from northing:\n{readings}\n"
            "State one of the two for this file, or near = [easting, northing] of the site.",
            orders,
        )
    away = [float(np.hypot(e - near[0], n - near[1])) for e, n in ((one, two), (two, one))]
    if max(away) < NEARER * min(away):
        raise OrderError(
            f"'{table.name}' has no header, and near = [{near[0]:g}, {near[1]:g}] does not decide between\n{readings}\n"
            "State one of the two for this file.",
            orders,
        )
    taken = int(away[1] < away[0])
    why = (
        f"no header; {away[taken]:,.0f} from near = as {('easting, northing', 'northing, easting')[taken]}, "
        f"{away[1 - taken]:,.0f} the other way round; elevation is the last and smallest"
    )
    return taken, why


def _orders(looks: list[_Column], first: int, width: int, around: Around) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Our columns in file order, easting first and northing first."""
    before = (around.name,) if first else ()
    behind = ("elevation", *around.behind)[: len(looks) - first - 2] + ("",) * (width - len(looks))
    return (*before, "easting", "northing", *behind), (*before, "northing", "easting", *behind)


def stated(order: tuple[str, ...]) -> str:
    """The line of a job file that states an order of columns.

    Examples
    --------
    >>> stated(("shot", "northing", "easting"))
    'columns = ["shot", "northing", "easting"]'
    """
    return "columns = [" + ", ".join(f'"{each}"' for each in order) + "]"


def _unknown(table: TextTable, around: Around, why: str) -> str:
    row = ", ".join(each.iloc[0] for each in table.text) if len(table) else ""
    names = f'"{around.name}", "northing", "easting", "elevation"'
    return (
        f"'{table.name}' has no header and its column order cannot be told ({why}). First row: {row[:200]}\n"
        f"State columns = [{len(table.columns)} names in file order, such as {names}]."
    )
