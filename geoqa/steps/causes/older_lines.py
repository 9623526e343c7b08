"""Lines of one design file that all shots miss by one shift which the survey cannot have made."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.contract.work import ELEVATION, OFFSET
from geoqa.kernels.linework.shared_miss import TOGETHER, SharedMiss, share_of, shared_miss
from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.other_foot import other_foot, units_read
from geoqa.steps.causes.suspects import sessions_of
from geoqa.steps.judging.findings import asked, with_limits
from geoqa.steps.judging.text_columns import rows_of, taken

FEWEST = 8
"""Fewest shots that show the shift."""
SOME = 3
"""Fewest shots of a session that speak."""
NONE_OF_IT, ALL_OF_IT = 1 / 3, 5 / 3
"""A session has the shift where its shots show at least the one and at most the other share of it; less than the one
of it in other lines is none."""
FEW = 0.2
"""Most of the shots of other lines that may show half of it and more."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Missed:
    """Lines of one design file that are missed by one shift, along one axis.

    Attributes
    ----------
    rows : DataFrame
        Numbers of all lines.
    found : SharedMiss
    sessions : tuple of str
        In which the shift shows.
    mine : (n,) bool array
        Rows of these lines.
    whole : bool
        They are all of the file.
    proven : bool
        The survey did not make it: two sessions or more show it, and other lines of theirs do not.
    others : bool
        Other lines were shot in these sessions.
    """

    rows: pd.DataFrame
    found: SharedMiss
    sessions: tuple[str, ...]
    mine: np.ndarray
    whole: bool
    proven: bool
    others: bool


def files_older(layers: Layers) -> set[str]:
    """Design files of which the register says that another is newer."""
    if "design_register" not in layers:
        return set()
    table = layers["design_register"]
    return set(table.loc[table["newer"].notna(), "source"])


def to_the_right(azimuth: np.ndarray) -> np.ndarray:
    """Easting and northing of the direction to the right of lines, shape (n, 2).

    Examples
    --------
    >>> to_the_right(np.array([0.0, 90.0])).round(6).tolist()
    [[1.0, -0.0], [0.0, -1.0]]
    """
    angle = np.radians(azimuth)
    return np.column_stack([np.cos(angle), -np.sin(angle)])


def missed_together(rows: pd.DataFrame, file: str, *, fewest: int = FEWEST) -> Missed | None:
    """Lines of a file that all shots miss by one shift, which other lines of these sessions do not show.

    Parameters
    ----------
    rows : DataFrame
        Numbers that can be judged: `source`, `line` (number), `deviation`, `u_common`, `u_random`, `limit`, `session`,
        and `azimuth` of the line, missing for elevations.
    file : str
    fewest : int
        Shots that show it.

    Returns
    -------
    Missed or None
    """
    of_file = (rows["source"] == file).to_numpy(bool)
    if not of_file.any():
        return None
    right = to_the_right(rows["azimuth"].to_numpy(float)) if rows["azimuth"].notna().all() else None
    numbers = (rows[name] for name in ("line", "deviation", "u_common", "u_random", "limit"))
    found = shared_miss(*numbers, asked=of_file, right=right)
    if found is None:
        return None
    mine = np.isin(rows["line"].to_numpy(), found.lines) & of_file
    whole = bool(mine.sum() >= TOGETHER * of_file.sum())
    session = rows["session"].to_numpy(dtype=object)
    have = tuple(sorted(str(each) for each, count in pd.Series(session[mine]).value_counts().items() if count >= SOME))
    shown = [_share(rows, found.missed, mine & (session == each))[0] for each in have]
    others = [_share(rows, found.surveyed, ~mine & (session == each)) for each in have]
    known = [each for each in others if np.isfinite(each[0])]
    alike = all(NONE_OF_IT <= each <= ALL_OF_IT for each in shown)
    sound = all(abs(share) < NONE_OF_IT and having <= FEW for share, having in known)
    enough = mine.sum() >= fewest and len(have) > 0 and (whole or len(found.lines) > 1)
    if not (alike and sound and enough):
        return None
    proven = bool(known) and len(have) > 1
    return Missed(rows=rows, found=found, sessions=have, mine=mine, whole=whole, proven=proven, others=len(known) > 0)


def _share(rows: pd.DataFrame, expected: np.ndarray, mine: np.ndarray) -> tuple[float, float]:
    """What `share_of` says of some rows: of those that would show half of the shift and more."""
    size = np.abs(expected)
    at = np.flatnonzero(mine & (size >= size.max() / 2))
    if len(at) < SOME:
        return np.nan, np.nan
    return share_of(rows["deviation"].to_numpy(float)[at], expected[at])


def nearer_limit(rows: pd.DataFrame, limits: pd.DataFrame) -> pd.DataFrame:
    """Rows of `with_limits` with the nearer side of their narrowest limit in `limit`, and its place in `place`."""
    bounds = np.append(limits[["lower", "upper"]].abs().replace(np.inf, np.nan).min(axis=1).to_numpy(float), np.nan)
    made = rows.assign(place=rows["limit"], limit=bounds[rows["limit"].to_numpy()])
    made = made[made["limit"] > 0].sort_values(["row", "limit"], kind="stable").drop_duplicates("row")
    return made.reset_index(drop=True).assign(line=lambda each: pd.factorize(each["subject"], sort=True)[0])


def without_older_lines(layers: Layers, shots: pd.DataFrame, shift: np.ndarray) -> Layers:
    """Layers without the matches of a design that is older, or in the other foot: they show no survey blunder.

    Parameters
    ----------
    layers : Layers
    shots : DataFrame, n rows
    shift : (n, 3) array
        Of every shot, already explained.
    """
    if "line_matches" not in layers or "limits" not in layers:
        return layers
    older, read = files_older(layers), units_read(layers)
    if not older and not read:
        return layers
    lost: set[str] = set()
    misread: set[str] = set()
    # elevations tell of an older design alone, and no unit in plan
    for check, axis in ((OFFSET, "h"), (ELEVATION, "v"))[: 2 if older else 1]:
        rows = asked(with_limits(_as_matched(layers, shots, shift, axis), layers["limits"], check=check))
        rows = nearer_limit(rows, layers["limits"])
        if axis == "h":
            misread = {each.file for each in other_foot(rows, read, layers.frame.unit)}
        for file in sorted(older):
            seen = missed_together(rows, file)
            lost |= set(rows["subject"][seen.mine]) if seen is not None and seen.proven else set()
    kept = {}
    for name, table, key in (("line_matches", "design_lines", "line"), ("point_matches", "design_points", "point")):
        if name not in layers or table not in layers:
            continue
        drawn = layers[table]
        gone = set(drawn.loc[drawn["source"].isin(sorted(misread)), key]) | (lost if key == "line" else set())
        if gone:
            matches = layers[name]
            kept[name] = matches[~matches["design"].isin(sorted(gone))].reset_index(drop=True)
    return layers.instead(kept) if kept else layers


def _as_matched(layers: Layers, shots: pd.DataFrame, shift: np.ndarray, axis: str) -> pd.DataFrame:
    """Offsets or elevations of shots beside their lines, before anything is known of their use."""
    lines, matches = layers["design_lines"], layers["line_matches"]
    matches = matches[matches["chosen"] & (matches["along"].abs() < 1e-6)].reset_index(drop=True)
    row, of = rows_of(matches["shot_key"], shots["shot_key"]), rows_of(matches["design"], lines["line"])
    azimuth, moved = matches["azimuth"].to_numpy(float), shift[row]
    if axis == "h":
        number = matches["offset"].to_numpy(float) - (to_the_right(azimuth) * moved[:, :2]).sum(axis=1)
    else:
        number = shots["elevation"].to_numpy(float)[row] - matches["design_elevation"].to_numpy(float) - moved[:, 2]
    made = pd.DataFrame(
        {
            "row": row, "subject": matches["design"],
            "kind": taken(lines["kind"], of), "source": taken(lines["source"], of), "deviation": number,
            "session": sessions_of(shots).to_numpy(dtype=object)[row],
            "u_common": shots[f"u_{axis}_common"].to_numpy(float)[row],
            "u_random": shots[f"u_{axis}_random"].to_numpy(float)[row],
            "azimuth": azimuth if axis == "h" else np.nan, "radial": False,
            "easting": shots["easting"].to_numpy(float)[row] - moved[:, 0],
            "northing": shots["northing"].to_numpy(float)[row] - moved[:, 1],
        }
    )  # fmt: skip
    return made[made[["deviation", "u_common", "u_random"]].notna().all(axis=1)].reset_index(drop=True)
