"""Shots on pipes, put in order along each pipe."""

from collections.abc import Collection

import numpy as np
import pandas as pd

from geoqa.kernels.design.elements import Elements
from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.utility_columns import MEASURED
from geoqa.steps.design.alignments import alignments
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.linework.observed import observed
from geoqa.steps.shots.strings import strings_of

WANTS = ("codes", "line_matches", "design_lines", "design_elements")
UNNAMED = "without a line ID"
BENT_PLAN, BENT_LEVEL = Length.parse("1 ft"), Length.parse("0.02 ft")
"""How far a vertex lies from the straight line between others where a pipe bends. In plan a foot makes a pipe at 2 % of
100 ft no more than 0.001 ft longer, and so its shots no higher; in elevation, what drawings round. Common practice, no
source."""
_PIPE = ["kind", "pipe", "measured"]


def pipe_shots(layers: Layers, kinds: Collection[str]) -> pd.DataFrame:
    """Shots of the given kinds, pipe by pipe, in order along it.

    Parameters
    ----------
    layers : Layers
    kinds : collection of str
        Kinds that are shots on pipes.

    Returns
    -------
    DataFrame
        row : int
            Of `observed`.
        kind, pipe, source : str
            The pipe is the line ID, else the design line that the shot lies on, else the kind.
        number : int
            Of the pipe, from 0: one kind, one name, measured or not.
        station : float
            Along the design line, where the shot lies on one; else NaN.
        part : int
            Straight stretch of that design line, from bend to bend, from its first; 0 without one.
        known_by : str
            What the code says of how it is known; empty where it says nothing, which is taken as exposed and shot.
        measured : bool
            False for marks on the ground and records: they are pipes of their own, never mixed with measurements.
        turn : int
            Pass of the pipe that the shot is of, from 0; -1 for a single place that was taken again.

    Notes
    -----
    Shots are in the order of their passes, what was taken again behind them; in each of their stations where all of a
    pipe have one on one design line, else of the crew's line, else, where that has several codes, of sequence or time.
    """
    shots = observed(layers)
    row = np.flatnonzero(shots["kind"].isin(list(kinds)).to_numpy(bool))
    if not len(row):
        return _NONE.copy(deep=False)
    mine = shots.iloc[row]
    line, station, part = _on_design(layers, mine["shot"])
    names = taken([], np.full(len(row), -1)) if line is None else line
    line_id = mine["line_id"].reset_index(drop=True)
    pipe = line_id.where(line_id.notna(), names)
    pipe = pipe.where(pipe.notna(), mine["kind"].reset_index(drop=True) + " " + UNNAMED)
    made = pd.DataFrame({"row": row, "kind": mine["kind"].to_numpy(dtype=object), "pipe": pipe})
    made["station"], made["part"] = station, part
    made["source"] = _source(layers, names)
    made["sequence"] = mine["sequence"].to_numpy("float64", na_value=np.nan)
    made["minutes"] = mine["minutes"].to_numpy(float)
    made["turn"], made["along"] = _in_strings(shots, row, layers.frame.unit)
    made["on"] = names
    made["known_by"] = _known_by(layers, mine["code"])
    made["measured"] = made["known_by"].isin(["", *MEASURED])
    made["order"] = np.arange(len(made))
    for _, rows in made.groupby(_PIPE, sort=False):
        one = rows["on"].notna().all() and rows["on"].nunique() == 1
        in_line = rows["along"].notna().all() and mine["code"].iloc[rows.index].nunique() == 1
        numbered = rows["sequence"].notna().all()
        by = "station" if one else "along" if in_line else "sequence" if numbered else "minutes"
        made.loc[rows.index, "order"] = rows[by].rank(method="first", na_option="bottom").to_numpy()
    made["pass"] = made["turn"].mask(made["turn"] < 0, made["turn"].max() + 1)
    made = made.sort_values([*_PIPE, "pass", "order"], kind="stable", ignore_index=True)
    made["number"] = made.groupby(_PIPE, sort=False).ngroup()
    return made.drop(columns=["sequence", "minutes", "along", "order", "pass"])


def _in_strings(shots: pd.DataFrame, row: np.ndarray, unit: LengthUnit) -> tuple[np.ndarray, np.ndarray]:
    """Pass of its line that each of some shots is of, and its place in the order of all lines; NaN for one in none."""
    mine = shots.iloc[row].reset_index(drop=True)
    turn, along = np.zeros(len(mine), dtype=np.int64), np.full(len(mine), np.nan)
    before = 0
    for string in strings_of(mine, unit, least=1, again=True):
        turn[string.rows] = string.turn
        along[string.rows] = before + np.arange(len(string.rows))
        before += len(string.rows)
    return turn, along


_NONE = pd.DataFrame(
    {"row": np.empty(0, np.int64), "kind": pd.array([], "str"), "pipe": pd.array([], "str"),
     "station": np.empty(0), "part": np.empty(0, np.int64), "source": pd.array([], "str"),
     "on": pd.array([], "str"), "known_by": pd.array([], "str"), "measured": np.empty(0, bool),
     "turn": np.empty(0, np.int64), "number": np.empty(0, np.int64)}
)  # fmt: skip
"""What there is of a job without shots on pipes."""


def _on_design(layers: Layers, keys: pd.Series) -> tuple[pd.Series | None, np.ndarray, np.ndarray]:
    """Design line that each shot lies on, station along it, and number of the element there."""
    nothing = np.full(len(keys), np.nan), np.zeros(len(keys), dtype=np.int64)
    if "line_matches" not in layers or not len(layers["line_matches"]):
        return None, *nothing
    matches = layers["line_matches"]
    matches = matches[matches["chosen"]].drop_duplicates("shot_key")
    place = rows_of(keys, matches["shot_key"])
    there = place >= 0
    station = (
        np.where(there, matches["station"].to_numpy(float)[np.where(there, place, 0)], np.nan)
        if len(matches)
        else nothing[0]
    )
    names = taken(matches["design"], place)
    design, unit = alignments(layers), layers.frame.unit
    at_bends: dict[int, np.ndarray] = {}
    number = rows_of(names, design.names)
    part = np.zeros(len(keys), dtype=np.int64)
    for at in np.flatnonzero(number >= 0).tolist():
        bends = at_bends[number[at]] if number[at] in at_bends else _bends(design.elements, number[at], unit)
        at_bends[number[at]] = bends
        part[at] = int(np.searchsorted(bends, station[at], side="right"))
    return names, station, part


def _bends(elements: Elements, line: int, unit: LengthUnit) -> np.ndarray:
    """Stations at which a design line bends: vertices that it is drawn with, and does not need, are none."""
    import shapely

    mine = np.flatnonzero(elements.line == line)
    station = elements.start_station[mine]
    flat = np.append(elements.start[mine], elements.end[mine[-1:]], axis=0)
    level = np.append(elements.start_elevation[mine], elements.end_elevation[mine[-1]])
    along = np.append(station, station[-1] + elements.length[mine[-1]])
    bent = np.zeros(len(mine) + 1, dtype=bool)
    for places, far in ((flat - flat[0], BENT_PLAN), (np.column_stack([along - along[0], level]), BENT_LEVEL)):
        known = np.isfinite(places).all(axis=1)
        if known.sum() > 1:
            kept = shapely.get_coordinates(shapely.linestrings(places[known]).simplify(far.to(unit)))
            bent[known] |= (places[known][:, None] == kept).all(axis=2).any(axis=1)
    arc = elements.shape[mine] != 0
    bent[:-1] |= arc
    bent[1:] |= arc
    return np.asarray(station[1:][bent[1:-1]])


def _known_by(layers: Layers, code: pd.Series) -> pd.Series:
    codes = layers["codes"]
    if "known_by" not in codes:
        return taken([""], np.zeros(len(code), dtype=np.int64))
    return taken(codes["known_by"].fillna(""), rows_of(code, codes["code"])).fillna("")


def _source(layers: Layers, names: pd.Series) -> pd.Series:
    if "design_lines" not in layers or not len(layers["design_lines"]):
        return taken([], np.full(len(names), -1)).fillna("no design")
    lines = layers["design_lines"]
    return taken(lines["source"], rows_of(names, lines["line"])).fillna("no design")
