"""What design lines of a kind called top draw: the top of their pipes, or the inverts after all."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.model.quantity import Length
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import AGAIN, has_flag
from geoqa.steps.judging.text_columns import rows_of

WANTS = ("structure_notes", "drawn_at", "design_lines", "design_elements", "precision")
REACH = Length.parse("10 ft")
"""An end of a design line farther than this from the shot is not the pipe's end there."""
U_MEASURE_DOWN = Length.parse("0.02 ft")
"""1 sigma of a measure-down of which neither the notes nor the job say anything."""
TOP, INVERT, ASKED = "top", "invert", "asked"
FEWEST, NEARLY_ALL, WITHIN = 2, 0.8, 2 / 3
"""Ends of one kind in one file that must tell of inverts, the share of them nearer to that, and within uncertainty."""
K = 2.58
"""Standard uncertainties, 99 %."""
BUILT = Length.parse("0.05 ft")
"""1 sigma of pipes laid well against their design: beside u, what an invert may differ by."""


def drawn_at(layers: Layers) -> pd.DataFrame:
    """What each design line of a kind called top draws, as the job says, or as the inverts noted tell.

    Returns
    -------
    DataFrame
        line, kind, source : str
        at : str
            ``top``, ``invert`` where the job says so, ``asked`` where nearly all inverts noted of the kind in that file
            lie above design by size and wall, so that the line seems to draw inverts, and the job does not say.
        ends, of : int
            Inverts of that kind and file that tell so, and those that could.
    """
    of = ("shots", *WANTS)
    made: pd.DataFrame = layers.derived("lines drawn at", of, lambda: _drawn_at(layers))
    return made


def lines_without_tops(layers: Layers) -> dict[str, str]:
    """Design lines called top that draw the invert, or may: their names, and what they draw."""
    table = drawn_at(layers)
    table = table[table["at"] != TOP]
    return dict(zip(table["line"], table["at"], strict=True))


def questions_of_design(layers: Layers) -> list[dict[str, Any]]:
    """A fact for each kind and file of which it is asked what its lines draw."""
    table = drawn_at(layers)
    asked = table[table["at"] == ASKED].drop_duplicates(["kind", "source"])
    paths = dict(layers["sources"][["source", "path"]].to_numpy()) if "sources" in layers else {}
    return [
        {"note": "pipes-drawn-at", "subject": str(row["kind"]), "place": str(paths.get(row["source"], row["source"])),
         "count": int(row["ends"]), "total": int(row["of"])}
        for row in asked.sort_values(["kind", "source"]).to_dict("records")
    ]  # fmt: skip


def _drawn_at(layers: Layers) -> pd.DataFrame:
    columns = ["line", "kind", "source", "at", "ends", "of"]
    if "design_lines" not in layers or "design_elements" not in layers:
        return pd.DataFrame(columns=columns)
    design = layers["design_lines"].sort_values("line", ignore_index=True)
    design = design[np.array([is_top(str(kind)) for kind in design["kind"]], dtype=bool)]
    stated = dict(layers["drawn_at"][["source", "at"]].to_numpy()) if "drawn_at" in layers else {}
    made = design[["line", "kind", "source"]].reset_index(drop=True)
    made = made.assign(at=[stated.get(source, TOP) for source in made["source"]], ends=0, of=0)
    if not len(made) or "structure_notes" not in layers or not len(layers["structure_notes"]):
        return made
    ends = _noted_ends(layers)
    ends = ends[ends["pipe"].isin(made["line"])]
    for (_, source), mine in made.groupby(["kind", "source"], sort=True):
        told = ends[ends["pipe"].isin(mine["line"])]
        nearer, within = int(told["nearer"].sum()), int(told["within"].sum())
        seems = within >= FEWEST and nearer >= NEARLY_ALL * len(told) and within >= WITHIN * len(told)
        made.loc[mine.index, ["ends", "of"]] = [nearer, len(told)]
        if seems and source not in stated:
            made.loc[mine.index, "at"] = ASKED
    return made


def _noted_ends(layers: Layers) -> pd.DataFrame:
    """Ends of sized pipes with an invert and a design: nearer to the design line itself than to a pipe below it."""
    notes, shots, unit = layers["structure_notes"], layers["shots"], layers.frame.unit
    inverts = notes["invert_shot"]
    name = inverts.where(inverts.notna(), shot_noted_once(notes))
    bare = shots.assign(name=shots["shot"].where(shots["shot"].notna(), shots["shot_key"]), shot=shots["shot_key"])
    row, _ = shot_of(notes, bare, name, left_out=has_flag(shots, AGAIN))
    at = np.where(row >= 0, row, 0)
    place = {
        axis: np.where(row >= 0, shots[axis].to_numpy(float)[at], np.nan)
        for axis in ("easting", "northing", "elevation")
    }
    down = np.where(inverts.notna(), 0.0, notes["measure_down"].to_numpy(float))
    level = place["elevation"] - down
    elements, reach = layers["design_elements"], REACH.to(unit)
    own, _ = design_at_ends(elements, notes["pipe"], place["easting"], place["northing"], reach)
    depth = depth_of(notes, unit.metres_float)
    parts = [shots[each].to_numpy(float)[at] for each in ("u_v_random", "u_v_common") if each in shots]
    u = np.sqrt(sum((each**2 for each in parts), np.zeros(len(notes)))) if parts else np.zeros(len(notes))
    u = np.hypot(u, np.where(inverts.notna(), 0.0, u_of_measure_downs(layers, notes)))
    off = level - own
    bound = K * np.hypot(np.nan_to_num(u), BUILT.to(unit))
    sure = np.isfinite(off) & np.isfinite(depth) & (depth > 2 * bound) & notes["structure"].notna().to_numpy()
    made = pd.DataFrame({"pipe": notes["pipe"], "nearer": np.abs(off) < np.abs(off + depth)})
    return made.assign(within=np.abs(off) <= bound)[sure]


def design_at_ends(
    elements: pd.DataFrame, pipe: pd.Series, easting: np.ndarray, northing: np.ndarray, reach: float
) -> tuple[np.ndarray, np.ndarray]:
    """Elevation of the design line of each end at its nearer tip, (n,), and its fall from there to the other tip.

    NaN where no tip lies within reach.
    """
    parts = elements.sort_values(["line", "sequence"], kind="stable")
    first, last = parts.drop_duplicates("line"), parts.drop_duplicates("line", keep="last")
    line = rows_of(pipe, first["line"])
    tips = np.full((2, len(pipe), 3), np.nan)
    for tip, (rows, name) in enumerate(((first, "start"), (last, "end"))):
        place = rows[[f"{name}_easting", f"{name}_northing", f"{name}_elevation"]].to_numpy(float)
        tips[tip, line >= 0] = place[line[line >= 0]]
    away = np.hypot(tips[:, :, 0] - easting, tips[:, :, 1] - northing)
    near, start = np.fmin(*away) <= reach, away[0] <= away[1]
    own, other = (np.where(near, np.where(start, *levels), np.nan) for levels in (tips[:, :, 2], tips[::-1, :, 2]))
    return own, own - other


def depth_of(ends: pd.DataFrame, metres: float) -> np.ndarray:
    """How far the invert lies below the top: inside diameter and one wall, in the job's unit."""
    diameter, wall = (stated_once(ends, name).to_numpy(float) for name in ("diameter", "wall"))
    return (diameter + wall) / metres


def u_of_measure_downs(layers: Layers, ends: pd.DataFrame) -> np.ndarray:
    """1 sigma of measure-downs: as noted, as the job declares it, else as is common."""
    declared = layers["precision"] if "precision" in layers else empty("precision")
    mine = declared.loc[declared["kind"] == "measure-down", "v_random"]
    usual = float(mine.iloc[0]) if len(mine) and mine.notna().all() else U_MEASURE_DOWN.to(layers.frame.unit)
    noted = ends["u_measure_down"].to_numpy(float)
    return np.where(np.isnan(noted), usual, noted)


def shot_noted_once(ends: pd.DataFrame) -> pd.Series:
    """The rim shot as noted; what is noted once for a structure holds for all of its rows."""
    of_structure = ends.dropna(subset=["shot"]).drop_duplicates("structure").set_index("structure")["shot"]
    named: pd.Series = ends["shot"].where(ends["shot"].notna(), ends["structure"].map(of_structure))
    return named


def shot_of(
    ends: pd.DataFrame, shots: pd.DataFrame, named: pd.Series, *, left_out: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Row of the shot that each end hangs on, by the name noted, else by the structure's; and why there is none.

    A row that is `left_out`, listed again or rejected, is no second shot of that name.
    """
    row, why = np.full(len(ends), -1), np.full(len(ends), "", dtype=object)
    names = {key: shots[key].to_numpy(dtype=object) for key in ("name", "shot", "line_id")}
    for at, (shot, structure) in enumerate(zip(named, ends["structure"], strict=True)):
        if pd.isna(structure):
            continue
        tries = [("name", shot), ("shot", shot)] if pd.notna(shot) else [("line_id", structure), ("name", structure)]
        hits = next((hit for key, value in tries if len(hit := np.flatnonzero(names[key] == value))), np.zeros(0, int))
        hits = hits if left_out[hits].all() else hits[~left_out[hits]]
        if len(hits) == 1:
            row[at] = hits[0]
        else:
            why[at] = "rim-unclear" if len(hits) else "no-rim"
    return row, why


def is_top(kind: str) -> bool:
    """Whether a kind of design line says that it is the top of a pipe.

    Examples
    --------
    >>> is_top("storm-top"), is_top("storm-pipe"), is_top("stop-log")
    (True, False, False)
    """
    return "top" in kind.lower().split("-")


def stated_once(ends: pd.DataFrame, name: str, *, by: str = "pipe") -> pd.Series:
    """An attribute as noted; what is noted once for a pipe, or a structure, holds for all of its rows."""
    there = ends[[by, name]].dropna().drop_duplicates(by).set_index(by)[name]
    return ends[name].where(ends[name].notna(), ends[by].map(there))
