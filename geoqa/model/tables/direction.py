"""Which way a deviation in plan points: the compass beside the side of a line, north and east for a point."""

from typing import TYPE_CHECKING, Any

from geoqa.model import words

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


def compass(azimuth: float) -> str:
    """Name of one of eight directions.

    Examples
    --------
    >>> compass(0.0), compass(95.0), compass(-44.0)
    ('north', 'east', 'north-west')
    """
    return COMPASS[round(azimuth / 45.0) % 8]


def north_east(north: float, east: float, unit: str) -> str:
    """Parts of a distance in plan, in the job's unit.

    Examples
    --------
    >>> north_east(0.1004, -2.0, "ft")
    'dN +0.10, dE -2.00'
    """
    digits = words.decimals("length", unit) - 1
    return ", ".join(
        f"{name} {words.number(value, digits, signed=True)}" for name, value in (("dN", north), ("dE", east))
    )


def toward(layers: Any, findings: Any, *, among: Any = None) -> "pd.Series":
    """Which way the deviation of each finding points, in words.

    Parameters
    ----------
    layers : Layers
        With `line_matches`, `point_matches`, `control`, as far as they are there.
    findings : DataFrame, n rows
    among : DataFrame, optional
        All findings of the job, where `findings` are some of them: a run points where its first member does.

    Returns
    -------
    (n,) Series of str
        A direction of the compass for a number to the side of a line, north and east for a distance from a point;
        empty where there is neither.
    """
    import numpy as np
    import pandas as pd

    told = np.full(len(findings), "", dtype=object)
    if not len(findings):
        return pd.Series(told, index=findings.index, dtype="str")
    size, unit = findings["deviation"].to_numpy(float), layers.frame.unit.name
    for check, matches in (("offset", "line_matches"), ("position", "point_matches")):
        points = (findings["check"] == check).to_numpy(bool) & np.isfinite(size) & (size != 0)
        if check == "position" and "why" in findings:  # told without the blunder, which took the shot to another side
            points &= (findings["why"] != "out-both-ways").to_numpy(bool)
        rows = np.flatnonzero(points)
        mine = findings.iloc[rows]
        shot = _shots_of(mine, findings if among is None else among)
        for row, azimuth in zip(rows.tolist(), _azimuths(layers, matches, shot, mine["subject"]), strict=True):
            if not np.isfinite(azimuth):
                continue
            if check == "offset":
                told[row] = f"{compass(azimuth + (90.0 if size[row] > 0 else -90.0))} side"
            else:
                angle = np.radians(azimuth)
                told[row] = north_east(size[row] * np.cos(angle), size[row] * np.sin(angle), unit)
    for place, north, east in _off_marks(layers, findings):
        told[place] = north_east(north, east, unit)
    return pd.Series(told, index=findings.index, dtype="str")


FEW = 10_000
"""Findings of a job: of fewer it is found out once for all where they point; of many it is asked for some alone."""


def ways(layers: Any, findings: Any) -> "pd.Series":
    """As `toward`, of rows of the layer `findings`, for all who tell of them.

    Parameters
    ----------
    layers : Layers
    findings : DataFrame, n rows
        Rows of ``layers["findings"]``.

    Returns
    -------
    (n,) Series of str
    """
    import pandas as pd

    every = layers["findings"]
    if len(every) >= FEW:
        return toward(layers, findings, among=every)

    def made() -> dict[str, str]:
        return dict(zip(every["finding"].tolist(), toward(layers, every).tolist(), strict=True))

    known = layers.derived("where findings point", ("findings", "line_matches", "point_matches", "control"), made)
    told = [known[each] for each in findings["finding"].tolist()]
    return pd.Series(told, index=findings.index, dtype="str")


def _shots_of(findings: Any, among: Any) -> "pd.Series":
    """Shot of each finding; that of its first member for a run."""
    shot = findings["shot"].astype(object)
    runs = findings.loc[shot.isna(), "finding"]
    if not len(runs) or "run" not in among:
        return shot
    members = among[among["run"].isin(runs)].drop_duplicates("run").set_index("run")["shot"].astype(object)
    return shot.where(shot.notna(), findings["finding"].map(members))


def _azimuths(layers: Any, table: str, shot: "pd.Series", design: "pd.Series") -> "np.ndarray":
    """Azimuth of the chosen match of each finding's shot with its design; NaN without one."""
    import numpy as np
    import pandas as pd

    if not len(shot) or table not in layers or not len(layers[table]):
        return np.full(len(shot), np.nan)
    matches = layers[table]
    matches = matches[matches["shot_key"].isin(shot) & matches["chosen"]].drop_duplicates(["shot_key", "design"])
    wanted = pd.DataFrame({"shot_key": shot.to_numpy(object), "design": design.to_numpy(object)})
    known = pd.DataFrame({name: matches[name].to_numpy(object) for name in ("shot_key", "design")})
    known["azimuth"] = matches["azimuth"].to_numpy(float)
    return wanted.merge(known, on=["shot_key", "design"], how="left")["azimuth"].to_numpy(float)


def _off_marks(layers: Any, findings: Any) -> list[tuple[int, float, float]]:
    """Rows of checks in plan with how far north and east of its mark each shot lies."""
    import numpy as np

    mine = np.flatnonzero((findings["check"] == "control-position").to_numpy(bool))
    if not len(mine) or "control" not in layers:
        return []
    rows, marks = findings.iloc[mine], layers["control"].drop_duplicates("mark").set_index("mark")
    off = {
        axis: rows[axis].to_numpy(float) - rows["subject"].map(marks[axis]).to_numpy(float)
        for axis in ("northing", "easting")
    }
    there = np.isfinite(off["northing"] + off["easting"])
    return [
        (int(row), float(north), float(east))
        for row, north, east, known in zip(mine, off["northing"], off["easting"], there, strict=True)
        if known
    ]
