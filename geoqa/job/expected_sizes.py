"""How far apart the shots of a number of several shots will lie: of the design, of the job's keys, else assumed."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.edge_pairs import pair_kind, paired_kinds
from geoqa.model.words import quantity

if TYPE_CHECKING:
    import pandas as pd

WIDTH = Length.parse("5 ft")
SPACING = Length.parse("25 ft")
STRETCH = Length.parse("20 ft")
"""Least stretch over which a running slope is told, as the step `walks` has it."""
PIPE = Length.parse("300 ft")
BEFORE = Length.parse("2 ft")
RAMP = Length.parse("6 ft")
"""Run of a ramp that rises 6 in at 1:12."""
MEASURE_DOWN = Length.parse("0.02 ft")
"""1 sigma of a measure-down of which the job says nothing, as the step `pipes` has it."""
APART = Length.parse("50 ft")
"""Edges of a pair are no farther apart."""
MOST = 2000
"""Vertices of an edge that are asked how far the other edge is."""


@dataclass(frozen=True, kw_only=True)
class _Known:
    """What a job file, its code list and its design tell before any shot."""

    limits: "pd.DataFrame"
    precision: "pd.DataFrame"
    pairs: list[tuple[str, str]]
    lines: "pd.DataFrame"
    surface: bool
    unit: LengthUnit

    def limit(self, kind: str, check: str, side: str = "lower") -> float:
        """The strictest limit of a check under a kind; NaN where there is none."""
        rows = self.limits[(self.limits["kind"] == kind) & (self.limits["check"] == check)][side]
        rows = rows[np.isfinite(rows)]
        if not len(rows):
            return float("nan")
        return float(rows.max() if side == "lower" else rows.min())

    def said(self, value: float) -> str:
        """A length to one decimal: it is a size, and no measurement."""
        return quantity(value, "length", self.unit.name, digits=1)

    def judges(self, kind: str, check: str) -> bool:
        """Whether a check that shares its key with others is one of this kind: of two edges, or of a ramp."""
        pair = kind in {pair_kind(*both) for both in self.pairs}
        ramp = not pair and np.isfinite(self.limit(kind, "ramp-slope", "upper"))
        if check == "cross-slope":
            return pair or not (self.pairs or ramp)
        return pair is False and (bool(self.pairs) or ramp) if check == "ramp-cross-slope" else True

    def edges(self, kind: str) -> tuple[str, str]:
        """Kinds of the two edges that are judged under a kind; itself twice where the code list makes no pair."""
        return next((both for both in self.pairs if pair_kind(*both) == kind), (kind, kind))


_Size = dict[str, Any]


def expected_sizes(
    limits: "pd.DataFrame",
    codes: "pd.DataFrame",
    design: "Mapping[str, pd.DataFrame]",
    precision: "pd.DataFrame",
    *,
    unit: LengthUnit,
) -> "pd.DataFrame":
    """Rows of `expected_sizes`: for each tolerance on a number of several shots, which shots, and how far apart.

    Parameters
    ----------
    limits, codes : DataFrame
    design : mapping of str to DataFrame
        Tables of the design, where they can be read.
    precision : DataFrame
        What the job declares.
    unit : LengthUnit

    Returns
    -------
    DataFrame
        Without the checks of which nothing is known before field work.
    """
    import pandas as pd

    known = _Known(
        limits=limits, precision=precision, pairs=paired_kinds(codes), unit=unit,
        lines=design.get("design_lines", empty("design_lines")), surface=bool(len(design.get("surface_points", ()))),
    )  # fmt: skip
    rows = list(_rows(known))
    return conform("expected_sizes", pd.DataFrame(rows)) if rows else empty("expected_sizes")


def _rows(known: _Known) -> Iterator[_Size]:
    asked = known.limits[["kind", "check"]].drop_duplicates()
    for kind, check in zip(asked["kind"], asked["check"], strict=True):
        if (size := _OF_CHECK.get(str(check))) is not None and known.judges(str(kind), str(check)):
            plain = {"u_beside": 0.0, "second_weight": 1.0, "axis": None, "length": np.nan, "assumed": None,
                     "averaged": 1.0}  # fmt: skip
            yield plain | {"kind": kind, "check": check, "first": kind, "second": kind} | size(known, str(kind))


def _across(known: _Known, kind: str) -> _Size:
    first, second = known.edges(kind)
    apart, of = _separation(known.lines, first, second, APART.to(known.unit)), "median between their design lines"
    if np.isnan(apart):
        apart, of = known.limit(kind, "clear-width"), "the least width the job asks for"
    if np.isnan(apart):
        apart, of = WIDTH.to(known.unit), "assumed, for neither design nor a least width tells it"
    shots = f"a shot of either edge, {known.said(apart)} apart"
    return {"first": first, "second": second, "length": apart, "shots": shots, "assumed": of}


def _along(known: _Known, kind: str, least: Length | None = None) -> _Size:
    first, second = known.edges(kind)
    spacings = [known.limit(each, "coverage", "upper") for each in (first, second, kind)]
    asked = [each for each in spacings if np.isfinite(each)]
    apart, of = (min(asked), "the spacing the job asks for") if asked else (
        SPACING.to(known.unit), "assumed, for the job asks for no spacing")  # fmt: skip
    if least is not None and apart < least.to(known.unit):
        apart, of = least.to(known.unit), "the least stretch over which it is told"
    return {"first": first, "second": first, "length": apart, "assumed": of,
            "shots": f"two shots of one line, {known.said(apart)} apart"}  # fmt: skip


def _pipe(known: _Known, kind: str) -> _Size:
    mine = known.lines[known.lines["kind"] == kind] if len(known.lines) else known.lines
    lengths = mine.geometry.length.to_numpy(float) if len(mine) else np.array([])
    lengths = lengths[lengths > 0]
    run, of = (float(np.median(lengths)), f"median of {len(lengths)} design lines") if len(lengths) else (
        PIPE.to(known.unit), "assumed, for the design has no pipe of this kind")  # fmt: skip
    return _inverts(known) | {
        "length": run, "assumed": of, "shots": f"two inverts {known.said(run)} apart, rim and measure-down"
    }  # fmt: skip


def _inverts(known: _Known) -> _Size:
    mine = known.precision.loc[known.precision["kind"] == "measure-down", "v_random"].dropna()
    down = float(mine.iloc[0]) if len(mine) else MEASURE_DOWN.to(known.unit)
    return {"first": "rim", "second": "rim", "u_beside": down, "shots": "two inverts, rim and measure-down each"}


def _cover(known: _Known, kind: str) -> _Size:
    if known.surface:
        return {"second_weight": 0.0, "axis": "v", "assumed": "the surface of the design, which is exact; what the "
                "session shares stays in", "shots": "a shot on top of the pipe, below the surface"}  # fmt: skip
    return {"second": "ground", "second_weight": 1 / 3, "axis": "v", "assumed": None,
            "shots": "a shot on top of the pipe, below the plane of three ground shots"}  # fmt: skip


def _two(axis: str, words: str) -> Callable[[_Known, str], _Size]:
    def size(known: _Known, kind: str) -> _Size:
        first, second = known.edges(kind)
        return {"axis": axis, "shots": words, "first": first, "second": second}

    return size


def _ramp(known: _Known, kind: str) -> _Size:
    run = RAMP.to(known.unit)
    return {"length": run, "assumed": "assumed: a rise of 6 in at 1:12", "averaged": 2.0,
            "shots": f"two rows of two shots, {known.said(run)} apart"}  # fmt: skip


def _counter(known: _Known, kind: str) -> _Size:
    before = BEFORE.to(known.unit)
    return {"length": before, "assumed": "assumed: gutter shots that far in front of the foot", "averaged": 2.0,
            "shots": f"two rows of two shots, {known.said(before)} apart"}  # fmt: skip


def _invert(known: _Known, kind: str) -> _Size:
    return _inverts(known) | {"axis": "v", "second_weight": 0.0, "shots": "a rim and a measure-down",
                              "assumed": "what the session shares stays in"}  # fmt: skip


def _ramp_across(known: _Known, kind: str) -> _Size:
    apart, of = known.limit(kind, "turning-space"), "the least turning space the job asks for"
    if np.isnan(apart):
        apart, of = WIDTH.to(known.unit), "assumed, for the job asks for no turning space"
    return {"length": apart, "assumed": of, "shots": f"two corners {known.said(apart)} apart"}


def _tops(known: _Known, kind: str) -> _Size:
    return {"axis": "v", "second_weight": 0.5, "shots": "a shot on top of the pipe, halfway between its two ends"}


_OF_CHECK: dict[str, Callable[[_Known, str], _Size]] = {
    "cross-slope": _across,
    "running-slope": lambda known, kind: _along(known, kind, STRETCH),
    "gutter-fall": _along,
    "pipe-slope": _pipe,
    "clear-width": _two("h", "a shot of either edge"),
    "reveal": _two("v", "top and flow line at one place"),
    "invert": _invert,
    "cover": _cover,
    "clearance": _two("v", "a shot on each pipe at the crossing"),
    "separation": _two("h", "a shot on each pipe"),
    "straightness": _tops,
    "ramp-slope": _ramp,
    "ramp-cross-slope": _ramp_across,
    "turning-slope": _ramp_across,
    "counter-slope": _counter,
    "turning-space": lambda known, kind: _two("h", "two corners at either side")(known, kind) | {"averaged": 2.0},
    "warning-depth": _two("h", "a corner of either side"),
}


def _separation(lines: "pd.DataFrame", first: str, second: str, most: float) -> float:
    """Median distance of the vertices of one kind from the lines of the other; NaN where that tells nothing."""
    import shapely

    one, two = (lines.loc[lines["kind"] == kind] for kind in (first, second)) if len(lines) else (lines, lines)
    if first == second or not len(one) or not len(two):
        return float("nan")
    places = shapely.get_coordinates(one.geometry.to_numpy())
    places = places[:: max(1, len(places) // MOST)]
    tree = shapely.STRtree(two.geometry.to_numpy())
    _, away = tree.query_nearest(shapely.points(places), return_distance=True, all_matches=False)
    away = away[(away > 0) & (away <= most)]
    return float(np.median(away)) if len(away) else float("nan")
