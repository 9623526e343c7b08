"""Strings of the crew as pieces that can be measured: without jumps over gaps, and without shots not in use."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.model.tables.layer import Layers
from geoqa.steps.linework.observed_strings import strings_among
from geoqa.steps.shots.strings import String, counted_once, strings_in

AXES = ["easting", "northing"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Piece:
    """A string of shots, or a part of one.

    Attributes
    ----------
    name, kind, code : str
        Of the string; kind is that of its first shot.
    rows : (k,) int64
        Rows of `observed`, in the order of the string; none where no two of its shots count.
    at : (k, 2) float64
        Places.
    passed_over : int
        Shots of the string that do not count.
    again : int
        Shots of later passes, and single places taken again, on the ground of the first.
    """

    name: str
    kind: str
    code: str
    rows: np.ndarray
    at: np.ndarray
    passed_over: int
    again: int


def pieces_of(layers: Layers, shots: pd.DataFrame, gap: float) -> list[Piece]:
    """Pieces of at least two shots; a shot that is not in use, or under a blunder, is passed over.

    A string of which nothing is left is one piece without shots. Of several passes of one line the first counts, and of
    the others what lies on new ground.

    Parameters
    ----------
    layers : Layers
    shots : DataFrame
        Of `observed`.
    gap : float
        Shots farther apart in plan than this are not joined.
    """
    place = np.full(len(layers["shots"]), -1)
    place[shots["row"].to_numpy()] = np.arange(len(shots))
    good = (shots["why_plan"].eq(0) & ~shots["blunder_plan"]).to_numpy(bool)
    at, kinds = shots[AXES].to_numpy(float), shots["kind"].to_numpy(dtype=object)
    usable = np.flatnonzero(good)
    # passes are told by the shots that count: where none of the first does, the second stands for the line
    strings: dict[tuple[str, str], list[String]] = {}
    for string in strings_among(layers, shots.iloc[usable], least=1):
        strings.setdefault((string.code, string.line_id), []).append(string)
    whole: dict[tuple[str, str], list[np.ndarray]] = {}
    for string in strings_in(layers, again=True):
        rows = place[string.rows]
        whole.setdefault((string.code, string.line_id), []).append(rows[rows >= 0])
    made = []
    for line, every in whole.items():
        rows = np.concatenate(every)
        if not len(rows):
            continue
        mine = strings.get(line, [String(*line, rows=usable[:0])])
        first = len(mine[0].rows)
        over = len(rows) - int(good[rows].sum())
        for string in mine:
            stretches = [usable[each] for each in counted_once(string)]
            far = [np.flatnonzero(np.hypot(*np.diff(at[each], axis=0).T) > gap) + 1 for each in stretches]
            cut = [part for each, cuts in zip(stretches, far, strict=True) for part in np.split(each, cuts)]
            parts = [part for part in cut if len(part) > 1]
            again = 0 if string.turn else len(rows) - over - first
            made += [
                Piece(
                    name=string.name, kind=str(kinds[rows[0]]), code=string.code, rows=part, at=at[part],
                    passed_over=0 if string.turn else over, again=again,
                )
                for part in parts or ([] if string.turn else [usable[:0]])
            ]  # fmt: skip
    return made


def _ways(one: list[Piece], other: list[Piece], widest: float) -> list[tuple[float, int, int, bool]]:
    """How far apart the ends of two pieces are at most, which they are, and whether the second is turned."""
    from scipy.spatial import cKDTree

    own, theirs = (np.array([piece.at[[0, -1]] for piece in pieces]) for pieces in (one, other))
    begins, ways = cKDTree(own[:, 0]), []
    for turned in (False, True):
        ends = theirs[:, ::-1] if turned else theirs
        near = begins.query_ball_tree(cKDTree(ends[:, 0]), widest * (1 + 1e-9))
        a, b = np.repeat(np.arange(len(near)), list(map(len, near))), np.array([k for each in near for k in each], int)
        apart = np.hypot(*np.moveaxis(own[a] - ends[b], -1, 0)).max(axis=1)
        for place in np.flatnonzero(apart <= widest).tolist():
            ways.append((float(apart[place]), int(a[place]), int(b[place]), turned))
    return ways


def paired(one: list[Piece], other: list[Piece], widest: float) -> list[tuple[Piece, Piece | None, bool]]:
    """Pieces of two edges that run beside each other: both ends of the one lie within `widest` of ends of the other.

    Returns
    -------
    list of (piece, piece of the other edge or None, whether that one runs the other way)
        In the order of `one`; each piece is taken once, the closest pair first.
    """
    ways = _ways(one, other, widest) if one and other else []
    found: dict[int, tuple[int, bool]] = {}
    taken: set[int] = set()
    for _, a, b, turned in sorted(ways):
        if a not in found and b not in taken:
            found[a] = (b, turned)
            taken.add(b)
    pairs: list[tuple[Piece, Piece | None, bool]] = []
    for a, piece in enumerate(one):
        if a in found:
            pairs.append((piece, other[found[a][0]], found[a][1]))
        else:
            pairs.append((piece, None, False))
    return pairs + [(piece, None, False) for b, piece in enumerate(other) if b not in taken]
