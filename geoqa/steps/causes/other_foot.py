"""Design files that all shots miss by the difference of the two feet: read in the one, written in the other."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.model.quantity import FOOT, US_SURVEY_FOOT, Length, LengthUnit
from geoqa.model.tables.layer import Layers

LONGER = float(US_SURVEY_FOOT.metres / FOOT.metres) - 1.0
"""By how much of itself a US survey foot is longer than an international one."""
FEWEST = 5
"""Fewest shots that show it."""
FEWEST_LINES = 2
"""Fewest lines and points that show it."""
LEAST = Length.parse("0.2 ft")
SURE = 4.0
"""A number tells of it where the feet differ there by `LEAST` and more, and by more than so many u."""
WITHIN = 0.25
"""Most that a number may be off in the other foot, as a share of what the feet differ by there."""
MOST = 0.9
"""Least share of the numbers that tell of it which are good in the other foot."""
_OTHER = {"ft": "ftUS", "ftUS": "ft"}


@dataclass(frozen=True, kw_only=True)
class OtherFoot:
    """A design file that fits all shots in the other foot.

    Attributes
    ----------
    file : str
        Its source.
    read, other : {"ft", "ftUS"}
        Unit it was read in, and the one that fits.
    lines : tuple of str
        Lines and points that show it.
    shots : int
        How many show it.
    as_read, as_other : float
        Median distance of these shots from the design in either foot, job units.
    moved : (float, float)
        Easting and northing by which shots miss it, job units.
    """

    file: str
    read: str
    other: str
    lines: tuple[str, ...]
    shots: int
    as_read: float
    as_other: float
    moved: tuple[float, float]


def units_read(layers: Layers) -> dict[str, str]:
    """Foot that each design file was read in; files in metres are not there."""
    if "sources" not in layers:
        return {}
    table = layers["sources"]
    table = table[table["role"] == "design"].drop_duplicates("source")
    units = table["unit"].fillna(layers.frame.unit.name)
    return {str(file): str(unit) for file, unit in zip(table["source"], units, strict=True) if unit in _OTHER}


def other_foot(rows: pd.DataFrame, read: dict[str, str], unit: LengthUnit) -> list[OtherFoot]:
    """Files that nearly all shots miss by what the two feet differ by at that place, and fit in the other one.

    Parameters
    ----------
    rows : DataFrame
        Numbers in plan that can be judged: `source`, `subject`, `easting` and `northing` of the shot, `deviation`
        (right of a line, or away from a point: `radial`), `azimuth` (of the line, or from the point to the shot;
        degrees), `limit`, `u_common`, `u_random`.
    read : dict of str to {"ft", "ftUS"}
        Unit of each file.
    unit : LengthUnit
        Of the rows.

    Returns
    -------
    list of OtherFoot
        In the order of the files' names.

    Notes
    -----
    Coordinates that are written in ftUS and read in ft come out smaller by 2 parts per million of themselves. A shot
    misses a line by that across it: a line in the direction of the shift tells nothing, and is not counted.
    """
    rows = rows[rows["source"].isin(sorted(read))]
    rows = rows[rows[["deviation", "azimuth", "easting", "northing", "limit"]].notna().all(axis=1)]
    least = LEAST.to(unit)
    made = []
    for file, mine in rows.groupby("source", sort=True):
        sign = 1.0 if read[str(file)] == FOOT.name else -1.0
        moved = sign * LONGER * mine[["easting", "northing"]].to_numpy(float)
        expected, left = _either_way(mine, moved)
        u = np.hypot(mine["u_common"].to_numpy(float), mine["u_random"].to_numpy(float))
        tells = expected > np.maximum(least, SURE * np.nan_to_num(u))
        good = left <= np.minimum(WITHIN * expected, np.maximum(mine["limit"].to_numpy(float), 3 * u))
        shown = mine[tells & good]
        lines = sorted({str(name) for name in shown["subject"]})
        shots = len(shown[["easting", "northing"]].drop_duplicates())
        if shots < FEWEST or len(lines) < FEWEST_LINES or (tells & good).sum() < MOST * tells.sum():
            continue
        east, north = np.median(moved, axis=0).tolist()
        made.append(
            OtherFoot(
                file=str(file), read=read[str(file)], other=_OTHER[read[str(file)]], lines=tuple(lines), shots=shots,
                as_read=float(shown["deviation"].abs().median()), as_other=float(np.median(left[tells & good])),
                moved=(east, north),
            )
        )  # fmt: skip
    return made


def _either_way(rows: pd.DataFrame, moved: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """By how much a number feels the difference of the feet, and how far the shot is off in the other one."""
    angle = np.radians(rows["azimuth"].to_numpy(float))
    size = rows["deviation"].to_numpy(float)
    across = np.cos(angle) * moved[:, 0] - np.sin(angle) * moved[:, 1]
    east, north = size * np.sin(angle) - moved[:, 0], size * np.cos(angle) - moved[:, 1]
    radial = rows["radial"].to_numpy(bool)
    expected = np.where(radial, np.hypot(*moved.T), np.abs(across))
    return expected, np.where(radial, np.hypot(east, north), np.abs(size - across))
