"""Codes that the shots bear, with the kind each may stand for: told by where its shots lie, never applied unread."""

import csv
import io
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING

import numpy as np

from geoqa.frames.files.places import on_marks
from geoqa.model.frame import Frame
from geoqa.model.kind_guess import USUAL_KINDS, guessed_kind
from geoqa.model.quantity import FOOT

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

FILE = "codes_draft.csv"
CLOSE = 1.5
"""Feet in plan within which a shot counts as lying on a design line. Common practice, no source."""
MOST = 0.6
"""Share of a code's shots that must lie on one kind."""
SOME = 0.2
"""Share of a code's shots on a kind from which it is proposed."""
ALIKE = 0.75
"""How alike two codes are spelled, by `difflib`, that may be one."""
FEWEST = 3
"""Shots of a code from which lying on a line tells its kind."""
LISTED = 300
"""Different codes, at most; more are notes, not codes."""


@dataclass(frozen=True)
class SeenCode:
    """One code, how often it was shot, and what it may stand for.

    A kind that only spelling or a few shots speak for is `proposed`: the draft writes it as a comment.
    """

    code: str
    shots: int
    kind: str = ""
    geometry: str = ""
    role: str = "feature"
    because: str = ""
    proposed: str = ""


def seen_codes(
    shots: Sequence["pd.DataFrame"],
    design: Sequence[Mapping[str, "pd.DataFrame"]],
    control: "pd.DataFrame | None",
    frame: Frame | None,
) -> tuple[SeenCode, ...]:
    """Every code of the shots, the most frequent first.

    Parameters
    ----------
    shots : sequence of tables
        One a file; in the job's frame where there is one.
    design : sequence of mappings
        Tables of each design file, in the same frame.
    control : table or None
    frame : Frame or None
        None where nothing says where the files lie: then their numbers are compared as they stand.
    """
    import pandas as pd

    wanted = ["code", "easting", "northing", "elevation", "shot", "line_id", "note"]
    tables = [table.reindex(columns=wanted) for table in _with_columns(shots)]
    whole = pd.concat(tables, ignore_index=True) if tables else pd.DataFrame({"code": []}, dtype="str")
    written = whole["code"].astype("str").str.strip()
    counts = Counter(each for each in written.dropna() if each)
    if not counts:
        return ()
    checks = on_marks(whole, control) >= 0
    close = CLOSE * FOOT.metres_float / (FOOT if frame is None else frame.unit).metres_float
    kinds, geometry, beside, high = _beside(whole, design, close)
    found = []
    for code, count in sorted(counts.items(), key=lambda each: (-each[1], each[0]))[:LISTED]:
        mine = (written == code).to_numpy(bool)
        found.append(_guess(code, count, mine, checks, kinds, geometry, beside, high))
    return tuple(found)


def _with_columns(shots: Sequence["pd.DataFrame"]) -> "list[pd.DataFrame]":
    return [table for table in shots if {"code", "easting", "northing", "shot", "line_id", "note"} <= set(table)]


def _guess(
    code: str, count: int, mine: "NDArray[np.bool_]", checks: "NDArray[np.bool_]",
    kinds: list[str], geometry: Mapping[str, str], beside: "NDArray[np.bool_]", high: "NDArray[np.float64]",
) -> SeenCode:  # fmt: skip
    on_mark = int((mine & checks).sum())
    if on_mark > MOST * count:
        return SeenCode(
            code, count, "control", "point", "check", f"{on_mark} of {count} name a mark of the control list"
        )
    shares = [(int(beside[mine, at].sum()), kind) for at, kind in enumerate(kinds)]
    few = [kind for kind in kinds if geometry[kind] == "line"] if count < FEWEST else []
    shares = [each for each in shares if each[0] >= MOST * count and each[1] not in few]
    meant, because = guessed_kind(code, kinds=geometry)
    level = {kind: _level(high[mine, at]) for at, kind in enumerate(kinds)}
    shares.sort(key=lambda each: (each[1] != meant, geometry[each[1]] != "point", -each[0], level[each[1]], each[1]))
    if not shares:
        some = [(int(beside[mine, at].sum()), kind) for at, kind in enumerate(kinds)]
        return _some(code, count, some, geometry, meant if because == "its words" else "")
    on, kind = shares[0]
    also = "".join(f"; {other} on {name}" for other, name in shares[1:3])
    return SeenCode(code, count, kind, geometry[kind], "feature", f"{on} of {count} lie on design of this kind{also}")


def _level(high: "NDArray[np.float64]") -> float:
    """How far in elevation shots lie from points of a kind, in whole units: a rim is not its invert."""
    known = high[np.isfinite(high)]
    return float(np.round(np.median(known))) if len(known) else 0.0


def _some(code: str, count: int, shares: list[tuple[int, str]], geometry: Mapping[str, str], meant: str) -> SeenCode:
    """A code whose shots lie on no one kind: that of points which its letters say too, else a proposal."""
    some = sorted((each for each in shares if each[0] >= SOME * count), key=lambda each: (-each[0], each[1]))
    if not some:
        return SeenCode(code, count, because="its shots lie on no one kind of design")
    told = ", ".join(f"{on} on {kind}" for on, kind in some[:3])
    form = geometry[some[0][1]]
    if geometry.get(meant) == "point" and any(kind == meant for _, kind in some):
        return SeenCode(code, count, meant, "point", because=f"its letters; of {count} {told}")
    return SeenCode(code, count, "", form, because=f"of {count} only {told}", proposed=some[0][1])


def with_proposals(codes: Sequence[SeenCode], kinds: Mapping[str, str]) -> tuple[SeenCode, ...]:
    """Codes that no place tells, with what their letters may mean: a told code spelled nearly alike, or a kind's words.

    Parameters
    ----------
    codes : sequence of SeenCode
    kinds : mapping of str to str
        Kinds of the design, with the geometry of each; usual kinds are tried after them.

    Examples
    --------
    >>> codes = [SeenCode("TBC", 40, "curb-top", "line"), SeenCode("TBCC", 2), SeenCode("HYD", 3)]
    >>> [(each.code, each.proposed, each.because) for each in with_proposals(codes, {})][1:]
    [('TBCC', 'curb-top', 'spelled nearly as TBC'), ('HYD', 'hydrant', 'its letters')]
    """
    told = {each.code: each for each in codes if each.kind and each.role == "feature"}
    return tuple(each if each.kind or each.proposed else _spelled(each, told, kinds) for each in codes)


def _spelled(code: SeenCode, told: Mapping[str, SeenCode], kinds: Mapping[str, str]) -> SeenCode:
    alike = get_close_matches(code.code, sorted(told), n=1, cutoff=ALIKE)
    if alike:
        near = told[alike[0]]
        return replace(code, proposed=near.kind, geometry=near.geometry, because=f"spelled nearly as {near.code}")
    for known in (dict(kinds), dict(USUAL_KINDS)):
        kind, because = guessed_kind(code.code, kinds=known)
        if kind:
            letters = "its letters" if because == "its words" else "part of its letters"
            return replace(code, proposed=kind, geometry=known[kind] or "line", because=letters)
    return code


def _beside(
    shots: "pd.DataFrame", design: Sequence[Mapping[str, "pd.DataFrame"]], close: float
) -> "tuple[list[str], dict[str, str], NDArray[np.bool_], NDArray[np.float64]]":
    """Kinds, their geometry, of each shot whether this kind is the nearest within reach, or of points in reach.

    And how far above or below a point of the kind it is; NaN for lines, and where an elevation is not known.
    """
    import shapely

    shapes: dict[str, list[object]] = {}
    levels: dict[str, list[float]] = {}
    geometry: dict[str, str] = {}
    for tables in design:
        for kind, shape, form, elevation in _drawn(tables):
            shapes.setdefault(kind, []).append(shape)
            levels.setdefault(kind, []).append(elevation)
            geometry.setdefault(kind, form)
    kinds = sorted(shapes)
    places = shapely.points(shots["easting"].to_numpy(float), shots["northing"].to_numpy(float))
    there = np.isfinite(shots[["easting", "northing"]].to_numpy(float)).all(axis=1)
    away, high = np.full((len(shots), len(kinds)), np.inf), np.full((len(shots), len(kinds)), np.nan)
    shot_high = shots["elevation"].to_numpy(float)
    for at, kind in enumerate(kinds):
        tree = shapely.STRtree(shapes[kind])
        (rows, to), off = tree.query_nearest(places[there], max_distance=close, return_distance=True, all_matches=False)
        mine = np.flatnonzero(there)[rows]
        away[mine, at] = off
        high[mine, at] = np.abs(shot_high[mine] - np.array(levels[kind], dtype=float)[to])
    # lines pass near everything of a street; a place of a point within reach is no chance
    of_points = np.array([geometry[kind] == "point" for kind in kinds], dtype=bool)
    nearest = away == away.min(axis=1, keepdims=True, initial=np.inf)
    return kinds, geometry, (nearest | of_points) & np.isfinite(away), high


def _drawn(tables: Mapping[str, "pd.DataFrame"]) -> "list[tuple[str, object, str, float]]":
    """Kind, shape, geometry and elevation of every straight piece and point of a design file; an arc is its chord."""
    import shapely

    found: list[tuple[str, object, str, float]] = []
    lines, elements, points = (tables.get(name) for name in ("design_lines", "design_elements", "design_points"))
    if lines is not None and elements is not None and len(elements):
        kind_of_line = dict(zip(lines["line"].astype("str"), lines["kind"].astype("str"), strict=True))
        ends = elements[["start_easting", "start_northing", "end_easting", "end_northing"]].to_numpy(float)
        pieces = shapely.linestrings(ends.reshape(-1, 2, 2))
        for line, piece in zip(elements["line"].astype("str"), pieces, strict=True):
            if line in kind_of_line:
                found.append((kind_of_line[line], piece, "line", np.nan))
    if points is not None and len(points):
        places = shapely.points(points["easting"].to_numpy(float), points["northing"].to_numpy(float))
        high = points.reindex(columns=["elevation"])["elevation"].to_numpy(float)
        found += [
            (str(kind), place, "point", level)
            for kind, place, level in zip(points["kind"], places, high.tolist(), strict=True)
        ]
    return found


def code_list(codes: Sequence[SeenCode]) -> str:
    """The text of a drafted code list, with how often each code was shot and what its kind is told by."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(["code", "kind", "geometry", "role", "pairs_with", "shots", "because"])
    partner = _partners(codes)
    for each in codes:
        if each.kind:
            pair = partner.get(each.code, "")
            rows.writerow([each.code, each.kind, each.geometry, each.role, pair, each.shots, each.because])
    if unsure := [each for each in codes if not each.kind]:
        text.write("# Codes whose kind no place tells; a row without its # counts:\n")
        for each in unsure:
            kind, form = each.proposed or "…", each.geometry or "line"
            rows.writerow([f"# {each.code}", kind, form, each.role, "", each.shots, each.because])
    return text.getvalue()


_ENDS = ({"front", "back"}, {"top", "flow"})
"""Last words of two kinds that are the two edges of one thing."""


def _partners(codes: Sequence[SeenCode]) -> dict[str, str]:
    """Codes of the two edges of one thing, by the words of their kinds: walk-front and -back, curb-top and -flow."""
    lines: dict[str, str] = {}
    for each in codes:  # the most frequent code of a kind first
        if each.kind and each.geometry == "line":
            lines.setdefault(each.kind, each.code)
    split = {kind: kind.rpartition("-") for kind in lines}
    return {
        code: lines[other]
        for kind, code in lines.items()
        for other in lines
        if split[kind][0] == split[other][0] != "" and {split[kind][2], split[other][2]} in _ENDS
    }
