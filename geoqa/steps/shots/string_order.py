"""Strings whose shots stand in an order that makes no line: back and forth, across itself, or a single shot."""

from collections.abc import Iterator

import numpy as np
import pandas as pd

from geoqa.kernels.linework.order import crossings, zig_zags
from geoqa.model.quantity import Length
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.shots.flags import flagged
from geoqa.steps.shots.strings import ONE_PLACE, places_of, strings_in

MEET = Length.parse("2 ft")
"""Ends of a string no farther apart are those of an outline; where it is not closed, that is told. Common practice, no
source."""

FEWEST = 4
"""Shots of a string whose order can be told from."""


def order_flags(layers: Layers, *, step: str) -> Iterator[pd.DataFrame]:
    """Flags of shots that stand in the wrong place of their string, or alone.

    Parameters
    ----------
    layers : Layers
        With `shots` that have kind and role; a single shot is told where the code list says that its code is of a line.
    step : str
        Who says so.

    Yields
    ------
    DataFrame
        Rows of `flags`.
    """
    shots = layers["shots"]
    places = places_of(shots)
    names = shots["shot"].where(shots["shot"].notna(), shots["shot_key"])
    number = shots["sequence"].to_numpy(float, na_value=np.nan)
    for string in strings_in(layers, least=FEWEST):
        counted = _in_sequence(number, string.rows)
        if len(counted) < FEWEST:
            continue
        rows = _of_own_place(places, counted, ONE_PLACE.to(layers.frame.unit))
        mine = places[rows]
        swapped = zig_zags(mine)
        if len(swapped):
            pair = rows[np.concatenate([swapped, swapped + 1])]
            other = rows[np.concatenate([swapped + 1, swapped])]
            yield flagged(
                shots, pair, flag="zig-zag", reject=False, step=step, subject=string.name,
                other=names.take(other), proposal=[*["behind"] * len(swapped), *["before"] * len(swapped)],
            )  # fmt: skip
        mended = np.arange(len(rows))
        mended[swapped], mended[swapped + 1] = swapped + 1, swapped
        cross = _without_ends(crossings(mine[mended]), mine[mended], MEET.to(layers.frame.unit))
        if len(cross):
            first, second = rows[mended][cross.T]
            yield flagged(
                shots, np.concatenate([first, second]), flag="self-crossing", reject=False, step=step,
                subject=string.name, count=len(cross), other=names.take(np.concatenate([second, first])),
            )  # fmt: skip


def _without_ends(cross: np.ndarray, places: np.ndarray, near: float) -> np.ndarray:
    """Crossings but that of the first leg with the last where the ends all but meet: an outline that is not closed."""
    meet = np.hypot(*(places[-1] - places[0])) <= near
    ends = (cross[:, 0] == 0) & (cross[:, 1] == len(places) - 2)
    return cross[~(ends & meet)]


def _in_sequence(numbers: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Rows that the crew put in order, where it did so with some: what has no number was shot beside the line."""
    number = numbers[rows]
    known = np.isfinite(number)
    return rows if known.all() or not known.any() else rows[known][np.argsort(number[known], kind="stable")]


def _of_own_place(places: np.ndarray, rows: np.ndarray, near: float) -> np.ndarray:
    """Rows without those that repeat a shot before them: their scatter makes the line turn any way.

    One measured again hours later stands at the end of a string that has no sequence, and no leg leads back to it.
    The last shot may repeat the first: it closes an outline.
    """
    from scipy.spatial import cKDTree

    pairs = np.sort(cKDTree(places[rows]).query_pairs(near, output_type="ndarray"), axis=1)
    pairs = pairs[(pairs[:, 0] > 0) | (pairs[:, 1] < len(rows) - 1)]
    again = np.zeros(len(rows), dtype=bool)
    for first, later in pairs[np.lexsort(pairs.T)].tolist():  # by the later one: whether the first stays is known
        again[later] |= not again[first]
    return rows[~again]


def alone_flags(layers: Layers, *, step: str) -> Iterator[pd.DataFrame]:
    """Flags of shots that are the only one of their line: its ID slipped, or the line was never gone on with."""
    shots = layers["shots"]
    codes = dict(layers).get("codes")
    if codes is None or not len(codes):
        return
    strings = [string for string in strings_in(layers, least=1) if not string.turn]
    alone = [string for string in strings if len(string.rows) == 1]
    of_line = taken(codes["geometry"], rows_of([each.code for each in alone], codes["code"].str.strip())) == "line"
    mine = [string for string, line in zip(alone, of_line, strict=True) if line]
    lines = {(string.code, string.line_id) for string in strings if len(string.rows) > 1}
    near = [_other_line(each.code, each.line_id, lines) for each in mine]
    yield flagged(
        shots, [int(each.rows[0]) for each in mine], flag="single-shot", reject=False, step=step,
        subject=[each.name for each in mine], proposal=pd.Series(near, dtype="str"),
    )  # fmt: skip


def _other_line(code: str, line_id: str, lines: set[tuple[str, str]]) -> str | None:
    """Line of the same code whose ID differs in one letter or figure, if there is just one; else of another code."""
    near = sorted(other for own, other in lines if own == code and _one_apart(other, line_id))
    if len(near) == 1:
        return f"{code} {near[0]}"
    same = sorted(own for own, other in lines if other == line_id and own != code)
    return f"{same[0]} {line_id}" if len(same) == 1 else None


def _one_apart(one: str, other: str) -> bool:
    return len(one) == len(other) and sum(a != b for a, b in zip(one, other, strict=True)) == 1
