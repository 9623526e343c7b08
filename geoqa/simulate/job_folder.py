"""Write a simulated job as a folder: what the crew and the office hand over, one job file, and the truth."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.errors import OutputError
from geoqa.simulate import scenario
from geoqa.simulate.job_text import job_text, readme_text
from geoqa.simulate.picture import PICTURE_FILE, write_picture
from geoqa.simulate.site import site_facts

if TYPE_CHECKING:
    import pandas as pd

    from geoqa.simulate.make import Simulated

JOB_FILE = "tannery_lane.toml"

_SHOTS = {
    "point": "shot",
    "easting": "raw_easting",
    "northing": "raw_northing",
    "elevation": "raw_elevation",
    "code": "code",
    "line_id": "line_id",
    "sequence": "sequence",
    "note": "note",
    "photo": "photo",
    "time_utc": "time",
    "session": "session",
    "initialization": "initialization",
    "solution": "solution",
    "satellites": "satellites",
    "epochs": "epochs",
    "pdop": "pdop",
    "hdop": "hdop",
    "vdop": "vdop",
    "correction_age_s": "correction_age",
    "reported_h": "reported_h",
    "reported_v": "reported_v",
    "rod_height": "rod_height",
    "tilt_deg": "tilt",
    "tilt_azimuth_deg": "tilt_azimuth",
}
"""Column of the file: column of the table."""


def write(simulated: "Simulated", folder: str | Path, *, over: bool = False) -> Path:
    """Write the job into a folder, which is made if need be.

    Parameters
    ----------
    simulated : Simulated
    folder : str or Path
    over : bool
        Write also over files that no earlier demo left there.

    Returns
    -------
    Path
        The job file.

    Raises
    ------
    OutputError
        The folder holds files of these names that are no earlier demo, or cannot be written to.
    """
    folder = Path(folder)
    if not over:
        _refuse_others(folder)
    try:
        return _written(simulated, folder)
    except OSError as error:
        raise OutputError(f"The folder {folder.name} cannot be written to: {error.strerror or error}.") from error


def _refuse_others(folder: Path) -> None:
    """Only an earlier demo is written over; somebody's own job never is."""
    if (folder / JOB_FILE).exists() and (folder / "truth.json").exists():
        return
    for name in (
        "control.csv",
        "codes.csv",
        "screening.csv",
        "design.gpkg",
        PICTURE_FILE,
        "truth.json",
        "README.md",
        JOB_FILE,
        "shots",
    ):
        if (folder / name).exists():
            raise OutputError(
                f"{name} is already in {folder.name or 'this folder'}, and no demo wrote it; name a new folder."
            )


def _written(simulated: "Simulated", folder: Path) -> Path:
    (folder / "shots").mkdir(parents=True, exist_ok=True)
    for source, shots in simulated.tables["shots"].groupby("source", sort=True):
        _write_shots(_written_shots(shots), folder / "shots" / f"{source}.csv", other="T22" in simulated.plants)
    _csv(_written_control(simulated.tables["control"]), folder / "control.csv")
    for name in ("codes", "screening"):
        _csv(simulated.tables[name], folder / f"{name}.csv")
    write_design(simulated, folder / "design.gpkg")
    write_picture(simulated, folder / PICTURE_FILE)
    _text(_truth_text(simulated), folder / "truth.json")
    _text(readme_text(simulated), folder / "README.md")
    _text(job_text(simulated), folder / JOB_FILE)
    return folder / JOB_FILE


def _truth_text(simulated: "Simulated") -> str:
    """The truth, with one line for each item and each shot."""
    told = simulated.truth.as_json()
    shots = told.pop("shots")
    items = told.pop("items")
    told["site"] = site_facts(simulated.frame, simulated.zone)
    head = json.dumps(told, indent=1, ensure_ascii=False, allow_nan=False).removesuffix("\n}")
    listed = ",\n  ".join(json.dumps(item, allow_nan=False) for item in items)
    rows = ",\n   ".join(json.dumps(row, allow_nan=False) for row in shots["rows"])
    columns = json.dumps(shots["columns"])
    table = f'{{\n  "columns": {columns},\n  "rows": [\n   {rows}\n  ]\n }}'
    return f'{head},\n "items": [\n  {listed}\n ],\n "shots": {table}\n}}\n'


def _text(text: str, path: Path) -> None:
    with path.open("w", encoding="utf-8", newline="\n") as stream:
        stream.write(text)


def _csv(table: "pd.DataFrame", path: Path) -> None:
    table.to_csv(path, index=False, encoding="utf-8", lineterminator="\n")


def _write_shots(shots: "pd.DataFrame", path: Path, *, other: bool) -> None:
    if not other:
        _csv(shots, path)
        return
    for name in ("easting", "northing", "elevation"):
        shots[name] = shots[name].str.replace(".", ",", regex=False)
    shots.to_csv(path, index=False, sep=";", decimal=",", encoding="cp1252", lineterminator="\n")


def _written_shots(shots: "pd.DataFrame") -> "pd.DataFrame":
    import pandas as pd

    written = pd.DataFrame({name: shots[column] for name, column in _SHOTS.items()})
    written["time_utc"] = shots["time"].dt.strftime("%Y-%m-%dT%H:%M:%SZ")
    return written


def _written_control(control: "pd.DataFrame") -> "pd.DataFrame":
    written = control.drop(columns="geometry", errors="ignore").copy()
    for name in ("easting", "northing", "elevation"):
        written[name] = [f"{value:.3f}" for value in written[name]]
    for name in ("held", "independent"):
        written[name] = np.where(written[name], "yes", "no")
    return written


def write_design(simulated: "Simulated", path: Path) -> None:
    """Write lines and points as layers with elevations, and the elements as a table, into one GeoPackage."""
    import geopandas
    import pyogrio
    import shapely

    tables, crs = simulated.tables, simulated.frame.horizontal_wkt
    drawn = drawn_lines(tables["design_elements"])
    lines = tables["design_lines"].rename(columns={"line": "name"})
    points = tables["design_points"].rename(columns={"point": "name"})
    layers: dict[str, Any] = {
        "lines": geopandas.GeoDataFrame(
            lines[["name", "kind"]], geometry=[drawn[name] for name in lines["name"]], crs=crs
        ),
        "points": geopandas.GeoDataFrame(
            points[["name", "kind"]],
            geometry=shapely.points(points[["easting", "northing", "elevation"]].to_numpy()),
            crs=crs,
        ),
        "elements": tables["design_elements"],
    }
    path.unlink(missing_ok=True)
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": f"{scenario.JOB_DATE}T00:00:00.000Z"})
    try:
        for name, table in layers.items():
            pyogrio.write_dataframe(table, path, layer=name, driver="GPKG")
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def drawn_lines(elements: "pd.DataFrame", *, chord: float = 5.0) -> dict[str, Any]:
    """Line strings with elevations for drawing; an arc becomes chords of at most `chord` feet."""
    import shapely

    starts = elements[["start_easting", "start_northing", "start_elevation"]].to_numpy(float)
    vertices: dict[str, list[np.ndarray]] = {}
    for start, row in zip(starts, elements.itertuples(), strict=True):
        vertices.setdefault(str(row.line), [start]).extend(_element_vertices(row, chord))
    return {name: shapely.linestrings(np.array(each)) for name, each in vertices.items()}


def _element_vertices(row: Any, chord: float) -> np.ndarray:
    """Vertices of one element after its first."""
    end = np.array([[row.end_easting, row.end_northing, row.end_elevation]])
    if row.shape == "line":
        return end
    pieces = int(np.ceil(row.length / chord))
    share = np.arange(1, pieces) / pieces
    centre = np.array([row.centre_easting, row.centre_northing])
    spoke = np.array([row.start_easting, row.start_northing]) - centre
    turn = row.sense * row.length / row.radius * share
    east = centre[0] + spoke[0] * np.cos(turn) + spoke[1] * np.sin(turn)
    north = centre[1] + spoke[1] * np.cos(turn) - spoke[0] * np.sin(turn)
    level = row.start_elevation + (row.end_elevation - row.start_elevation) * share
    return np.vstack([np.column_stack([east, north, level]), end])
