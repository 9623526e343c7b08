"""Write a simulated job as a folder: what the crew and the office hand over, one job file, and the truth."""

import json
from pathlib import Path
from typing import TYPE_CHECKING

from geoqa.errors import OutputError
from geoqa.simulate.crew.structure_notes import STRUCTURES_FILE
from geoqa.simulate.handed_over import codes_file, control_file, shots_file, write_csv, write_text
from geoqa.simulate.job_text import JOB_FILE, job_text, readme_text
from geoqa.simulate.picture import PICTURE_FILE, write_picture
from geoqa.simulate.site import scenario
from geoqa.simulate.site.centre_line import CENTRE_LINE_FILE, PROFILE_FILE, intersections, vertical_intersections
from geoqa.simulate.site.drawn_lines import drawn_lines
from geoqa.simulate.site.finished_surface import SURFACE_FILE, landxml
from geoqa.simulate.site.site import site_facts

if TYPE_CHECKING:
    import pandas as pd

    from geoqa.simulate.make import Simulated


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
        CENTRE_LINE_FILE,
        PROFILE_FILE,
        SURFACE_FILE,
        STRUCTURES_FILE,
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
        write_csv(shots_file(shots), folder / "shots" / f"{source}.csv")
    write_csv(control_file(simulated.tables["control"]), folder / "control.csv")
    write_csv(codes_file(simulated.tables["codes"]), folder / "codes.csv")
    write_csv(simulated.tables["screening"].drop(columns="source"), folder / "screening.csv")
    write_design(simulated, folder / "design.gpkg")
    write_csv(intersections(simulated.zone), folder / CENTRE_LINE_FILE)
    write_csv(vertical_intersections(), folder / PROFILE_FILE)
    write_text(landxml(simulated.zone, simulated.frame.horizontal_name), folder / SURFACE_FILE)
    write_csv(simulated.structures, folder / STRUCTURES_FILE)
    write_picture(simulated, folder / PICTURE_FILE)
    write_text(_truth_text(simulated), folder / "truth.json")
    write_text(readme_text(simulated), folder / "README.md")
    write_text(job_text(simulated), folder / JOB_FILE)
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


def write_design(simulated: "Simulated", path: Path) -> None:
    """Write lines and points as layers with elevations, and the elements as a table, into one GeoPackage."""
    import geopandas
    import pyogrio
    import shapely

    tables, crs = simulated.tables, simulated.frame.horizontal_wkt
    drawn = drawn_lines(tables["design_elements"])
    lines = tables["design_lines"].rename(columns={"line": "name"})
    points = tables["design_points"].rename(columns={"point": "name"})
    layers: dict[str, pd.DataFrame] = {
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
