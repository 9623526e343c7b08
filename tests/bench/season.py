"""A whole season of work as one job: as many shots as are asked for, for measuring how fast things go.

Streets run side by side, each with ten design lines of six kinds; a crew walks every line, opens and closes each
session on control, and now and then something is built or shot wrong. Everything is made in columns, so that a
million shots are written in seconds. There is no truth file: what is found here is not scored.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.simulate.crew.draws import stream
from geoqa.simulate.desk import codes
from geoqa.simulate.job_text import tolerances_text, uncertainties_text
from geoqa.simulate.site import scenario

if TYPE_CHECKING:
    import pandas as pd

SEASON_FILE = "season.toml"
CHORD, SPACING, PITCH = 25.0, 10.0, 200.0
"""Feet: between design vertices, between shots of a line, between streets."""
STREETS_OF_COLUMN, COLUMN = 1000, 5000.0
"""So many streets lie north of each other, then others beside them, feet apart: a long column leaves the zone."""
SHOTS_OF_LINE, SHOTS_OF_SESSION, SHOTS_OF_FILE = 400, 1000, 50_000
MARKS_OF_STREET, CHECKS = 6, 3
"""Marks of a street; check shots at each end of a session."""

SECTION = (
    *((kind, side * away, rise) for side in (-1.0, 1.0) for kind, (_, away, rise) in scenario.SECTION.items()),
    ("water-top", -9.0, -7.68),
    ("storm-top", 4.0, -5.0),
)
"""Kind, offset (right positive) and elevation above the centre line of the ten lines of a street."""
SHOTS_OF_STREET = SHOTS_OF_LINE * len(SECTION)
FOLDER_LINE = 'folder = "out"'
_AXES = ("easting", "northing", "elevation")
_NOTES = ("bipod, plumb, 180 epochs", "at joint", "form still on", "saw cut", "broom finish", "hedge 3 ft off", "bell")


def write_season(
    folder: str | Path, shots: int, *, seed: int = 1, outputs: str = "", rows_of_file: int | None = None
) -> Path:
    """Write a season of work into a folder, which is made if need be.

    Parameters
    ----------
    folder : str or Path
    shots : int
        Shots of features; a multiple of 4,000, which is one street. Check shots on control come on top.
    seed : int
        Another seed gives other noise.
    outputs : str
        Lines of the job file's table of outputs; all of the usual ones where it is left out.
    rows_of_file : int, optional
        Rows of a log; as many as 50,000 where it is left out, whatever street or session they cut.

    Returns
    -------
    Path
        The job file.
    """
    folder = Path(folder)
    (folder / "shots").mkdir(parents=True, exist_ok=True)
    streets = max(1, shots // SHOTS_OF_STREET)
    log = _log(streets, seed)
    rows = rows_of_file or SHOTS_OF_FILE
    files = -(-len(log) // rows)
    for number in range(files):
        part = log.iloc[number * rows : (number + 1) * rows]
        _csv(part, folder / "shots" / f"week{number + 1:02d}.csv")
    _csv(_control(streets), folder / "control.csv")
    _csv(codes(), folder / "codes.csv")
    _write_design(streets, folder / "design.gpkg")
    text = _job_text(files, outputs)
    (folder / SEASON_FILE).write_text(text, encoding="utf-8", newline="\n")
    return folder / SEASON_FILE


def _beside(street: Any, along: Any, offset: Any, above: Any) -> np.ndarray:
    """Places beside the winding middle of streets, shape (n, 3), in the zone of the demo."""
    zone = scenario.ZONES["EPSG:6547"]
    column, place = np.divmod(np.asarray(street), STREETS_OF_COLUMN)
    north = place * PITCH + 60.0 * np.sin(along / 600.0)
    rise = 1450.0 + 3.0 * np.sin(along / 500.0)
    right = np.arctan2(1.0, 0.1 * np.cos(along / 600.0)) + np.pi / 2
    east, north = column * COLUMN + along + offset * np.sin(right), north + offset * np.cos(right)
    return np.column_stack([zone.easting + east, zone.northing + north, rise + above])


def _log(streets: int, seed: int) -> "pd.DataFrame":
    """Every row of the log as it is written, in the order it was taken."""
    import pandas as pd

    plan = pd.concat([_features(streets, seed), _checks(streets)], ignore_index=True)
    plan = plan.sort_values("order", kind="stable", ignore_index=True)
    return _as_written(plan, _measured(plan, seed), seed)


def _features(streets: int, seed: int) -> "pd.DataFrame":
    """Shots of features, in order: where they truly are, and the azimuth of their chord."""
    import pandas as pd

    number = np.arange(streets * SHOTS_OF_STREET)
    line, nth = number // SHOTS_OF_LINE, number % SHOTS_OF_LINE
    along = SPACING * (nth + 1) + stream(seed, "season along").uniform(-2.0, 2.0, len(number))
    chord = np.floor(along / CHORD)
    offset, above = np.array([each[1:] for each in SECTION])[line % len(SECTION)].T
    start, end = (_beside(line // len(SECTION), (chord + step) * CHORD, offset, above) for step in (0.0, 1.0))
    place = start + (along / CHORD - chord)[:, None] * (end - start)
    kind = pd.Series(np.array([each for each, _, _ in SECTION], dtype=object)[line % len(SECTION)], dtype="str")
    return pd.DataFrame(
        {
            "order": number + 0.5,
            "kind": kind,
            "line_id": kind.map(scenario.CODE_OF) + "-" + pd.Series(line + 1).astype("str"),
            "sequence": pd.array(nth + 1, dtype="Int64"),
            "session": number // SHOTS_OF_SESSION,
            "azimuth": np.arctan2(*(end - start).T[:2]),
            **dict(zip(_AXES, place.T, strict=True)),
        }
    )


def _checks(streets: int) -> "pd.DataFrame":
    """Three check shots before and three after the shots of every session, on marks of its street."""
    import pandas as pd

    session = np.repeat(np.arange(streets * SHOTS_OF_STREET // SHOTS_OF_SESSION), 2 * CHECKS)
    nth = np.arange(len(session)) % (2 * CHECKS)
    street = session * SHOTS_OF_SESSION // SHOTS_OF_STREET
    mark = street * MARKS_OF_STREET + (nth + session) % MARKS_OF_STREET
    return pd.DataFrame(
        {
            "order": SHOTS_OF_SESSION * (session + nth // CHECKS) + 0.1 + 0.1 * (nth % CHECKS) - 0.4 * (nth // CHECKS),
            "kind": pd.Series(["control"] * len(mark), dtype="str"),
            "line_id": "CP-" + pd.Series(mark + 1).astype("str"),
            "session": session,
            "azimuth": 0.0,
            **dict(zip(_AXES, _marks(streets)[mark].T, strict=True)),
        }
    )


def _marks(streets: int) -> np.ndarray:
    """Places of the marks, shape (streets * MARKS_OF_STREET, 3)."""
    number = np.arange(streets * MARKS_OF_STREET)
    along = 20.0 + number % MARKS_OF_STREET * (SHOTS_OF_LINE * SPACING / MARKS_OF_STREET)
    return _beside(number // MARKS_OF_STREET, along, np.where(number % 2 == 0, 34.0, -32.0), 1.5).round(3)


def _measured(plan: "pd.DataFrame", seed: int) -> np.ndarray:
    """Coordinates as measured: noise, a bias in elevation of each session, and one feature in 200 built wrong."""
    draw, count = stream(seed, "season noise"), len(plan)
    noise = draw.normal(size=(count, 3)) * [scenario.U_HORIZONTAL, scenario.U_HORIZONTAL, scenario.U_VERTICAL]
    noise[:, 2] += scenario.U_SESSION * draw.normal(size=plan["session"].max() + 1)[plan["session"]]
    wrong = (draw.uniform(size=count) < 0.005) & (plan["kind"] != "control").to_numpy()
    aside = np.where(wrong, draw.choice([-0.4, 0.4], count), 0.0)
    right = plan["azimuth"].to_numpy() + np.pi / 2
    noise[:, 0] += aside * np.sin(right)
    noise[:, 1] += aside * np.cos(right)
    noise[:, 2] += np.where(wrong, draw.choice([-0.3, 0.0, 0.3], count), 0.0)
    return (plan[list(_AXES)].to_numpy() + noise).round(3)


def _as_written(plan: "pd.DataFrame", measured: np.ndarray, seed: int) -> "pd.DataFrame":
    """The columns of the log files: shots, and how each was measured."""
    import pandas as pd

    draw, count = stream(seed, "season log"), len(plan)
    session = plan["session"].to_numpy()
    check = (plan["kind"] == "control").to_numpy()
    within = np.arange(count) - np.searchsorted(session, session)
    day = pd.Timestamp(scenario.JOB_DATE, tz="UTC") - pd.Timedelta(days=int(session[-1]) // 2 + 1)
    seconds = session // 2 * 86400 + 46800 + session % 2 * 18000 + within * 12
    hdop, vdop = draw.uniform(0.55, 0.95, count).round(2), draw.uniform(0.90, 1.60, count).round(2)
    name = pd.Series(session).astype("str")
    spoken = np.where(check, 0, np.where(draw.uniform(size=count) < 0.12, draw.integers(1, len(_NOTES), count), -1))
    return pd.DataFrame(
        {
            "point": np.arange(count) + 1001,
            **{axis: pd.Series(measured[:, place]) for place, axis in enumerate(_AXES)},
            "code": plan["kind"].map(scenario.CODE_OF),
            "line_id": plan["line_id"],
            "sequence": plan["sequence"],
            "note": pd.Series(np.append(np.array(_NOTES, dtype=object), None)[spoken], dtype="str"),
            "time_utc": (day + pd.to_timedelta(seconds, unit="s")).strftime("%Y-%m-%dT%H:%M:%SZ"),
            "session": "S" + name,
            "initialization": "S" + name + "-" + pd.Series(within // 120 + 1).astype("str"),
            "solution": pd.Series(np.where(draw.uniform(size=count) < 0.001, "float", "fixed"), dtype="str"),
            "satellites": draw.integers(13, 25, count),
            "epochs": np.where(check, 180, 5),
            "pdop": np.hypot(hdop, vdop).round(2),
            "hdop": hdop,
            "vdop": vdop,
            "correction_age_s": draw.uniform(0.6, 1.9, count).round(1),
            "reported_h": (scenario.U_HORIZONTAL * np.sqrt(2) * draw.uniform(0.8, 1.15, count)).round(3),
            "reported_v": (0.028 * draw.uniform(0.8, 1.15, count)).round(3),
            "rod_height": np.full(count, 6.562),
            "tilt_deg": draw.uniform(0.0, 0.4, count).round(1),
            "tilt_azimuth_deg": draw.uniform(0.0, 359.9, count).round(1),
        }
    )


def _control(streets: int) -> "pd.DataFrame":
    import pandas as pd

    marks = _marks(streets)
    return pd.DataFrame(
        {
            "mark": [f"CP-{number + 1}" for number in range(len(marks))],
            **dict(zip(_AXES, marks.T, strict=True)),
            "u_h": scenario.CONTROL_U[0],
            "u_v": scenario.CONTROL_U[1],
            "held": "no",
            "independent": "no",
            "reference": "Season control sheet (invented)",
        }
    )


def _csv(table: "pd.DataFrame", path: Path) -> None:
    table.to_csv(path, index=False, encoding="utf-8", lineterminator="\n")


def _write_design(streets: int, path: Path) -> None:
    """Write every line with a vertex each `CHORD`, with elevations."""
    import geopandas
    import pyogrio
    import shapely

    vertices = np.arange(0.0, SHOTS_OF_LINE * SPACING + 2 * CHORD, CHORD)
    line = np.repeat(np.arange(streets * len(SECTION)), len(vertices))
    offset, above = np.array([each[1:] for each in SECTION])[line % len(SECTION)].T
    along = np.tile(vertices, streets * len(SECTION))
    shapes = shapely.linestrings(_beside(line // len(SECTION), along, offset, above), indices=line)
    kinds = [kind for _ in range(streets) for kind, _, _ in SECTION]
    names = [f"{scenario.CODE_OF[kind]}-{number + 1}" for number, kind in enumerate(kinds)]
    table = geopandas.GeoDataFrame({"name": names, "kind": kinds}, geometry=shapes, crs="EPSG:6547")
    path.unlink(missing_ok=True)
    pyogrio.write_dataframe(table, path, layer="lines", driver="GPKG")


def _job_text(files: int, outputs: str) -> str:
    parts = [
        f'[job]\nname = "Season of {files} files"\ndate = {scenario.JOB_DATE}\n',
        f'[frame]\nhorizontal = "EPSG:6547"\nvertical = "{scenario.VERTICAL}"\n',
    ]
    for number in range(1, files + 1):
        parts.append(f'[[shots]]\nfile = "shots/week{number:02d}.csv"\nunit = "ft"\nconfidence = "1 sigma"\n')
    for role in ("control", "codes"):
        parts.append(f'[{role}]\nfile = "{role}.csv"\n' + ('unit = "ft"\n' if role == "control" else ""))
    parts.append('[[design]]\nfile = "design.gpkg"\n')
    parts += [tolerances_text(finished=False), uncertainties_text(), f"[outputs]\n{outputs or FOLDER_LINE}\n"]
    return "\n".join(parts)
