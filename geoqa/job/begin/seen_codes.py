"""Codes that the shots bear, with the kind each may stand for: told by where its shots lie, never applied unread."""

import csv
import io
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from geoqa.frames.files.places import on_marks
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

FILE = "codes_draft.csv"
CLOSE = 1.5
"""Feet in plan within which a shot counts as lying on a design line. Common practice, no source."""
MOST = 0.6
"""Share of a code's shots that must lie on one kind."""
LISTED = 300
"""Different codes, at most; more are notes, not codes."""


@dataclass(frozen=True)
class SeenCode:
    """One code, how often it was shot, and what it may stand for."""

    code: str
    shots: int
    kind: str = ""
    geometry: str = ""
    role: str = "feature"
    because: str = ""


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
        None where nothing says where the files lie: then only names of marks are told.
    """
    import pandas as pd

    tables = [table[["code", "easting", "northing", "shot", "line_id", "note"]] for table in _with_columns(shots)]
    whole = pd.concat(tables, ignore_index=True) if tables else pd.DataFrame({"code": []}, dtype="str")
    written = whole["code"].astype("str").str.strip()
    counts = Counter(each for each in written.dropna() if each)
    if not counts:
        return ()
    checks = on_marks(whole, control) >= 0
    close = CLOSE * FOOT.metres_float / (FOOT if frame is None else frame.unit).metres_float
    kinds, geometry, beside = (
        _beside(whole, design, close) if frame is not None else ([], {}, np.zeros((len(whole), 0), bool))
    )
    found = []
    for code, count in sorted(counts.items(), key=lambda each: (-each[1], each[0]))[:LISTED]:
        mine = (written == code).to_numpy(bool)
        found.append(_guess(code, count, mine, checks, kinds, geometry, beside))
    return tuple(found)


def _with_columns(shots: Sequence["pd.DataFrame"]) -> "list[pd.DataFrame]":
    return [table for table in shots if {"code", "easting", "northing", "shot", "line_id", "note"} <= set(table)]


def _guess(
    code: str, count: int, mine: "NDArray[np.bool_]", checks: "NDArray[np.bool_]",
    kinds: list[str], geometry: Mapping[str, str], beside: "NDArray[np.bool_]",
) -> SeenCode:  # fmt: skip
    on_mark = int((mine & checks).sum())
    if on_mark > MOST * count:
        return SeenCode(
            code, count, "control", "point", "check", f"{on_mark} of {count} name a mark of the control list"
        )
    shares = [(int(beside[mine, at].sum()), kind) for at, kind in enumerate(kinds)]
    shares = sorted((each for each in shares if each[0] >= MOST * count), key=lambda each: (-each[0], each[1]))
    if not shares:
        return SeenCode(code, count, because="its shots lie on no one kind of design")
    on, kind = shares[0]
    also = "".join(f"; {other} on {name}" for other, name in shares[1:3])
    return SeenCode(code, count, kind, geometry[kind], "feature", f"{on} of {count} lie on design of this kind{also}")


def _beside(
    shots: "pd.DataFrame", design: Sequence[Mapping[str, "pd.DataFrame"]], close: float
) -> "tuple[list[str], dict[str, str], NDArray[np.bool_]]":
    """Kinds, their geometry, and of each shot whether this kind is the nearest within reach."""
    import shapely

    shapes: dict[str, list[object]] = {}
    geometry: dict[str, str] = {}
    for tables in design:
        for kind, shape, form in _drawn(tables):
            shapes.setdefault(kind, []).append(shape)
            geometry.setdefault(kind, form)
    kinds = sorted(shapes)
    places = shapely.points(shots["easting"].to_numpy(float), shots["northing"].to_numpy(float))
    there = np.isfinite(shots[["easting", "northing"]].to_numpy(float)).all(axis=1)
    away = np.full((len(shots), len(kinds)), np.inf)
    for at, kind in enumerate(kinds):
        tree = shapely.STRtree(shapes[kind])
        (rows, _), off = tree.query_nearest(places[there], max_distance=close, return_distance=True, all_matches=False)
        away[np.flatnonzero(there)[rows], at] = off
    nearest = away == away.min(axis=1, keepdims=True, initial=np.inf)
    return kinds, geometry, nearest & np.isfinite(away)


def _drawn(tables: Mapping[str, "pd.DataFrame"]) -> "list[tuple[str, object, str]]":
    """Kind, shape and geometry of every straight piece and point of a design file; an arc is its chord."""
    import shapely

    found: list[tuple[str, object, str]] = []
    lines, elements, points = (tables.get(name) for name in ("design_lines", "design_elements", "design_points"))
    if lines is not None and elements is not None and len(elements):
        kind_of_line = dict(zip(lines["line"].astype("str"), lines["kind"].astype("str"), strict=True))
        ends = elements[["start_easting", "start_northing", "end_easting", "end_northing"]].to_numpy(float)
        pieces = shapely.linestrings(ends.reshape(-1, 2, 2))
        for line, piece in zip(elements["line"].astype("str"), pieces, strict=True):
            if line in kind_of_line:
                found.append((kind_of_line[line], piece, "line"))
    if points is not None and len(points):
        places = shapely.points(points["easting"].to_numpy(float), points["northing"].to_numpy(float))
        found += [(str(kind), place, "point") for kind, place in zip(points["kind"], places, strict=True)]
    return found


def code_list(codes: Sequence[SeenCode]) -> str:
    """The text of a drafted code list, with how often each code was shot and what its kind is told by."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(["code", "kind", "geometry", "role", "shots", "because"])
    for each in codes:
        rows.writerow([each.code, each.kind, each.geometry, each.role, each.shots, each.because])
    return text.getvalue()
