"""Ends of pipes as noted: which shot each was measured down from, its invert, and what the design has there."""

import numpy as np
import pandas as pd

from geoqa.model.reasons import WHY
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import Alignments, alignments
from geoqa.steps.judging.drawn_at import (
    ASKED,
    REACH,
    TOP,
    depth_of,
    design_at_ends,
    drawn_at,
    shot_noted_once,
    shot_of,
    u_of_measure_downs,
)
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.linework.observed import WANTS as OBSERVED_WANTS
from geoqa.steps.linework.observed import observed
from geoqa.steps.utilities.shot_notes import noted_on_shots

WANTS = ("structure_notes", "drawn_at", "design_lines", "design_elements", *OBSERVED_WANTS)
TEXTS = ("structure", "pipe", "direction", "size", "material", "type", "facing", "kind")


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
        design_drawn, design_depth : float
            Elevation of the design line at this end, and what is taken off it: diameter and wall where it is the top.
        design_invert : float
            Design elevation of the invert at this end. Of a design line along the top of the pipe it is lower by
            diameter and wall; NaN where these are not noted.
        design_fall : float
            Design elevation of this end less that of the other one: alike for tops and inverts.
        design_why : str
            top-without-size where the design line is the top and cannot be brought to the invert, top-or-invert where
            it is called top and seems to draw inverts; else empty.
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


def _left_out(shots: pd.DataFrame) -> np.ndarray:
    """Rows of `observed` that are rejected."""
    return (shots["why_plan"] == WHY["screened"]).to_numpy(bool)


def _pipe_ends(layers: Layers) -> pd.DataFrame:
    ends = notes_of(layers).reset_index(drop=True)
    shots = observed(layers)
    named, inverts = shot_noted_once(ends), ends["invert_shot"]
    row, why = shot_of(ends, shots, inverts.where(inverts.notna(), named), left_out=_left_out(shots))
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
    ends["u_down"] = np.where(direct, 0.0, u_of_measure_downs(layers, ends))
    missing = ends["pipe"].notna().to_numpy() & ends["structure"].isna().to_numpy()
    ends["why"] = np.select(
        [missing | alone, why != "", under, direct, np.isnan(down), down <= 0],
        ["", why, "rim-below", "", "no-measure-down", "rim-below"],
        "",
    )
    ends.loc[(ends["why"] != "").to_numpy(), "invert"] = np.nan
    return _with_design(layers, ends)


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
    mine, _ = shot_of(ends, others, shot_noted_once(ends), left_out=_left_out(others))
    rim, rim_lost = _levels(others, mine)
    invert, invert_lost = _levels(shots, row)
    return rim, direct & (rim <= invert) & ~rim_lost & ~invert_lost


def _with_design(layers: Layers, ends: pd.DataFrame) -> pd.DataFrame:
    design, unit = lines_of(layers), layers.frame.unit
    count = len(ends)
    line, drawn, fall = np.full(count, -1), np.full(count, np.nan), np.full(count, np.nan)
    depth, lost = np.zeros(count), np.full(count, "", dtype=object)
    if design is not None and count:
        east, north = ends["easting"].to_numpy(float), ends["northing"].to_numpy(float)
        line = rows_of(ends["pipe"], design.names)
        drawn, fall = design_at_ends(layers["design_elements"], ends["pipe"], east, north, REACH.to(unit))
        table = drawn_at(layers)
        said = ends["pipe"].map(dict(zip(table["line"], table["at"], strict=True)))
        near = np.isfinite(drawn)
        top, asked = (near & (said == what).to_numpy(bool, na_value=False) for what in (TOP, ASKED))
        depth = np.where(top, depth_of(ends, unit.metres_float), np.where(asked, np.nan, 0.0))
        lost = np.select([asked, top & np.isnan(depth)], ["top-or-invert", "top-without-size"], "")
    return ends.assign(
        design_line=line, design_drawn=drawn, design_depth=depth, design_invert=drawn - depth, design_fall=fall,
        design_why=lost,
    )  # fmt: skip
