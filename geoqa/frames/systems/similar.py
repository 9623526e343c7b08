"""Which coordinate systems could have been meant: for messages, never to choose by."""

import re
from difflib import SequenceMatcher
from functools import cache
from typing import TYPE_CHECKING

from geoqa.frames.systems import engine

if TYPE_CHECKING:
    from pyproj.database import CRSInfo


SHOWN = 5


def similar(text: str, kind: str) -> str:
    """Say which systems have a code or name close to `text`.

    Parameters
    ----------
    text : str
        What was written.
    kind : str
        ``PROJECTED_CRS`` or ``VERTICAL_CRS``.

    Returns
    -------
    str
        ``Did you mean ...?`` or what to do when nothing is close.

    Examples
    --------
    >>> "EPSG:6547 (NAD83(2011) / North Dakota South (ft))" in similar("EPSG:65477", "PROJECTED_CRS")
    True
    """
    known = _known(kind)
    code = re.search(r"(?:^|:)([0-9]+)", text)
    if code:
        scored = [(SequenceMatcher(None, code[1], each.code).ratio(), each) for each in known]
        close = [(score, each) for score, each in scored if score >= 0.74]
        distance = {each.code: abs(int(each.code) - int(code[1])) for _, each in close}
        close.sort(key=lambda pair: (-round(pair[0], 3), distance[pair[1].code]))
    else:
        words = _words(text)
        scored = [(_overlap(words, _words(each.name)), each) for each in known] if words else []
        close = sorted(
            ((score, each) for score, each in scored if score >= 0.6), key=lambda pair: (-pair[0], pair[1].code)
        )
    return _say([each for _, each in close[:SHOWN]])


def systems_at(longitude: float, latitude: float, *, words: str = "") -> tuple[str, ...]:
    """Projected systems whose area of use holds a place, as ``code (name)``.

    Parameters
    ----------
    longitude, latitude : float
        Degrees, east and north positive.
    words : str, optional
        Words that must all be in the name, for example ``NAD83(2011)``.

    Examples
    --------
    >>> systems_at(-99.46, 46.885, words="NAD83(2011) (ft)")
    ('EPSG:6547 (NAD83(2011) / North Dakota South (ft))',)
    """
    asked = words.casefold().split()
    return tuple(
        _line(each)
        for each in _known("PROJECTED_CRS")
        if each.area_of_use is not None
        and each.area_of_use.west <= longitude <= each.area_of_use.east
        and each.area_of_use.south <= latitude <= each.area_of_use.north
        and all(word in each.name.casefold() for word in asked)
    )


def projected_systems() -> "tuple[CRSInfo, ...]":
    """Every projected system of the database that is not withdrawn: code, name, area of use."""
    return _known("PROJECTED_CRS")


@cache
def _known(kind: str) -> "tuple[CRSInfo, ...]":
    pyproj = engine.library()
    kinds = [pyproj.enums.PJType[kind]]
    found = pyproj.database.query_crs_info(auth_name="EPSG", pj_types=kinds)
    return tuple(each for each in found if not each.deprecated and each.code.isdigit())


def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"[a-z0-9]+", text.casefold()))


def _overlap(asked: frozenset[str], name: frozenset[str]) -> float:
    return len(asked & name) / len(asked | name)


def _line(system: "CRSInfo") -> str:
    return f"{system.auth_name}:{system.code} ({system.name})"


def _say(close: "list[CRSInfo]") -> str:
    if not close:
        return "Look the zone up by its code, or give its whole WKT definition."
    return f"Did you mean {', or '.join(_line(each) for each in close)}?"
