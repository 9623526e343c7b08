"""Whether a place was measured again, and what it is judged there: by check, kind and place, never by name alone."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.review.delivered import Delivered

if TYPE_CHECKING:
    import pandas as pd

REACH = {"m": 3.0}
REACH_IN_FEET = 10.0
"""How near a number or a shot of another round must lie to be one of the same place."""
NEIGHBOUR = 5.0
"""In reaches: how far beyond the ends of reworked work its neighbours are looked for."""
NOTHING = ""
"""In the place of a verdict, where nothing was measured."""
LINE_WIDE = ("ponding", "coverage")
"""Checks of which one number speaks for a whole line where nothing is out."""


def reach_of(unit: str) -> float:
    """Ten feet or three metres, in the unit of a job."""
    return REACH.get(unit, REACH_IN_FEET)


@dataclass(frozen=True, kw_only=True)
class Again:
    """What another round says of the places of an item.

    Attributes
    ----------
    places : int
        How many there are.
    verdicts : tuple of str
        Of each place; `NOTHING` where no number of the same check lies there.
    shot : int
        Places near which there is a shot that the round before did not hold.
    rows : tuple of int
        Findings of the other round at these places.
    """

    places: int
    verdicts: tuple[str, ...]
    shot: int
    rows: tuple[int, ...]

    def count(self, *verdicts: str) -> int:
        """Places with one of these verdicts."""
        return sum(each in verdicts for each in self.verdicts)


def targets(of: Delivered, item: str) -> "pd.DataFrame":
    """Findings of an item that are out, with those of single places in the place of a run that speaks for them."""
    mine = of.findings[(of.findings["item"] == item) & (of.verdicts == "OUT")]
    runs = set(mine["run"].dropna())
    return mine[~mine["finding"].isin(runs)]


def again(at: "pd.DataFrame", other: Delivered, before: Delivered) -> Again:
    """What `other` says of the places of some findings of `before`."""
    reach = reach_of(other.unit)
    verdicts, rows = [], []
    for row in at.to_dict("records"):
        found = _same_place(row, other, reach)
        rows += found.tolist()
        verdicts.append(_worst(other, found))
    fresh = new_shots(other, before)
    shot = sum(bool(near(row, fresh, reach)) for row in at.to_dict("records"))
    return Again(places=len(at), verdicts=tuple(verdicts), shot=shot, rows=tuple(dict.fromkeys(rows)))


def new_shots(other: Delivered, before: Delivered) -> np.ndarray:
    """Easting and northing of the shots of `other` that `before` does not hold, (n, 2)."""
    known = set(before.measured)
    fresh = np.array([each not in known for each in other.measured], dtype=bool)
    place: np.ndarray = other.shots.loc[fresh, ["easting", "northing"]].astype(float).to_numpy()
    return place


def near(row: dict[Any, Any], places: np.ndarray, reach: float) -> bool:
    """Whether one of `places` lies within reach of a finding."""
    return bool(len(places)) and bool(np.nanmin(_away(row, places), initial=np.inf) <= reach)


def _away(row: dict[Any, Any], places: np.ndarray) -> np.ndarray:
    return np.hypot(*(places - [row["easting"], row["northing"]]).T)


def _same_place(row: dict[Any, Any], other: Delivered, reach: float) -> np.ndarray:
    """Rows of findings of the same check and kind there; of the same name, where one is."""
    table = other.findings
    alike = (table["check"] == row["check"]).to_numpy(bool)
    if isinstance(row["kind"], str):
        alike = alike & (table["kind"] == row["kind"]).to_numpy(bool)
    named = alike & (table["subject"] == row["subject"]).to_numpy(bool)
    close = alike & (_away(row, other.places) <= reach) if len(table) else alike
    close = close | (named & _beside(row, table, reach))
    if row["check"] in LINE_WIDE:
        close = close | (named & (table["verdict"] == "IN").to_numpy(bool))
    close = close & named if (close & named).any() else close
    return np.flatnonzero(close)


def _beside(row: dict[Any, Any], table: "pd.DataFrame", reach: float) -> np.ndarray:
    """Whether each finding covers, or lies within reach of, the station of a finding."""
    start, end = table["station"].to_numpy(float), table["station_end"].fillna(table["station"]).to_numpy(float)
    first = row["station"]
    last = row["station_end"] if row["station_end"] == row["station_end"] else first
    return (start - reach <= last) & (end + reach >= first)


def _worst(other: Delivered, rows: np.ndarray) -> str:
    found = set(other.verdicts.iloc[rows])
    return next((each for each in ("OUT", "UNDECIDED", "IN", "NO_DATA") if each in found), NOTHING)


def neighbours_not_shot(at: "pd.DataFrame", before: Delivered, other: Delivered) -> "list[dict[Any, Any]]":
    """Findings just before and behind reworked work on its line near which the other round has no new shot.

    Parameters
    ----------
    at : DataFrame
        Findings of the item that was closed, in the round before.
    before, other : Delivered

    Returns
    -------
    list of dict
        Rows of findings of `before`, at most one on either side.
    """
    reach = reach_of(other.unit)
    fresh = new_shots(other, before)
    table = before.findings
    found = []
    for (check, subject), mine in at.dropna(subset=["station"]).groupby(["check", "subject"], sort=False):
        line = table[(table["check"] == check) & (table["subject"] == subject) & table["station"].notna()]
        line = line[~line["finding"].isin(set(at["finding"])) & ~line["finding"].isin(set(table["run"].dropna()))]
        first, last = mine["station"].min(), mine["station_end"].fillna(mine["station"]).max()
        for side in (
            line[(line["station"] < first) & (line["station"] >= first - NEIGHBOUR * reach)].nlargest(1, "station"),
            line[(line["station"] > last) & (line["station"] <= last + NEIGHBOUR * reach)].nsmallest(1, "station"),
        ):
            for row in side.to_dict("records"):
                # a shot of the rework itself, close by where shots are close, is none of its neighbour
                apart = max(first - row["station"], row["station"] - last)
                found += [row] if not near(row, fresh, min(reach, apart / 2)) else []
    return _each_place_once(found, reach)


def _each_place_once(rows: list[dict[Any, Any]], reach: float) -> list[dict[Any, Any]]:
    """Offset and elevation of one place, or both edges of a walk there, are one neighbour."""
    kept: list[dict[Any, Any]] = []
    for row in rows:
        places = np.array([[each["easting"], each["northing"]] for each in kept]).reshape(-1, 2)
        if not near(row, places, reach):
            kept.append(row)
    return kept
