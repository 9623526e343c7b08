"""Offsets from the arc of curves that are drawn in chords."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.contract.work import OFFSET
from geoqa.kernels.design.chorded_curves import ChordedCurves, as_arcs, chorded_curves
from geoqa.kernels.design.elements import Elements
from geoqa.kernels.design.station import candidates
from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.tables.chorded import beside_chords
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import alignments
from geoqa.steps.judging.text_columns import rows_of

REACH = Length.parse("10 ft")
"""Farthest design that a shot may be of; as in the step that matches lines."""
LEAST = Length.parse("0.01 ft")
"""A middle ordinate below this is no matter."""
ROUNDING = Length.parse("0.02 ft")
"""How far vertices of a drawn curve may lie off its circle."""
MATTERS = 0.25
"""Share of the limit by which the two readings must differ for neither of them to speak for a run."""


@dataclass(frozen=True, kw_only=True, eq=False)
class DrawnInChords:
    """Curves of the design that are drawn in chords, and the same lines with arcs in their place."""

    curves: ChordedCurves
    arcs: Elements


def drawn_in_chords(layers: Layers) -> DrawnInChords:
    """Find curves that are drawn in chords; once in a run."""

    def made() -> DrawnInChords:
        design, unit = alignments(layers), layers.frame.unit
        elements = design.elements
        curves = chorded_curves(elements, least=LEAST.to(unit), rounding=ROUNDING.to(unit))
        curves = curves.take(design.kinds[curves.line] != words.LIMITS_OF_WORK)
        return DrawnInChords(curves=curves, arcs=as_arcs(elements, curves))

    found: DrawnInChords = layers.derived("curves drawn in chords", ("design_lines", "design_elements"), made)
    return found


def design_elements(layers: Layers) -> Elements:
    """Elements of the design lines, with arcs where the job says that they are the design."""
    elements = alignments(layers).elements
    if "chorded_curves" not in layers or not (layers["chorded_curves"]["design_is"] == "arc").any():
        return elements
    table = layers["chorded_curves"]
    # a row of the table is a curve, in the order in which they were found
    return as_arcs(elements, drawn_in_chords(layers).curves.take((table["design_is"] == "arc").to_numpy(bool)))


def arc_offsets(layers: Layers, rows: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Offsets of rows of `along_lines` from the arcs of curves that are drawn in chords.

    Parameters
    ----------
    layers : Layers
        With `chorded_curves`, if that step ran.
    rows : DataFrame, n rows
        With `subject`, `station`, `easting`, `northing`.

    Returns
    -------
    offset : (n,) float64
        From the arc; NaN where the shot lies beside no such curve, or the chords are the design.
    held : (n,) bool array
        The job says that the arc is the design there.
    """
    offset, held = np.full(len(rows), np.nan), np.zeros(len(rows), dtype=bool)
    if "chorded_curves" not in layers or not len(layers["chorded_curves"]):
        return offset, held
    design, found = alignments(layers), drawn_in_chords(layers)
    table = layers["chorded_curves"]
    table = table[table["design_is"] != "chords"]
    inside = beside_chords(dict(layers), rows["subject"], rows["station"])
    for name, mine in table.groupby("line", sort=True):
        beside = np.flatnonzero(inside & (rows["subject"] == name).to_numpy(bool))
        if not len(beside):
            continue
        pairs = candidates(rows[["easting", "northing"]].to_numpy(float)[beside], found.arcs,
                           reach=REACH.to(layers.frame.unit))  # fmt: skip
        own = pairs.line == rows_of(pd.Series([name], dtype="str"), design.names)[0]
        offset[beside[pairs.point[own]]] = pairs.offset[own]
        held[beside] = (mine["design_is"] == "arc").any()
    return offset, held & np.isfinite(offset)


def two_offsets(rows: pd.DataFrame, arc: np.ndarray, held: np.ndarray, unit: str, least: float) -> None:
    """Add the second reading to rows of offsets beside curves drawn in chords, where nobody says which is the design.

    Parameters
    ----------
    rows : DataFrame
        With `deviation` and `cause`.
    arc, held
        Of `arc_offsets`.
    unit : str
    least : float
        A difference below this does not matter.
    """
    chord = rows["deviation"].to_numpy(float)
    open_ = ~held & (np.abs(arc - chord) >= least)
    rows["second"] = np.where(open_, arc, np.nan)
    rows["second_why"] = np.where(open_, OFFSET.why("chorded-curve"), 0)
    rows["second_for"] = "both"
    told = np.full(len(rows), None, dtype=object)
    for place in np.flatnonzero(open_ & np.isfinite(chord)).tolist():
        one, other = (words.length(value[place], unit, signed=True) for value in (chord, arc))
        told[place] = f"{one} from the chord that is drawn, {other} from the arc of the curve"
    rows["second_cause"] = pd.Series(told, dtype="str")


def of_one_mind(rows: pd.DataFrame, limits: pd.DataFrame) -> np.ndarray:
    """Rows whose two readings, if they have two, differ by less than a quarter of the nearer limit, shape (n,)."""
    apart = (rows["second"] - rows["deviation"]).abs().fillna(0.0).to_numpy(float)
    nearer = limits[["lower", "upper"]].abs().min(axis=1).to_numpy(float)[rows["limit"].to_numpy()]
    return np.asarray(apart <= MATTERS * nearer)


def from_the_arc(rows: pd.DataFrame) -> np.ndarray:
    """How far apart both readings of offsets beside curves drawn in chords lie, shape (n,); 0 where there is one."""
    if "second_why" not in rows:
        return np.zeros(len(rows))
    open_ = (rows["second_why"] == OFFSET.why("chorded-curve")).to_numpy(bool)
    return np.where(open_, np.nan_to_num((rows["second"] - rows["deviation"]).abs().to_numpy(float)), 0.0)
