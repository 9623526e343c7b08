"""Measure-downs that a crew wrote in the note of a shot, "MD 5.42", as rows of the notes of structures."""

import re
from typing import Any

import numpy as np
import pandas as pd

from geoqa.kernels.design.along_elements import point_at
from geoqa.model.quantity import Length, LengthUnit, length_unit
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import alignments
from geoqa.steps.linework.observed import observed

INVERT = "invert"
REACH = Length.parse("10 ft")
"""The end of a pipe's design line lies no farther from its structure in plan."""
_DOWN = re.compile(
    r"\b(?:MD|measure[\s-]*downs?)\b[\s:=]*(?:(?P<pipe>[A-Za-z]+[\w-]*\d\w*)\s+)?(?:(?P<way>in|out)\s+)?"
    r"(?P<number>\d+(?:[.,]\d+)?)\s*(?P<unit>ftUS|ft|m|in)?\b(?:\s+(?P<after>in|out)\b)?",
    re.IGNORECASE,
)
_WORDS = {"rim": "", "invert": "", "inv": "", "lid": "", "top": "", "in": "in", "out": "out"}
"""Words behind the name of a structure in a line ID, and which way the water runs there."""


def measure_down_of(note: str) -> dict[str, str] | None:
    """What a note says of a measure-down: number, and unit, pipe and direction where it tells them.

    Examples
    --------
    >>> measure_down_of("frame set, MD 5.42"), measure_down_of("measure-down P-2 out 7.21 ft")["pipe"]
    ({'number': '5.42', 'unit': '', 'pipe': '', 'way': ''}, 'P-2')
    >>> measure_down_of("MD 1.65 m in")["way"], measure_down_of("shot on the pipe")
    ('in', None)
    """
    match = _DOWN.search(note)
    if match is None:
        return None
    way = (match["way"] or match["after"] or "").lower()
    return {"number": match["number"].replace(",", "."), "unit": match["unit"] or "", "pipe": match["pipe"] or "",
            "way": way}  # fmt: skip


def structure_of(line_id: str) -> tuple[str, str]:
    """Name of the structure in a line ID, and the direction that it ends with.

    Examples
    --------
    >>> structure_of("MH-1 out"), structure_of("IN-1 rim"), structure_of("MH-1")
    (('MH-1', 'out'), ('IN-1', ''), ('MH-1', ''))
    """
    head, _, last = line_id.strip().rpartition(" ")
    return (head.strip(), _WORDS[last.lower()]) if head and last.lower() in _WORDS else (line_id.strip(), "")


def noted_on_shots(layers: Layers, known: pd.DataFrame) -> pd.DataFrame:
    """Rows of `structure_notes` that stand in the notes of shots, of structures that no file names.

    A measure-down stands on the shot of a rim, or on the invert that was reduced with it. The pipe is the one the note
    names, else the one design line that ends at the structure and runs that way. Inverts that were shot themselves are
    ends too, where a measure-down was written on some shot of the job.

    Parameters
    ----------
    layers : Layers
    known : DataFrame
        Notes of structures from files.

    Returns
    -------
    DataFrame
        With `on_shot`, True.
    """
    shots = observed(layers)
    kind = shots["kind"].astype("str").fillna("")
    rows = np.flatnonzero((kind.str.contains("rim") | (kind == INVERT)).to_numpy(bool))
    told = {int(at): found for at in rows if (found := measure_down_of(_text(shots["note"].iloc[at])))}
    if not told:
        return empty("structure_notes")
    named = {int(at): structure_of(_text(shots["line_id"].iloc[at]) or _text(shots["name"].iloc[at])) for at in rows}
    files = set(known["structure"].dropna())
    rims = {at for at in named if kind.iloc[at] != INVERT}
    made = []
    for at, (structure, way) in named.items():
        found = told.get(at)
        if not structure or structure in files or (found is None and (at in rims or not way)):
            continue
        made.append(_row(layers, shots, at, structure, way, found, rims, named))
    if not made:
        return empty("structure_notes")
    return conform("structure_notes", pd.DataFrame(made)).assign(on_shot=True)


def _row(
    layers: Layers, shots: pd.DataFrame, at: int, structure: str, way: str, found: dict[str, str] | None,
    rims: set[int], named: dict[int, tuple[str, str]],
) -> dict[str, Any]:  # fmt: skip
    """One end of a pipe."""
    one = shots.iloc[at]
    row: dict[str, Any] = {"source": one["source"], "line": one["line"], "structure": structure}
    way = (found["way"] if found else "") or way
    place = one[["easting", "northing"]].to_numpy(float)
    row |= {"direction": way or None, "pipe": (found["pipe"] if found else "") or _pipe_at(layers, place, way)}
    if found is None:
        return row | {"invert_shot": one["shot"]}
    rim = [at] if at in rims else [other for other in sorted(rims) if named[other][0] == structure]
    unit = _unit_of(layers, one["source"], found["unit"])
    down = float(found["number"]) * unit.metres_float / layers.frame.unit.metres_float
    return row | {"measure_down": down, "shot": shots["shot"].iloc[rim[0]] if len(rim) == 1 else None}


def _unit_of(layers: Layers, source: object, written: str) -> LengthUnit:
    """Unit that a note states, else that of its file, else the job's."""
    if written:
        return length_unit("ftUS" if written.lower() == "ftus" else written.lower())
    if "sources" in layers and "unit" in layers["sources"]:
        table = layers["sources"]
        stated = table.loc[(table["source"] == source) & table["unit"].notna(), "unit"]
        if len(stated):
            return length_unit(str(stated.iloc[0]))
    return layers.frame.unit


def _pipe_at(layers: Layers, place: np.ndarray, way: str) -> str | None:
    """The one design line of pipes that ends here and falls away, or towards, as the water runs."""
    if not way or "design_lines" not in layers or not len(layers["design_lines"]):
        return None
    design = alignments(layers)
    number = np.arange(len(design.names))
    tips = [point_at(design.elements, number, stations) for stations in (design.start, design.end)]
    reach, found = REACH.to(layers.frame.unit), []
    for own, other in (tips, tips[::-1]):
        away = np.hypot(own.easting - place[0], own.northing - place[1])
        falls = own.elevation - other.elevation
        runs = falls > 0 if way == "out" else falls < 0
        found += [
            str(design.names[at]) for at in np.flatnonzero((away <= reach) & runs & _of_pipes(layers, design.kinds))
        ]
    return found[0] if len(set(found)) == 1 else None


def _of_pipes(layers: Layers, kinds: Any) -> np.ndarray:
    """Kinds that are judged as pipes, or are called so."""
    limits = layers["limits"]
    judged = set(limits.loc[limits["check"].isin(["pipe-slope", "straightness", "cover", "clearance"]), "kind"])
    return np.array(
        [kind in judged or {"pipe", "sewer", "storm"} & set(str(kind).split("-")) != set() for kind in kinds]
    )


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""
