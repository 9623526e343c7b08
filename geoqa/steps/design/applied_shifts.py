"""Numbers less the proven shift of their session, where the job says that it is to be taken off."""

import numpy as np
import pandas as pd

from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.open_blunders import Moved
from geoqa.steps.design.both_ways import beside_lines
from geoqa.steps.judging.text_columns import rows_of

AXES = ("easting", "northing", "elevation")
AS_READ = ("deviation_read", "u_common_read")
"""Columns of rows from which a shift was taken off: number and common part as they were read; NaN for the others."""


def applied(layers: Layers) -> pd.DataFrame:
    """Rows of `session_shifts` that are taken off; `u` is what each is worth then."""
    if "session_shifts" not in layers or "applied" not in layers["session_shifts"]:
        return pd.DataFrame({"session": [], "axis": [], "shift": [], "u": []})
    table = layers["session_shifts"]
    return pd.DataFrame(table[table["applied"]]).assign(u=lambda rows: rows["u_applied"])


def as_read(layers: Layers) -> Layers:
    """The same tables with no shift taken off."""
    if not len(applied(layers)):
        return layers
    return _with(layers, layers["session_shifts"].assign(applied=False))


def taken_off(layers: Layers, *, by_one_mark: bool = False) -> Layers | None:
    """The same tables as they would be if the job had every shift taken off that it may.

    Parameters
    ----------
    layers : Layers
    by_one_mark : bool
        Also those that rest on one mark alone, which no job takes off, worth what they are estimated with.

    Returns
    -------
    Layers or None
        None where there is no such shift.
    """
    if "session_shifts" not in layers:
        return None
    table = layers["session_shifts"]
    worth = table["u_applied"].fillna(table["u"]) if by_one_mark else table["u_applied"]
    off = table["proven"] & worth.notna()
    if not off.any():
        return None
    return _with(layers, table.assign(applied=off, u_applied=worth))


def _with(layers: Layers, table: pd.DataFrame) -> Layers:
    return layers.instead({"session_shifts": table})


def sessions(shots: pd.DataFrame) -> pd.Series:
    """Session of every shot, or its file where none is known: what shares a shift."""
    return shots["session"].where(shots["session"].notna(), shots["source"])


def freed(check: str, deviation: np.ndarray, azimuth: np.ndarray, shift: np.ndarray) -> np.ndarray:
    """Deviations less a shift, each by what it feels of it.

    Parameters
    ----------
    check : {"offset", "position", "elevation"}
    deviation : (n,) array
        A position's is its distance, towards `azimuth`.
    azimuth : (n,) array
        Of the line, or from the design point to the shot, degrees.
    shift : (3,) or (n, 3) array
        Measured minus true.

    Examples
    --------
    >>> freed("offset", np.array([0.08]), np.array([90.0]), np.array([0.03, -0.04, 0.05])).round(3).tolist()
    [0.04]
    """
    shift, angle = np.broadcast_to(shift, (len(deviation), 3)), np.radians(np.nan_to_num(azimuth))
    if check == "elevation":
        return np.asarray(deviation - shift[:, 2])
    if check == "offset":
        return np.asarray(deviation - shift[:, 0] * np.cos(angle) + shift[:, 1] * np.sin(angle))
    away = deviation[:, None] * np.column_stack([np.sin(angle), np.cos(angle)]) - shift[:, :2]
    return np.hypot(*away.T)


def applied_in_plan(layers: Layers, rows: pd.DataFrame) -> np.ndarray:
    """Shift in plan that was taken off the numbers of each row, easting and northing, shape (n, 2)."""
    table = applied(layers)
    taken = np.zeros((len(rows), 2))
    of = sessions(layers["shots"]).take(rows["row"].to_numpy()).to_numpy(dtype=object)
    for axis, session, shift in zip(table["axis"], table["session"], table["shift"], strict=True):
        if axis in AXES[:2]:
            taken[of == session, AXES.index(axis)] = shift
    return taken


def take_off(layers: Layers, rows: pd.DataFrame, *, check: str, lines: bool) -> None:
    """Take the proven shift of a session off the numbers of its shots, where the job says so; its u comes with it.

    Parameters
    ----------
    layers : Layers
    rows : DataFrame
        Of `along_lines` or `at_points`, changed in place: deviation, what it is made of, and the common part.
    check : {"offset", "position", "elevation"}
    lines : bool
        They lie beside lines.
    """
    table = applied(layers)
    if not len(table):
        return
    shots = layers["shots"]
    of = sessions(shots).take(rows["row"].to_numpy()).reset_index(drop=True)
    names = table["session"].drop_duplicates().reset_index(drop=True)
    shift, u = (
        table.pivot(index="session", columns="axis", values=value).reindex(index=names, columns=list(AXES))
        .to_numpy(float) for value in ("shift", "u")
    )  # fmt: skip
    place = rows_of(of, names)
    felt = [2] if check == "elevation" else [0, 1]
    mine = np.flatnonzero((place >= 0) & np.isfinite(shift[place][:, felt]).any(axis=1))
    if not len(mine):
        return
    moved, u = np.nan_to_num(shift[place[mine]]), u[place[mine]]
    read, common = rows["deviation"].to_numpy(float), rows["u_common"].to_numpy(float)
    value = freed(check, read[mine], rows["azimuth"].to_numpy(float)[mine], moved)
    if lines and check == "elevation":
        value = _on_the_line(layers, rows, mine, moved, value)
    rows["deviation_read"], rows["u_common_read"] = np.full((2, len(rows)), np.nan)
    for name, new in (("deviation_read", read[mine]), ("u_common_read", common[mine]), ("deviation", value)):
        rows[name] = _put(rows[name], mine, new)
    # an axis whose shift is not proven keeps what the session is stated to share
    known = np.where(np.isfinite(u[:, felt]), u[:, felt], common[mine, None])
    rows["u_common"] = _put(rows["u_common"], mine, known.max(axis=1))
    if check == "elevation":
        rows["measured"] = _put(rows["measured"], mine, rows["measured"].to_numpy(float)[mine] - moved[:, 2])
        rows["design"] = rows["measured"] - rows["deviation"]
    else:
        rows["measured"] = _put(rows["measured"], mine, value)
        if check == "offset":
            rows["offset"] = _put(rows["offset"], mine, value)


def _put(column: pd.Series, rows: np.ndarray, values: np.ndarray) -> np.ndarray:
    made = column.to_numpy(float, copy=True)
    made[rows] = values
    return made


def _on_the_line(
    layers: Layers, rows: pd.DataFrame, mine: np.ndarray, moved: np.ndarray, otherwise: np.ndarray
) -> np.ndarray:
    """Elevations against the design where the shot lies without the shift in plan."""
    if not moved[:, :2].any():
        return otherwise
    count = len(mine)
    acts = Moved(acts=np.full(count, True), holds=np.full(count, True), shift=moved, u=np.zeros((count, 3)),
                 titles=np.full(count, "", dtype=object))  # fmt: skip
    there = beside_lines(layers, rows.iloc[mine].reset_index(drop=True), acts, check="elevation").same
    return np.where(np.isfinite(there), there, otherwise)
