"""The table `elements` of a design file: what is judged, checked against the lines drawn beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from geoqa.errors import LayerError, SourceError
from geoqa.model.tables.columns import columns_of, conform
from geoqa.read.vector.two_descriptions import APART, refuse_contradiction

if TYPE_CHECKING:
    import pandas as pd

    from geoqa.read.vector.linework import Drawn


def checked_elements(table: pd.DataFrame, drawn: Drawn, *, compared: bool = True) -> pd.DataFrame:
    """Take the elements of a file if they fit each other and the lines drawn beside them.

    Raises
    ------
    SourceError
        Columns are missing, an element has no drawn line or a line no element, elements do not follow
        each other, an arc does not have its radius, or, where `compared`, a line is drawn elsewhere.
    """
    wanted = [each.name for each in columns_of("design_elements")]
    missing = [each for each in wanted if each not in table.columns]
    if missing:
        raise SourceError(
            f"'{drawn.file}': its table elements lacks {', '.join(missing)}; it needs {', '.join(wanted)}."
        )
    try:
        table = conform("design_elements", table[wanted])
    except LayerError as error:
        raise SourceError(f"'{drawn.file}': {error}") from None
    order = {each.name: at for at, each in enumerate(drawn.lines)}
    strangers = sorted(set(table["line"].dropna()) - set(order)) + (["(no name)"] if table["line"].isna().any() else [])
    bare = sorted(set(order) - set(table["line"].dropna()))
    if strangers or bare:
        raise SourceError(
            f"'{drawn.file}': elements of no drawn line: {', '.join(strangers) or 'none'}; "
            f"drawn lines without elements: {', '.join(bare) or 'none'}. Export both from one design."
        )
    table = table.assign(_order=table["line"].map(order)).sort_values(["_order", "sequence"], kind="stable")
    table = table.drop(columns="_order").reset_index(drop=True)
    _check_each(table, drawn.file)
    _check_joints(table, drawn.file)
    if compared:
        refuse_contradiction(table, drawn.lines, drawn.file)
    return table


def _check_each(table: pd.DataFrame, file: str) -> None:
    def at(end: str) -> np.ndarray:
        return table[[f"{end}_easting", f"{end}_northing"]].to_numpy(float)

    arc = (table["shape"] == "arc").to_numpy(bool)
    _refuse(table, ~table["shape"].isin(["line", "arc"]).to_numpy(bool), "has a shape other than line or arc", file)
    bad = ~np.isfinite(np.column_stack([at("start"), at("end"), table[["start_station", "length"]].to_numpy(float)]))
    _refuse(table, bad.any(axis=1), "lacks an end, a station or a length", file)
    radius = table["radius"].to_numpy(float)
    sense = table["sense"].to_numpy()
    off = np.maximum(*(np.abs(np.hypot(*(at(end) - at("centre")).T) - radius) for end in ("start", "end")))
    _refuse(table, arc & ~(off <= APART), f"is an arc whose ends are not its radius from its centre (by {APART})", file)
    _refuse(table, (sense != 0) != arc, "has a sense that does not fit its shape (+1 right, -1 left, 0 straight)", file)
    chord = np.hypot(*(at("end") - at("start")).T)
    length = table["length"].to_numpy(float)
    angle = _swept(at("start") - at("centre"), at("end") - at("centre"), sense)
    true = np.where(arc, angle * radius, chord)
    _refuse(table, np.abs(length - true) > APART, "has a length that does not fit its ends", file)


def _swept(start: np.ndarray, end: np.ndarray, sense: np.ndarray) -> np.ndarray:
    """Angle swept from start to end about the centre, clockwise for sense +1."""
    turn = np.arctan2(end[:, 1], end[:, 0]) - np.arctan2(start[:, 1], start[:, 0])
    return np.mod(-sense * turn, 2.0 * np.pi)


def _check_joints(table: pd.DataFrame, file: str) -> None:
    line = table["line"].to_numpy()
    same = np.concatenate([[False], line[1:] == line[:-1]])
    place = np.zeros(len(table))
    place[1:] = np.hypot(
        table["start_easting"].to_numpy()[1:] - table["end_easting"].to_numpy()[:-1],
        table["start_northing"].to_numpy()[1:] - table["end_northing"].to_numpy()[:-1],
    )
    _refuse(table, same & (place > APART), "does not begin where the one before it ends", file)
    reached = (table["start_station"] + table["length"]).shift().to_numpy(float)
    _refuse(
        table,
        same & (np.abs(table["start_station"].to_numpy(float) - reached) > APART),
        "does not begin at the station where the one before it ends",
        file,
    )


def _refuse(table: pd.DataFrame, bad: np.ndarray, what: str, file: str) -> None:
    rows = np.flatnonzero(bad)
    if len(rows):
        row = table.iloc[int(rows[0])]
        raise SourceError(f"'{file}': element {row['sequence']} of line '{row['line']}' {what}; {len(rows)} such.")
