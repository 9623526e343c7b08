"""Pairs of edges that the code list names: which string belongs to which, and their sections."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from geoqa.kernels.linework.sections import FOUND, TOO_FAR, Sections, sections
from geoqa.model.tables.edge_pairs import pair_kind, paired_kinds
from geoqa.steps.shots.strings import String, places_of


@dataclass(frozen=True, eq=False)
class Pair:
    """Two edges that were shot along each other.

    Attributes
    ----------
    kind : str
        Under which the pair is judged.
    kinds : tuple of str
        Kind of the first and of the second edge, in the order of their names.
    first, second : String
        Their rows are places in the table that was asked.
    sections : Sections
        At every shot of either.
    """

    kind: str
    kinds: tuple[str, str]
    first: String
    second: String
    sections: Sections

    @property
    def name(self) -> str:
        """Both strings, as the crew writes them."""
        return f"{self.first.name} / {self.second.name}"

    def row(self, edge: np.ndarray, shot: np.ndarray) -> np.ndarray:
        """Places in the table of shots of an edge (0 first, 1 second); -1 stays -1."""
        own = np.where(edge == 0, self.first.rows[np.clip(shot, 0, len(self.first.rows) - 1)],
                       self.second.rows[np.clip(shot, 0, len(self.second.rows) - 1)])  # fmt: skip
        return np.where(shot < 0, -1, own)


@dataclass(frozen=True, eq=False)
class Alone:
    """An edge whose partner was not shot.

    Attributes
    ----------
    kind : str
        Under which the pair would be judged.
    own, partner : str
        Kind of the edge, and that of the one which is missing.
    string : String
    """

    kind: str
    own: str
    partner: str
    string: String


def pairs_of(
    shots: pd.DataFrame, codes: pd.DataFrame, *, strings: list[String], reach: float, gap: float, slack: float
) -> tuple[list[Pair], list[Alone]]:
    """Lay sections between the edges of every pair of kinds.

    Parameters
    ----------
    shots : DataFrame
        With `code`, `kind`, `line_id`, `sequence`, `time`, `easting` and `northing`.
    codes : DataFrame
        The `codes` layer.
    strings : list of String
        Of these shots; single places that were taken again are passed over.
    reach, gap, slack : float
        Of `kernels.linework.sections`.

    Returns
    -------
    pairs : list of Pair
        Each edge goes with the edge of the other kind that has most sections with it, and is nearest of those: it may
        be the partner of several, as a walk's back is of two fronts beside a driveway. A pass of a line goes with the
        same pass of the other one, where that lies beside it nearly as far as any.
    alone : list of Alone
        Edges without any partner within reach. Both lists are the same for any order of rows.
    """
    places, made, alone = places_of(shots), [], []
    strings = [each for each in strings if not each.again]
    kind_of = [str(shots["kind"].iloc[each.rows[0]]) for each in strings]
    for kinds in paired_kinds(codes):
        sides = [[each for each, kind in zip(strings, kind_of, strict=True) if kind == own] for own in kinds]
        laid = {
            (i, j): sections(places[one.rows], places[two.rows], reach=reach, gap=gap, slack=slack)
            for i, one in enumerate(sides[0])
            for j, two in enumerate(sides[1])
            if _close(places[one.rows], places[two.rows], reach)
        }
        laid = _of_one_pass(laid, *([each.turn for each in side] for side in sides))
        kept = _partners(_of_one_visit(laid, *(_hours(shots, side) for side in sides), beside=reach / 8))
        made += [Pair(pair_kind(*kinds), kinds, sides[0][i], sides[1][j], laid[i, j]) for i, j in sorted(kept)]
        for side in (0, 1):
            paired = {each[side] for each in kept}
            alone += [
                Alone(pair_kind(*kinds), kinds[side], kinds[1 - side], each)
                for number, each in enumerate(sides[side])
                if number not in paired
            ]
    return made, alone


def with_places_again(
    shots: pd.DataFrame, pairs: list[Pair], *, strings: list[String], reach: float, gap: float, slack: float
) -> list[Pair]:
    """Sections at single places of an edge that were taken again, against the edge that it goes with.

    Each stands in place of the shot of its edge that it is nearest to; the sections of the other shots are left out.

    Parameters
    ----------
    shots : DataFrame
        As of `pairs_of`.
    pairs : list of Pair
        Of the same shots.
    strings : list of String
        Of these shots, with the single places that were taken again.
    reach, gap, slack
        As of `pairs_of`.
    """
    places, made = places_of(shots), []
    single = {(each.code, each.line_id): each for each in strings if each.again}
    for pair in pairs if single else []:
        for edge, string in enumerate((pair.first, pair.second)):
            again = single.get((string.code, string.line_id))
            if again is None or string.turn:
                continue
            away = np.hypot(*(places[again.rows][:, None] - places[string.rows][None]).T)
            nearest = away.argmin(axis=0)
            for row, at in zip(again.rows.tolist(), nearest.tolist(), strict=True):
                rows = string.rows.copy()
                rows[at] = row
                edges = (
                    [replace(again, rows=rows), pair.second] if edge == 0 else [pair.first, replace(again, rows=rows)]
                )
                laid = sections(*(places[each.rows] for each in edges), reach=reach, gap=gap, slack=slack)
                mine = (laid.edge == edge) & (laid.shot == at)
                made.append(Pair(pair.kind, pair.kinds, edges[0], edges[1], laid.only(mine)))
    return made


def _close(one: np.ndarray, two: np.ndarray, reach: float) -> bool:
    """Whether the rectangles round two strings come within reach of each other."""
    apart = np.maximum(one.min(axis=0) - two.max(axis=0), two.min(axis=0) - one.max(axis=0))
    return bool((apart <= reach).all())


ENOUGH = 0.8
"""Share of the most sections that an edge has with any other from which the same pass of it is taken."""


def _of_one_pass(
    laid: dict[tuple[int, int], Sections], one: list[int], other: list[int]
) -> dict[tuple[int, int], Sections]:
    """Without edges of another pass where those of the same one are beside each other nearly as far."""
    if not any(one) and not any(other):
        return laid
    count = {both: int((each.why == FOUND).sum()) for both, each in laid.items()}
    wanted: set[tuple[int, int]] = set()
    for side in (0, 1):
        for edge in {both[side] for both in laid}:
            mine = [both for both in laid if both[side] == edge]
            most = max(count[both] for both in mine)
            same = [both for both in mine if one[both[0]] == other[both[1]] and count[both] >= ENOUGH * most]
            wanted.update(same or mine)
    return {both: each for both, each in laid.items() if both in wanted}


VISIT = 4.0
"""Hours apart from which two strings are of different visits."""


def _hours(shots: pd.DataFrame, strings: list[String]) -> np.ndarray:
    """When each string was taken, in hours; NaN where its shots have no times."""
    time = pd.to_datetime(shots["time"], utc=True) if "time" in shots else pd.Series(pd.NaT, index=shots.index)
    hours = ((time - time.min()) / pd.Timedelta(hours=1)).to_numpy(float)
    known = [each.rows[np.isfinite(hours[each.rows])] for each in strings]
    return np.array([np.median(hours[rows]) if len(rows) else np.nan for rows in known])


def _of_one_visit(
    laid: dict[tuple[int, int], Sections], one: np.ndarray, other: np.ndarray, *, beside: float
) -> dict[tuple[int, int], Sections]:
    """Without edges of another visit where one of the same visit lies at the same place nearly as far.

    An edge that would have no partner left keeps all of its own.
    """
    if len(laid) < 2:
        return laid
    count = {both: int(each.found.sum()) for both, each in laid.items()}
    width = {both: float(np.median(each.width[each.found])) for both, each in laid.items() if count[both]}
    apart = {both: abs(float(one[both[0]] - other[both[1]])) for both in laid}
    left: set[tuple[int, int]] = set()
    for side in (0, 1):
        for edge in {both[side] for both in width}:
            mine = [both for both in width if both[side] == edge]
            most, nearest = max(count[both] for both in mine), min(width[both] for both in mine)
            alike = [each for each in mine if count[each] >= ENOUGH * most and width[each] <= nearest + beside]
            if any(apart[each] <= VISIT for each in alike):
                left.update(each for each in alike if apart[each] > VISIT)
    wanted = set(laid) - left
    for side in (0, 1):
        paired = {both[side] for both in wanted}
        wanted |= {both for both in laid if both[side] not in paired}
    return {both: each for both, each in laid.items() if both in wanted}


def _partners(laid: dict[tuple[int, int], Sections]) -> set[tuple[int, int]]:
    """For every edge its best partner; none where no section could be laid but for a crossing."""
    kept: set[tuple[int, int]] = set()
    for side in (0, 1):
        best: dict[int, tuple[tuple[float, ...], tuple[int, int]]] = {}
        for both, each in sorted(laid.items()):
            count = int((each.why == FOUND).sum())
            met = int(((each.why == FOUND) | (each.why > TOO_FAR)).sum())
            if met:
                rank = (-count, -met, float(np.median(each.width[each.found])) if count else np.inf)
                if both[side] not in best or rank < best[both[side]][0]:
                    best[both[side]] = (rank, both)
        kept |= {both for _, both in best.values()}
    return kept
