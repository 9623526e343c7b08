"""What a worker does with a file or a part of a very large job; every answer is kept on disk before it is given."""

import os
import shutil
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa.batch.cut.apart import Seen, cells_of
from geoqa.batch.cut.kept import LIST, read_tables, write_tables
from geoqa.job.discreet import discreet
from geoqa.job.execute import in_order, refuse_undeclared
from geoqa.job.inputs.intake import take_in_files
from geoqa.job.inputs.named_files import job_files, read_frame
from geoqa.job.inputs.unframed import load_framed
from geoqa.job.workplace import new_workplace
from geoqa.model.frame import Frame
from geoqa.model.step import Step
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers, placed

if TYPE_CHECKING:
    import pandas as pd

FILES, BASE, WHOLE, START, DESIGN = "files", "base", "whole", "start", "design"
"""Folders of the work: each file as read, what is no shot, steps of the whole job; in a part, its shots and design."""
MOST_ROWS = 100_000
"""Rows of a group of a file: a reader takes only the groups it needs."""
BESIDE = ("control", "codes")
"""Files that say how a description of a shot is read."""


@dataclass(frozen=True, kw_only=True)
class Place:
    """A part of a job, and what has been done with it.

    Attributes
    ----------
    work : str
        Folder of the work.
    name : str
        Of the part, and of its folder.
    frame : Frame
    steps : tuple of Step
        Every step of the job in its order.
    """

    work: str
    name: str
    frame: Frame
    steps: tuple[Step, ...]

    def of(self, number: int) -> Path:
        """Folder of what a step made of the part."""
        return folder_of(Path(self.work) / self.name, number, self.steps[number])

    def layers(self, done: int) -> Layers:
        """The layers of the part after so many steps."""
        own = read_tables(Path(self.work) / self.name / DESIGN, self.frame)
        own |= read_tables(Path(self.work) / self.name / START, self.frame)
        base = read_tables(Path(self.work) / BASE, self.frame, not_of=own)
        layers = Layers(base | own, frame=self.frame)
        for number in range(done):
            layers = layers.after(self.steps[number], read_tables(self.of(number), self.frame))
        return layers


def folder_of(place: Path, number: int, step: Step) -> Path:
    """Folder of what a step made."""
    return place / f"{number:03d}-{step.name}"


def look(job: str, work: str, source: str, reach: float) -> dict[str, Any]:
    """Read one file of shots into the job's frame and keep it.

    Returns
    -------
    dict
        `seen`, what may hold it together with others, and `left_out`, rows that could not be read.
    """
    loaded = load_framed(job)
    files, frame = job_files(loaded), read_frame(loaded)
    mine = tuple(
        each for each in files.tables if each.role in BESIDE or (each.role == "shots" and each.source == source)
    )
    intake = take_in_files(loaded, frame, replace(files, tables=mine, background=None))
    shots, sources = intake.layers["shots"], intake.layers["sources"]
    own = sources[sources["role"] == "shots"].reset_index(drop=True)
    write_tables({"shots": shots, "sources": own}, Path(work) / FILES / source)
    side = reach * 0.3048 / frame.unit.metres_float
    places = shots[["easting", "northing"]].to_numpy(float)
    seen = Seen(source=source, shots=len(shots), cells=cells_of(places, side), names=_names(shots))
    return {"seen": seen, "left_out": len(intake.left_out)}


def _names(shots: "pd.DataFrame") -> frozenset[str]:
    """Sessions and strings, each with a word that tells them apart; check shots of a mark are no string."""
    sessions = {f"session {each}" for each in shots["session"].dropna().unique()}
    lines = shots[["code", "line_id"]].dropna().drop_duplicates()
    strings = {
        f"string {code.strip()} {line.strip()}" for code, line in zip(lines["code"], lines["line_id"], strict=True)
    }
    return frozenset(sessions | strings)


def begin(place: Place, sources: Sequence[str]) -> dict[str, Any]:
    """Put the shots of a part together, of the files that were read before."""
    import pandas as pd

    files = Path(place.work) / FILES
    tables = [read_tables(files / each, place.frame, ["shots"], without=["geometry"])["shots"] for each in sources]
    whole = pd.concat(tables, ignore_index=True) if len(tables) > 1 else tables[0]
    write_tables({"shots": placed("shots", whole, place.frame)}, Path(place.work) / place.name / START)
    return {}


def run_alone(place: Place, first: int, last: int) -> dict[str, Any]:
    """Run steps that need no more than their part, from the first up to but without the last.

    Returns
    -------
    dict
        `noted`, numbers of the steps that made notes: what they count is of their part only.
    """
    noted, layers = [], None
    for number in range(first, last):
        step = place.steps[number]
        if (place.of(number) / LIST).is_file():
            made = read_tables(place.of(number), place.frame)
        else:
            layers = place.layers(number) if layers is None else layers
            made = dict(step.run(layers))
            refuse_undeclared(step, made)
            write_tables(made, place.of(number))
        layers = None if layers is None else layers.after(step, made)
        if "notes" in step.adds and len(made["notes"]):
            noted.append(number)
    return {"noted": noted}


def deliver_part(place: Place, folder: str, given: Sequence[str], personal: bool) -> dict[str, Any]:
    """Write the tables of a part, those that lie somewhere as GeoParquet.

    Returns
    -------
    dict
        `tally`, how many findings there are of each check, kind and verdict, and `shots`.
    """
    layers = in_order(place.layers(len(place.steps)))
    names = [each for each in layers if each in given]
    return {"tally": written(layers, Path(folder) / place.name, names, personal), "shots": len(layers["shots"])}


def written(layers: Layers, folder: Path, names: Sequence[str], personal: bool) -> list[Any]:
    """Write tables into a folder, which is made; how many findings there are of each check, kind and verdict."""
    kept = {name: layers[name] for name in names}
    if not personal:
        hidden = discreet(Layers({"shots": empty("shots")} | kept, frame=layers.frame))
        kept = {name: hidden[name] for name in names}
    folder.parent.mkdir(parents=True, exist_ok=True)
    made = new_workplace(folder.parent)
    try:
        for name, table in kept.items():
            lies = "geometry" in table.columns and table["geometry"].dtype == "geometry"
            more = {"schema_version": "1.1.0", "write_covering_bbox": True} if lies else {}
            path = made / f"{name}.parquet"
            table.to_parquet(path, index=False, compression="zstd", row_group_size=MOST_ROWS, **more)
        os.chmod(made, 0o755)
        shutil.rmtree(folder, ignore_errors=True)
        os.rename(made, folder)
    finally:
        shutil.rmtree(made, ignore_errors=True)
    counts = kept["findings"].groupby(["check", "kind", "verdict"], sort=True, dropna=False).size()
    return [[*map(str, key), int(count)] for key, count in counts.items()]
