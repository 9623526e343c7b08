"""Sections across walks: where both edges were shot, with slope and width, and where they were not."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.contract.walks import CROSS_SLOPE
from geoqa.kernels.linework.sections import BEYOND, CROSSED, FOUND, GAP, TOO_FAR
from geoqa.kernels.precision.one_place import places_along
from geoqa.kernels.walks.numbers import Numbers, distances, means, slopes
from geoqa.steps.linework.pairs import Alone, Pair
from geoqa.steps.shots.strings import String
from geoqa.steps.walks.judged import stacked

_NONE = {BEYOND: "one-edge", GAP: "no-edge-opposite", TOO_FAR: "no-edge-opposite", CROSSED: "crossed-edges"}


@dataclass(frozen=True, kw_only=True, eq=False)
class Panels:
    """Sections across all walks.

    Attributes
    ----------
    table : DataFrame
        A row each: kind, pair, line (number of the pair), first_kind, second_kind, station, minutes, minutes between
        both edges, ends
        (easting and northing on either edge), bend, label, and `named`, the rows of the shots it is laid at.
    slope, width : Numbers
        Positive where it falls towards the second edge; square to the edge.
    lacking : DataFrame
        Stretches of an edge without a section: kind, subject, reason, label, easting, northing; `rows` of their shots.
    """

    table: pd.DataFrame
    slope: Numbers
    width: Numbers
    lacking: pd.DataFrame


def panels(shots: pd.DataFrame, pairs: list[Pair], alone: list[Alone], *, apart: float) -> Panels:
    """Lay the sections of all pairs.

    Parameters
    ----------
    shots : DataFrame
        Of `observed`; members are its places.
    pairs, alone
        Of `pairs_of`, of these shots.
    apart : float
        Sections nearer to each other along the first edge make one, their mean.
    """
    tables, slopes_made, widths = [], [], []
    for number, pair in enumerate(pairs):
        if not _laid(pair).any():
            continue
        table, slope, width = _of_pair(shots, pair, apart)
        tables.append(table.assign(line=number))
        slopes_made.append(slope)
        widths.append(width)
    whole = pd.concat(tables, ignore_index=True) if tables else pd.DataFrame(columns=_COLUMNS)
    return Panels(table=whole, slope=stacked(slopes_made), width=stacked(widths), lacking=_lacking(shots, pairs, alone))


_COLUMNS = [
    *("kind", "pair", "first_kind", "second_kind", "station", "minutes", "between", "first_easting", "first_northing"),
    *("second_easting", "second_northing", "bend", "named", "label", "line"),
]


def _laid(pair: Pair) -> np.ndarray:
    """Which sections are ones of a walk: beside a crossing of its edges the width tells of the crossing."""
    return np.asarray(pair.sections.found & ~pair.sections.crossing)


def _of_pair(shots: pd.DataFrame, pair: Pair, apart: float) -> tuple[pd.DataFrame, Numbers, Numbers]:
    laid = pair.sections
    at = np.flatnonzero(_laid(pair))
    edge = laid.edge[at]
    own = pair.row(edge, laid.shot[at])
    before, after = (pair.row(1 - edge, each[at]) for each in (laid.before, laid.after))
    # falling from the first edge to the second is positive: first less second
    sign = np.where(edge == 0, 1.0, -1.0)
    share = laid.share[at]
    members = np.column_stack([own, before, after])
    weights = np.column_stack([sign, -sign * (1 - share), -sign * share])
    places = shots[["easting", "northing", "elevation"]].to_numpy(float)
    group = places_along(np.zeros(len(at)), laid.station[at], reach=apart)
    even = np.ones(len(at))
    slope = means(slopes(places, members, weights), group, even)
    width = means(distances(places, members, weights), group, even)
    # a crew walks up one edge and down the other: neighbours along the first edge follow each other
    minutes, setup = shots["minutes"].to_numpy(float), shots["setup"].to_numpy()
    when, there = minutes[own], (1 - share) * minutes[before] + share * minutes[after]
    nearest = np.where(share > 0.5, after, before)
    foot = (1 - share)[:, None] * places[before] + share[:, None] * places[after]
    first = np.where(edge[:, None] == 0, places[own], foot)
    second = np.where(edge[:, None] == 0, foot, places[own])
    rows = pd.DataFrame(
        {
            "group": group,
            "station": laid.station[at],
            "minutes": np.where(edge == 0, when, there),
            "between": np.where(setup[own] == setup[nearest], np.abs(when - there), np.inf),
            "first_easting": first[:, 0],
            "first_northing": first[:, 1],
            "second_easting": second[:, 0],
            "second_northing": second[:, 1],
            "bend": _bend(pair, places, edge, laid.before[at], share, laid.leg[at]),
        }
    )
    table = rows.groupby("group").mean()
    table["bend"] = rows.groupby("group")["bend"].max()
    names = shots["name"].to_numpy(dtype=object)
    owners = pd.Series(names[own]).groupby(group).agg(lambda each: ", ".join(sorted(map(str, each))))
    table["named"] = [sorted(own[group == number].tolist()) for number in table.index]
    table["label"] = ["section at shots " + each for each in owners]
    table = table.reset_index(drop=True).assign(
        kind=pair.kind, pair=pair.name, first_kind=pair.kinds[0], second_kind=pair.kinds[1]
    )
    return table, slope, width


def _bend(
    pair: Pair, places: np.ndarray, edge: np.ndarray, before: np.ndarray, share: np.ndarray, leg: np.ndarray
) -> np.ndarray:
    """1 sigma of the elevation of a foot between two shots: an edge bends there as its legs do.

    With a bend b of the slope from leg to leg, an arc through the shots leaves the leg by half of b times the distances
    to both shots over the leg; that is taken as 1 sigma.
    """
    bends = []
    for string in (pair.first, pair.second):
        line = places[string.rows]
        run = np.hypot(*np.diff(line[:, :2], axis=0).T)
        with np.errstate(invalid="ignore", divide="ignore"):
            grade = np.where(run > 0, np.diff(line[:, 2]) / run, np.nan)
        turn = np.abs(np.diff(grade))
        turn = np.nan_to_num(turn)
        padded = np.concatenate([[0.0], turn, [0.0]])
        bends.append(np.maximum(padded[:-1], padded[1:]))
    turn = np.where(edge == 0, bends[1][np.where(edge == 0, before, 0)], bends[0][np.where(edge == 0, 0, before)])
    inside = np.clip(share, 0.0, 1.0)
    return np.asarray(turn * inside * (1 - inside) * leg / 2)


def _lacking(shots: pd.DataFrame, pairs: list[Pair], alone: list[Alone]) -> pd.DataFrame:
    """Stretches of edges without a section, by their reason; an edge with two partners has what either gives."""
    reason: dict[int, int] = {}
    strings: dict[tuple[str, str, str, int], String] = {}
    kinds: dict[tuple[str, str, str, int], str] = {}
    for pair in pairs:
        laid = pair.sections
        said = np.where(laid.found & laid.crossing, CROSSED, laid.why)
        for row, why in zip(pair.row(laid.edge, laid.shot).tolist(), said.tolist(), strict=True):
            reason[row] = why if row not in reason else min(reason[row], why)
        for own, string in zip(pair.kinds, (pair.first, pair.second), strict=True):
            named = own, string.code, string.line_id, string.turn
            strings[named], kinds[named] = string, pair.kind
    made = []
    for name in sorted(strings):
        rows = strings[name].rows
        codes = np.array([reason[row] for row in rows.tolist()])
        for part in np.split(np.arange(len(rows)), np.flatnonzero(np.diff(codes)) + 1):
            if codes[part[0]] != FOUND:
                made.append((kinds[name], strings[name].name, _NONE[int(codes[part[0]])], rows[part]))
    made += [(each.kind, each.string.name, "one-edge", each.string.rows) for each in alone]
    return lacking_rows(shots, made)


def lacking_rows(shots: pd.DataFrame, made: list[tuple[str, str, str, np.ndarray]]) -> pd.DataFrame:
    """Rows of what has no section: kind, subject, reason and shots of each."""
    names = shots["name"].to_numpy(dtype=object)
    east, north = (shots[axis].to_numpy(float) for axis in ("easting", "northing"))
    return pd.DataFrame(
        {
            "kind": [each[0] for each in made],
            "subject": [each[1] for each in made],
            "reason": [each[2] for each in made],
            "label": [f"{each[1]}, {_shots(names[each[3]].tolist())}" for each in made],
            "easting": [east[each[3]].mean() for each in made],
            "northing": [north[each[3]].mean() for each in made],
            "rows": [each[3] for each in made],
        }
    )


def _shots(names: list[str]) -> str:
    """How many shots, and which.

    Examples
    --------
    >>> _shots(["101"]), _shots(["101", "102", "103"])
    ('shot 101', 'shots 101 to 103')
    """
    return f"shot {names[0]}" if len(names) == 1 else f"shots {names[0]} to {names[-1]}"


def towards(panel: Panels) -> list[str]:
    """Towards which edge each section falls, in words."""
    falls = panel.slope.value
    kinds = zip(panel.table["first_kind"], panel.table["second_kind"], falls, strict=True)
    return [f"falls to {two if fall > 0 else one}" if fall == fall and fall else "level" for one, two, fall in kinds]


REASONS = {reason.name for reason in CROSS_SLOPE.reasons}
"""Own reasons of checks on both edges."""
