"""Ends of pipes as noted: which shot each was measured down from, its invert, and what the design has there."""

import numpy as np
import pandas as pd

from geoqa.kernels.design.along_elements import point_at
from geoqa.model.quantity import Length
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import Alignments, alignments
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.linework.observed import WANTS as OBSERVED_WANTS
from geoqa.steps.linework.observed import observed
from geoqa.steps.utilities.shot_notes import noted_on_shots

WANTS = ("structure_notes", "design_lines", "design_elements", *OBSERVED_WANTS)
REACH = Length.parse("10 ft")
"""An end of a design line farther than this from the shot is not the pipe's end there."""
TEXTS = ("structure", "pipe", "direction", "size", "material", "type", "facing", "kind")
U_MEASURE_DOWN = Length.parse("0.02 ft")
"""1 sigma of a measure-down of which neither the notes nor the job say anything."""


def pipe_ends(layers: Layers) -> pd.DataFrame:
    """The notes of structures, a row each, with the shot, the invert and the design of each end.

    Returns
    -------
    DataFrame
        The columns of `structure_notes`, and:

        row : int
            Of `observed`: the rim, or the shot of the invert where that is noted; -1 where none was found.
        easting, northing, rim, invert : float
            In the job's unit; `rim` is NaN where the invert itself was shot and no one shot of the rim is known. An
        invert that is no lower than its rim is none.
        u_down : float
            1 sigma of the measure-down; 0 where the invert itself was shot.
        why : str
            Why there is no invert; empty where there is one.
        design_line : int
            Number of the pipe's line in `alignments`; -1 for none.
        design_invert : float
            Design elevation of the invert at this end. Of a design line along the top of the pipe it is lower by
            diameter and wall; NaN where these are not noted.
        design_fall : float
            Design elevation of this end less that of the other one: alike for tops and inverts.
        design_why : str
            top-without-size where the design line is the top and cannot be brought to the invert; else empty.
    """
    made: pd.DataFrame = layers.derived("pipe ends", ("shots", *WANTS), lambda: _pipe_ends(layers))
    return made


def notes_of(layers: Layers) -> pd.DataFrame:
    """What was noted of structures: in the file that the job names, and of others in the notes of their shots."""
    made: pd.DataFrame = layers.derived("structure notes", ("shots", *WANTS), lambda: _notes(layers))
    return made


def _notes(layers: Layers) -> pd.DataFrame:
    filed = layers["structure_notes"] if "structure_notes" in layers else empty("structure_notes")
    on_shots = noted_on_shots(layers, filed)
    if not len(on_shots):
        return filed
    filed = filed.assign(on_shot=False)
    return pd.concat([filed, on_shots], ignore_index=True) if len(filed) else on_shots


def lines_of(layers: Layers) -> Alignments | None:
    """Design lines, where the job has some."""
    there = "design_lines" in layers and len(layers["design_lines"])
    return alignments(layers) if there else None


def _pipe_ends(layers: Layers) -> pd.DataFrame:
    ends = notes_of(layers).reset_index(drop=True)
    shots = observed(layers)
    named, inverts = _named_shots(ends), ends["invert_shot"]
    row, why = _shot_of(ends, shots, inverts.where(inverts.notna(), named))
    direct = inverts.notna().to_numpy()
    at = np.where(row >= 0, row, 0)
    there = row >= 0
    for name in ("easting", "northing"):
        ends[name] = np.where(there, shots[name].to_numpy(float)[at], np.nan) if len(shots) else np.nan
    level, _ = _levels(shots, row)
    down = ends["measure_down"].to_numpy(float)
    alone = ends["pipe"].isna().to_numpy() & np.isnan(down) & ~direct
    ends["row"], ends["alone"] = row, alone
    rim, under = _rims_of_shot_inverts(ends, shots, row, direct)
    ends["rim"] = np.where(direct, rim, level)
    ends["invert"] = np.where(direct, level, level - down)
    ends["u_down"] = np.where(direct, 0.0, _u_down(layers, ends))
    missing = ends["pipe"].notna().to_numpy() & ends["structure"].isna().to_numpy()
    ends["why"] = np.select(
        [missing | alone, why != "", under, direct, np.isnan(down), down <= 0],
        ["", why, "rim-below", "", "no-measure-down", "rim-below"],
        "",
    )
    ends.loc[(ends["why"] != "").to_numpy(), "invert"] = np.nan
    return _with_design(layers, ends)


def _u_down(layers: Layers, ends: pd.DataFrame) -> np.ndarray:
    """1 sigma of measure-downs: as noted, as the job declares it, else as is common."""
    declared = layers["precision"] if "precision" in layers else empty("precision")
    mine = declared.loc[declared["kind"] == "measure-down", "v_random"]
    usual = float(mine.iloc[0]) if len(mine) and mine.notna().all() else U_MEASURE_DOWN.to(layers.frame.unit)
    noted = ends["u_measure_down"].to_numpy(float)
    return np.where(np.isnan(noted), usual, noted)


def _named_shots(ends: pd.DataFrame) -> pd.Series:
    """The rim shot as noted; what is noted once for a structure holds for all of its rows."""
    of_structure = ends.dropna(subset=["shot"]).drop_duplicates("structure").set_index("structure")["shot"]
    named: pd.Series = ends["shot"].where(ends["shot"].notna(), ends["structure"].map(of_structure))
    return named


def _levels(shots: pd.DataFrame, row: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Elevations of shots, NaN where there is none; and whether a reason keeps them from being believed."""
    if not len(shots):
        return np.full(len(row), np.nan), np.zeros(len(row), dtype=bool)
    at = np.where(row >= 0, row, 0)
    level = np.where(row >= 0, shots["elevation"].to_numpy(float)[at], np.nan)
    return level, (row >= 0) & (shots["why_elevation"].to_numpy(int)[at] != 0)


def _rims_of_shot_inverts(
    ends: pd.DataFrame, shots: pd.DataFrame, row: np.ndarray, direct: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Rims over inverts that were shot themselves, NaN where none is known; and whether the rim is not above it.

    A shot that is not believed proves nothing of the other one.
    """
    if not direct.any():
        return np.full(len(ends), np.nan), np.zeros(len(ends), dtype=bool)
    inverts = ends["invert_shot"].dropna()
    others = shots[~(shots["name"].isin(inverts) | shots["shot"].isin(inverts)).to_numpy(bool)]
    mine, _ = _shot_of(ends, others, _named_shots(ends))
    rim, rim_lost = _levels(others, mine)
    invert, invert_lost = _levels(shots, row)
    return rim, direct & (rim <= invert) & ~rim_lost & ~invert_lost


def _shot_of(ends: pd.DataFrame, shots: pd.DataFrame, named: pd.Series) -> tuple[np.ndarray, np.ndarray]:
    """Row of the shot that each end hangs on, by the name noted, else by the structure's; and why there is none."""
    row, why = np.full(len(ends), -1), np.full(len(ends), "", dtype=object)
    names = {key: shots[key].to_numpy(dtype=object) for key in ("name", "shot", "line_id")}
    for at, (shot, structure) in enumerate(zip(named, ends["structure"], strict=True)):
        if pd.isna(structure):
            continue
        tries = [("name", shot), ("shot", shot)] if pd.notna(shot) else [("line_id", structure), ("name", structure)]
        hits = next((hit for key, value in tries if len(hit := np.flatnonzero(names[key] == value))), np.zeros(0, int))
        if len(hits) == 1:
            row[at] = hits[0]
        else:
            why[at] = "rim-unclear" if len(hits) else "no-rim"
    return row, why


def _with_design(layers: Layers, ends: pd.DataFrame) -> pd.DataFrame:
    design = lines_of(layers)
    count = len(ends)
    line, own, fall = np.full(count, -1), np.full(count, np.nan), np.full(count, np.nan)
    top = np.zeros(count, dtype=bool)
    if design is not None and count:
        line = rows_of(ends["pipe"], design.names)
        at = np.where(line >= 0, line, 0)
        tips = [point_at(design.elements, at, stations[at]) for stations in (design.start, design.end)]
        away = [np.hypot(tip.easting - ends["easting"], tip.northing - ends["northing"]).to_numpy() for tip in tips]
        level = [tip.elevation for tip in tips]
        near = (line >= 0) & (np.fmin(*away) <= REACH.to(layers.frame.unit))
        start = away[0] <= away[1]
        own = np.where(near, np.where(start, *level), np.nan)
        fall = own - np.where(near, np.where(start, *level[::-1]), np.nan)
        of_top = np.array([is_top(str(kind)) for kind in design.kinds], dtype=bool)
        top = near & of_top[at]
        depth = sum(stated_once(ends, name).to_numpy(float) for name in ("diameter", "wall"))
        own = np.where(top, own - depth / layers.frame.unit.metres_float, own)
    lost = np.where(top & np.isnan(own), "top-without-size", "")
    return ends.assign(design_line=line, design_invert=own, design_fall=fall, design_why=lost)


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
    there = ends.dropna(subset=[name, by]).drop_duplicates(by).set_index(by)[name]
    return ends[name].where(ends[name].notna(), ends[by].map(there))
