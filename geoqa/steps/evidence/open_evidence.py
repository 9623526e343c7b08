"""What else lies along a reach without a usable shot, and keeps it from being called without evidence."""

import numpy as np
import pandas as pd

from geoqa.contract.evidence import COVERAGE
from geoqa.model.quantity import Length
from geoqa.model.reasons import WHY
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import Alignments
from geoqa.steps.evidence.code_questions import answered, questions
from geoqa.steps.judging.text_columns import rows_of

LIKELY = 0.05
"""Probability from which a line counts as one that a shot may be of; a match is sure where all others stay below."""
ONE_LINE = Length.parse("0.05 ft")
"""Lines no farther apart are one line drawn twice, whichever the line IDs speak for. Common practice, no source."""


NONE = {"line": np.zeros(0, np.int64), "station": np.zeros(0), "why": np.zeros(0, np.int64), "other": []}


def open_evidence(layers: Layers, design: Alignments, beside: pd.DataFrame) -> pd.DataFrame:
    """Places along lines where something was shot that is no evidence yet, and why it is none.

    Parameters
    ----------
    layers : Layers
    design : Alignments
    beside : DataFrame
        Shots matched with their lines: ``line``, ``station``, ``use``, ``why``.

    Returns
    -------
    DataFrame
        ``line`` (number), ``station``, ``why`` (code of the reason), ``other`` (name of the other line, or empty);
        sorted by line and station.
    """
    rejected = beside.loc[~beside["use"], ["line", "station", "why"]].assign(other="")
    asked = questions(layers, design).assign(why=WHY["code-question"], other="")
    parts = [asked, rejected, _of_other_lines(layers, design, beside)]
    whole = pd.concat([part for part in parts if len(part)] or [asked], ignore_index=True)
    return whole.sort_values(["line", "station", "why", "other"], ignore_index=True)


def _of_other_lines(layers: Layers, design: Alignments, beside: pd.DataFrame) -> pd.DataFrame:
    """Candidates that were not chosen.

    They are of shots that may be of either line, on a line drawn twice, or beside a line that carries no shot of its
    own.
    """
    if "line_matches" not in layers:
        return pd.DataFrame(NONE)
    matches = layers["line_matches"]
    line, odds = rows_of(matches["design"], design.names), matches["odds"].to_numpy(float)
    ambiguous, likely = matches["ambiguous"].to_numpy(bool), odds >= LIKELY
    bare = np.bincount(beside["line"], minlength=len(design.names)) == 0
    twice = likely | (bare[line] & _where_the_chosen_lies(matches, ONE_LINE.to(layers.frame.unit)))
    why = np.select(
        [ambiguous & likely, ~ambiguous & twice, ~ambiguous & bare[line]],
        [WHY["ambiguous-match"], COVERAGE.why("drawn-twice"), COVERAGE.why("beside-another")],
        0,
    )
    rows = np.flatnonzero((why > 0) & ~matches["chosen"].to_numpy(bool) & (matches["along"].to_numpy(float) == 0))
    names = design.names[_likeliest_other(matches["shot_key"], line, odds)[rows]]
    return pd.DataFrame(
        {"line": line[rows], "station": matches["station"].to_numpy(float)[rows], "why": why[rows], "other": names}
    )


def _where_the_chosen_lies(matches: pd.DataFrame, near: float) -> np.ndarray:
    """Whether each candidate lies, beside its shot, where the line does that was chosen for it."""
    azimuth, offset = np.radians(matches["azimuth"].to_numpy(float)), matches["offset"].to_numpy(float)
    aside = offset[:, None] * np.column_stack([np.cos(azimuth), -np.sin(azimuth)])
    chosen = np.flatnonzero(matches["chosen"].to_numpy(bool))
    place = rows_of(matches["shot_key"], matches["shot_key"].iloc[chosen].reset_index(drop=True))
    if not len(chosen):
        return np.zeros(len(matches), dtype=bool)
    apart = np.hypot(*(aside - aside[chosen[np.maximum(place, 0)]]).T)
    return np.asarray((place >= 0) & (apart <= near))


def _likeliest_other(shot: pd.Series, line: np.ndarray, odds: np.ndarray) -> np.ndarray:
    """For each candidate the line of the likeliest other candidate of its shot; its own where there is none."""
    number = pd.factorize(shot)[0]
    order = np.lexsort((np.arange(len(odds)), -odds, number))
    first = np.flatnonzero(np.append(True, np.diff(number[order]) > 0)) if len(order) else order
    count = np.diff(np.append(first, len(order)))
    best = line[order[first]]
    second = line[order[np.minimum(first + 1, first + count - 1)]] if len(order) else best
    return np.where(best[number] == line, second[number], best[number])


def reason_of(
    found: pd.DataFrame, line: np.ndarray, start: np.ndarray, end: np.ndarray, *, spacing: float
) -> tuple[np.ndarray, np.ndarray]:
    """Why a reach is not judged: what most of the open evidence in it is, if all of it together would cover it.

    Parameters
    ----------
    found : DataFrame
        Of `open_evidence`.
    line, start, end : (n,) arrays
        Reaches, by the number of their line.
    spacing : float
        Longest distance allowed between two shots; infinite where one shot is enough.

    Returns
    -------
    why : (n,) int array
        Code of the reason; 0 where the reach stays open.
    other : (n,) array of str
        Name of the other line that most of it is about; empty where it is about none.

    Examples
    --------
    >>> found = pd.DataFrame({"line": [0, 0, 0], "station": [20.0, 40.0, 45.0], "why": [7, 7, 4]})
    >>> found["other"] = ["B", "B", ""]
    >>> why, other = reason_of(found, np.array([0, 0]), np.array([0.0, 0.0]), np.array([60.0, 90.0]), spacing=25.0)
    >>> why.tolist(), other.tolist()
    ([7, 0], ['B', ''])
    """
    why, other = np.zeros(len(line), dtype=np.int64), np.full(len(line), "", dtype=object)
    lines, stations, codes, names = (found[name].to_numpy() for name in ("line", "station", "why", "other"))
    for at in np.flatnonzero(answered(found, line, start, end, spacing=spacing)):
        first, last = np.searchsorted(lines, [line[at], line[at] + 1])
        inside = first + np.flatnonzero((stations[first:last] > start[at]) & (stations[first:last] < end[at]))
        why[at] = np.bincount(codes[inside]).argmax()
        named, count = np.unique(names[inside[codes[inside] == why[at]]].astype(str), return_counts=True)
        other[at] = str(named[count.argmax()])
    return why, other


def drawn_twice(found: pd.DataFrame, design: Alignments) -> list[dict[str, str | int]]:
    """Facts of the note on lines that lie in the same place: each pair once, with how many shots lie on both."""
    twice = found[found["why"] == COVERAGE.why("drawn-twice")]
    pairs = pd.DataFrame({"one": design.names[twice["line"]], "two": twice["other"].to_numpy()})
    pairs = pd.DataFrame(np.sort(pairs.to_numpy(dtype=str), axis=1), columns=["one", "two"])
    counts = pairs.value_counts(sort=False).sort_index().reset_index(name="count")
    return [
        {"note": "drawn-twice", "subject": row["one"], "other": row["two"], "count": int(row["count"])}
        for row in counts[counts["count"] > 1].to_dict("records")
    ]
