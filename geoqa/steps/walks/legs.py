"""Running slopes along the edges of walks: from shot to shot within a stated spacing."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.kernels.walks.numbers import Numbers, slopes
from geoqa.steps.shots.strings import String


@dataclass(frozen=True, kw_only=True, eq=False)
class Legs:
    """Legs along edges.

    Attributes
    ----------
    table : DataFrame
        A row each: kind, subject, label, easting, northing, string (number), station, length, and `between`, the
        minutes between both ends; infinite between two setups.
    slope : Numbers
        Positive where the edge rises in the order in which it was walked.
    lacking : DataFrame
        Legs that are too long: kind, subject, reason, label, easting, northing.
    """

    table: pd.DataFrame
    slope: Numbers
    lacking: pd.DataFrame


def leg_ends(station: np.ndarray, spacing: float) -> list[tuple[int, int]]:
    """From each shot to the farthest one within the spacing, or else to the next one; on from there.

    Examples
    --------
    >>> leg_ends(np.array([0.0, 8.0, 19.0, 30.0, 60.0]), 20.0)
    [(0, 2), (2, 3), (3, 4)]
    """
    made, at = [], 0
    while at < len(station) - 1:
        within = int(np.searchsorted(station, station[at] + spacing * (1 + 1e-9), side="right")) - 1
        made.append((at, max(within, at + 1)))
        at = made[-1][1]
    return made


def legs_of(shots: pd.DataFrame, kinds: dict[str, str], *, strings: list[String], spacing: float, gap: float) -> Legs:
    """Legs along the strings of some kinds.

    Parameters
    ----------
    shots : DataFrame
        Of `observed`, those that count; members are its places.
    kinds : dict
        Kind of an edge to the kind it is judged under.
    strings : list of String
        Of these shots.
    spacing, gap : float
        Length of a leg that holds several shots; a longer leg than `gap` tells nothing of what lies between.
    """
    places = shots[["easting", "northing", "elevation"]].to_numpy(float)
    names, minutes = shots["name"].to_numpy(dtype=object), shots["minutes"].to_numpy(float)
    setup = shots["setup"].to_numpy()
    rows, members, lost = [], [], []
    for number, string in enumerate(strings):
        kind = kinds.get(str(shots["kind"].iloc[string.rows[0]]))
        if kind is None:
            continue
        line = string.rows
        # the same legs whichever way the edge was walked
        turned = tuple(places[line[0], :2]) > tuple(places[line[-1], :2])
        line = line[::-1] if turned else line
        station = np.append(0.0, np.cumsum(np.hypot(*np.diff(places[line, :2], axis=0).T)))
        for first, last in leg_ends(station, spacing):
            start, end = (int(line[last]), int(line[first])) if turned else (int(line[first]), int(line[last]))
            row = {
                "kind": kind,
                "subject": string.name,
                "label": f"shots {names[start]} to {names[end]}, {string.name}",
                "easting": float(places[[start, end], 0].mean()),
                "northing": float(places[[start, end], 1].mean()),
            }
            if station[last] - station[first] > gap:
                lost.append(row | {"reason": "legs-too-long"})
                continue
            apart = abs(minutes[end] - minutes[start]) if setup[end] == setup[start] else np.inf
            length = float(station[last] - station[first])
            rows.append(row | {"string": number, "station": float(station[first]), "between": apart, "length": length})
            members.append((start, end))
    ends = np.array(members, dtype=np.int64).reshape(-1, 2)
    slope = slopes(places, ends, np.tile([-1.0, 1.0], (len(ends), 1)))
    return Legs(table=pd.DataFrame(rows), slope=slope, lacking=pd.DataFrame(lost))
