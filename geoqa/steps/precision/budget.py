"""The uncertainty of every kind taken apart: how large each part is, and where it comes from."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.precision import of_file
from geoqa.steps.judging.text_columns import taken
from geoqa.steps.precision.of_marks import ASSUMED_WORDS, STATED_WORDS

OWN, GENERAL, LOGGED, TYPICAL, LEAN, STATED, ASSUMED, OF_FILE = range(8)
"""Where a number comes from: declared for the kind, for all kinds, reported, typical, the lean, the mark, assumed of a
mark, or declared for the file."""

_SOURCES = OF_FILE + 2  # with -1, for what is not of one source

TYPICAL_WORDS = "typical of real-time GNSS: NGS User Guidelines for Single Base Real Time GNSS Positioning v2.1, p. 42"


@dataclass(frozen=True, eq=False)
class Part:
    """One part of the uncertainty of every shot, with the code of its source."""

    axis: str
    part: str
    u: np.ndarray
    source: np.ndarray


def budget_table(
    shots: pd.DataFrame,
    parts: list[Part],
    precision: pd.DataFrame,
    lean: str,
    sources: pd.DataFrame,
    repeats: Mapping[str, str],
) -> pd.DataFrame:
    """Median and largest of each part by kind and source; the whole of it last.

    Parameters
    ----------
    shots : DataFrame
    parts : list of Part
    precision, sources : DataFrame
        The layers.
    lean : str
        Where the part of the lean comes from.
    repeats : mapping
        For axis h and v what repeats say of the random half of a reported precision; empty where none was asked.

    Returns
    -------
    DataFrame
        `budget`. A part of a lean is listed for leaning shots only, that of a mark for check shots
        only; the whole is that of the shot, without its mark.
    """
    if not len(shots):
        return empty("budget")
    kind, kinds = pd.factorize(shots["kind"], sort=True, use_na_sentinel=False)
    whole = []
    for axis in ("h", "v"):
        squares = sum(each.u**2 for each in parts if each.axis == axis and each.part != "mark")
        whole.append(Part(axis, "all", np.sqrt(squares), np.full(len(shots), -1)))
    tables = []
    for each in [*parts, *whole]:
        mine = np.flatnonzero(each.u != 0.0) if each.part in ("tilt", "mark") else np.arange(len(shots))
        # one whole number for kind and source: a key of two columns takes many times as long
        key = kind[mine] * _SOURCES + each.source[mine] + 1
        told = pd.Series(each.u[mine]).groupby(key, sort=True).agg(["size", "median", "max"])
        of_kind, source = np.divmod(told.index.to_numpy(np.int64), _SOURCES)
        tables.append(told.assign(axis=each.axis, part=each.part, kind=of_kind, source=source - 1))
    table = pd.concat(tables, ignore_index=True).sort_values(["axis", "part", "kind", "source"], ignore_index=True)
    names = taken(kinds, table["kind"].to_numpy())
    words = _Words(precision, lean, _confidence(sources), repeats)
    said = [
        words.of(int(code), str(name), axis, part)
        for code, name, axis, part in zip(table["source"], names, table["axis"], table["part"], strict=True)
    ]
    order = table["part"].map({"random": 0, "common": 1, "tilt": 2, "mark": 3, "all": 4})
    rows = pd.DataFrame(
        {
            "kind": names,
            "axis": table["axis"],
            "part": table["part"],
            "shots": table["size"],
            "u": table["median"],
            "largest": table["max"],
            "source": said,
        }
    )
    rows = rows.assign(_order=order).sort_values(["kind", "axis", "_order", "source"], kind="stable", ignore_index=True)
    return conform("budget", rows.drop(columns="_order"))


def _confidence(sources: pd.DataFrame) -> str:
    said = sorted({str(each) for each in sources.loc[sources["role"] == "shots", "confidence"].dropna()})
    return " and ".join(said) if said else "confidence not declared, taken as 1 sigma"


class _Words:
    """Sources in words."""

    def __init__(self, precision: pd.DataFrame, lean: str, confidence: str, repeats: Mapping[str, str]) -> None:
        self.reference = dict(zip(precision["kind"].astype(str), precision["reference"].astype(str), strict=True))
        of_files = precision.loc[precision["kind"].astype("str").str.startswith(of_file("")), "reference"]
        self.of_files = "; ".join(sorted(set(of_files.astype("str"))))
        self.lean, self.confidence, self.repeats = lean, confidence, repeats

    def of(self, code: int, kind: str, axis: str, part: str) -> str:
        if code in (OWN, GENERAL):
            reference = self.reference[kind if code == OWN else "*"]
            return f"declared{'' if code == OWN else ' for all kinds'}: {reference}"
        if code == OF_FILE:
            return f"declared for the file: {self.of_files}"
        halves = f"; half of its variance taken as {part}"
        return {
            LOGGED: f"reported by the log ({self.confidence}){halves}{self._held(axis, part)}",
            TYPICAL: f"{TYPICAL_WORDS}{halves}",
            LEAN: self.lean,
            STATED: STATED_WORDS,
            ASSUMED: ASSUMED_WORDS,
        }.get(code, "root of the sum of the squares of the parts")

    def _held(self, axis: str, part: str) -> str:
        """What repeats say of the random half; the common half stays as reported."""
        return f", {self.repeats[axis]}" if part == "random" and axis in self.repeats else ""
