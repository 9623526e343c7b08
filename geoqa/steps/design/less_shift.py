"""Numbers less what their session lies off by as a whole, where no check shot tells whether it is the session."""

import numpy as np
import pandas as pd

from geoqa.model.tables.layer import Layers
from geoqa.steps.design.applied_shifts import freed, sessions
from geoqa.steps.judging.text_columns import rows_of, taken

_AXES = ("easting", "northing", "elevation")


def shared_by_session(layers: Layers, row: np.ndarray) -> tuple[np.ndarray, pd.Series]:
    """What the session of each shot may be off by, (n, 3), and its name; NaN and null where nothing is open.

    Parameters
    ----------
    layers : Layers
        With `loose_shots`, if that step ran.
    row : (n,) int array
        Places in `shots`.

    Returns
    -------
    (n, 3) array
        Easting, northing, elevation; NaN along what is not open.
    Series of str
    """
    if "loose_shots" not in layers or not len(layers["loose_shots"]):
        return np.full((len(row), 3), np.nan), taken([], np.full(len(row), -1))
    table = layers["loose_shots"]
    place = rows_of(layers["shots"]["shot_key"].take(row).reset_index(drop=True), table["shot_key"])
    size = table[list(_AXES)].to_numpy(float)
    return np.vstack([size, np.full((1, 3), np.nan)])[place], taken(table["session"], place)


def read_less_shift(layers: Layers, rows: pd.DataFrame, check: str) -> None:
    """Give numbers of such sessions what may be their session's, so that they are read without it too.

    Parameters
    ----------
    layers : Layers
    rows : DataFrame
        With `row`, `deviation` and `azimuth`, changed in place: `of_session`, the part of the number that may be the
        session's, and `hangs_on`, its name; neither is added where no session is open.
    check : {"offset", "position", "elevation"}
    """
    shift, names = shared_by_session(layers, rows["row"].to_numpy())
    if check == "elevation":
        part = shift[:, 2]
    else:
        read = rows["deviation"].to_numpy(float)
        part = read - freed(check, read, rows["azimuth"].to_numpy(float), shift)
    if np.isfinite(part).any():
        open_ones = pd.Series(np.isfinite(part), index=rows.index)
        rows["of_session"], rows["hangs_on"] = part, names.set_axis(rows.index).where(open_ones)


def first_named(rows: pd.DataFrame, row: np.ndarray, begin: np.ndarray) -> pd.Series:
    """The first session that a group of rows hangs on, one a group; null where none of them does.

    Parameters
    ----------
    rows : DataFrame
        With `hangs_on`.
    row : (m,) int array
        Rows of all groups, group after group.
    begin : (k,) int array
        Where each group begins in `row`.
    """
    named = rows["hangs_on"].to_numpy(dtype=object)[row]
    groups = np.split(named, begin[1:])
    found = [next((name for name in each if isinstance(name, str)), None) for each in groups]
    return pd.Series(found, dtype="str")


def by_its_checks(layers: Layers, row: np.ndarray) -> np.ndarray:
    """What check shots say the elevations of the session of each shot are off by, shape (n,); 0 where nothing is said.

    Nothing is said by a shift that is less than its own u, or that was taken off.

    Parameters
    ----------
    layers : Layers
        With `session_shifts`, if that step ran.
    row : (n,) int array
        Places in `shots`.
    """
    if "session_shifts" not in layers or not len(layers["session_shifts"]):
        return np.zeros(len(row))
    table = layers["session_shifts"]
    told = (table["axis"] == "elevation") & (table["shift"].abs() > table["u"]) & ~table["applied"].astype(bool)
    table = table[told].reset_index(drop=True)
    of = sessions(layers["shots"]).astype("str").take(row).reset_index(drop=True)
    return np.append(table["shift"].to_numpy(float), 0.0)[rows_of(of, table["session"])]
