"""What stands on a map by longitude and latitude: shots by their worst verdict, and findings of no one shot."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.checks import check_named
from geoqa.errors import FrameError, LayerError
from geoqa.frames.moving.lonlat import display_operation, to_lonlat
from geoqa.frames.moving.operations import Operation
from geoqa.model.frame import Frame
from geoqa.model.results import Results
from geoqa.model.signs import SIGNS, Sign
from geoqa.model.tables.reported import reported_verdicts, signs_of_shots
from geoqa.present.notebook.cards import COLUMNS, card

NOT_ASKED = Sign("", "no check asks about it", "not asked", "#4B5563", "square", "■", len(SIGNS))
"""How a shot looks about which there is no finding."""
SIGNS_SHOWN = (*SIGNS.values(), NOT_ASKED)
DECIMALS = 9
"""Of a degree: 0.1 mm on the ground."""


@dataclass(frozen=True, kw_only=True)
class Group:
    """Markers of one sign and one kind.

    Attributes
    ----------
    sign : Sign
    kind : str
        Kind of the shots, or title of the check of findings without one.
    features : tuple of mapping
        GeoJSON points with the properties ``title`` and ``card``, both HTML.
    """

    sign: Sign
    kind: str
    features: tuple[dict[str, Any], ...]

    @property
    def name(self) -> str:
        """HTML of its entry in the control of layers."""
        return f"{self.sign.mark} {escape(self.kind)}: {self.sign.short} ({len(self.features)})"


def operation_of(frame: Frame) -> Operation:
    """Give the operation from the frame to longitude and latitude.

    Raises
    ------
    FrameError
        There is none that is known, as from the grid of a site alone.
    """
    try:
        return display_operation(frame)
    except FrameError as error:
        raise FrameError(
            f"A map by longitude and latitude cannot be made: {error} results.map() needs no such operation; it shows "
            "the job in its own grid."
        ) from None


def refuse_unknown_kinds(results: Results, kinds: Sequence[str] | None) -> None:
    """Refuse kinds that neither a shot nor a line nor a finding has.

    Raises
    ------
    LayerError
    """
    if kinds is None:
        return
    if isinstance(kinds, str):
        raise LayerError(f'kinds: must be a sequence of names, for example ["{kinds}"].')
    known = set().union(*(results.layers[name]["kind"].dropna() for name in ("shots", "design_lines", "findings")))
    if strange := sorted(set(kinds) - known):
        raise LayerError(f"kinds: nothing is of the kind '{strange[0]}'; there are {', '.join(sorted(known))}.")


def groups(results: Results, kinds: Sequence[str] | None) -> tuple[list[Group], int]:
    """Markers by sign, worst first, and within it by kind; and how many shots and findings have no place.

    Parameters
    ----------
    results : Results
    kinds : sequence of str or None
        Only of these kinds.
    """
    sorted_in: dict[tuple[int, str], list[dict[str, Any]]] = {}
    missing = 0
    for sign, kind, place, title, text in (*_of_shots(results, kinds), *_of_no_shot(results, kinds)):
        if not np.isfinite(place).all():
            missing += 1
            continue
        feature = {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [round(float(each), DECIMALS) for each in place]},
            "properties": {"title": escape(f"{sign.mark} {title}"), "card": text},
        }
        sorted_in.setdefault((sign.order, kind), []).append(feature)
    made = [
        Group(sign=SIGNS_SHOWN[order], kind=kind, features=tuple(features))
        for (order, kind), features in sorted(sorted_in.items(), key=lambda each: each[0])
    ]
    return made, missing


Marked = Iterator[tuple[Sign, str, tuple[float, float], str, str]]
"""Sign, kind, longitude and latitude, title in plain text, card in HTML."""


def _of_shots(results: Results, kinds: Sequence[str] | None) -> Marked:
    unit = results.layers.frame.unit.name
    findings = _of_kinds(results.layers["findings"], kinds)
    about = findings[findings["shot"].notna()]
    cards: dict[str, list[Any]] = {}
    for finding in about[list(COLUMNS)].to_dict("records"):
        cards.setdefault(finding["shot"], []).append(finding)
    shots = _of_kinds(results.layers["shots"], kinds)
    signs = signs_of_shots(findings.assign(verdict=reported_verdicts(results.findings).reindex(findings.index)), shots)
    lon, lat = to_lonlat(results.layers.frame, shots["easting"], shots["northing"])
    columns = (shots[name] for name in ("shot_key", "shot", "kind"))
    for key, name, kind, bears, *place in zip(*columns, signs, lon, lat, strict=True):
        sign = SIGNS.get(bears, NOT_ASKED)
        kind = kind if isinstance(kind, str) else "unknown code"
        title = f"shot {name if isinstance(name, str) else key}, {kind}"
        yield sign, kind, (place[0], place[1]), title, card(title, cards.get(key, ()), unit)


def _of_no_shot(results: Results, kinds: Sequence[str] | None) -> Marked:
    """Runs, gaps and what else rests on several shots or on none."""
    unit = results.layers.frame.unit.name
    findings = _of_kinds(results.reported, kinds)
    findings = findings[findings["shot"].isna()]
    lon, lat = to_lonlat(results.layers.frame, findings["easting"], findings["northing"])
    for finding, *place in zip(findings.to_dict("records"), lon, lat, strict=True):
        parts = (finding["kind"], finding["subject"], finding["label"])
        title = ", ".join(text for text in parts if isinstance(text, str) and text not in ("", "-"))
        heading = check_named(finding["check"]).title
        yield SIGNS[finding["verdict"]], heading, (place[0], place[1]), title, card(title, [finding], unit)


def _of_kinds(table: pd.DataFrame, kinds: Sequence[str] | None) -> pd.DataFrame:
    return table if kinds is None else table[table["kind"].isin(list(kinds))]
