"""What a worker does with a file or a part of a very large job; every answer is kept on disk before it is given."""

import os
import shutil
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from geoqa.batch.cut.apart import Seen, cells_of
from geoqa.batch.cut.kept import LIST, names_of, read_tables, write_tables
from geoqa.job.discreet import discreet
from geoqa.job.document.load import LoadedJob
from geoqa.job.execute import in_order, made_by
from geoqa.job.inputs.intake import take_in_files
from geoqa.job.inputs.named_files import JobFiles, job_files, read_frame
from geoqa.job.inputs.unframed import load_framed
from geoqa.job.workplace import new_workplace
from geoqa.model.frame import Frame
from geoqa.model.step import Step
from geoqa.model.tables.columns import STARTING, empty
from geoqa.model.tables.layer import Declaration, Layers, placed

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

    def layers(self, done: int) -> "OfPart":
        """The layers of the part after so many steps; a table is read when it is asked for."""
        own, part = Path(self.work) / BASE, Path(self.work) / self.name
        first = dict.fromkeys(names_of(own), own)
        first |= {name: part / folder for folder in (DESIGN, START) for name in names_of(part / folder)}
        given = [name for step in self.steps[:done] for name in step.gives]

        def read(name: str) -> Any:
            layers = Layers(read_tables(first[name], self.frame, [name]) if name in first else {}, frame=self.frame)
            for number, step in enumerate(self.steps[:done]):
                if of := only(step, name):
                    layers = layers.after(of, read_tables(self.of(number), self.frame, [name]))
            return layers[name]

        return OfPart(Asked([*first, *STARTING, *given], read), frame=self.frame)


def only(step: Step, name: str) -> Any:
    """A step as if it made something of one table alone; None where it makes nothing of it."""
    more = tuple(each for each in step.extends if each.partition(".")[0] == name)
    gives, adds = (tuple(each for each in of if each == name) for of in (step.gives, step.adds))
    made = {"name": step.name, "gives": gives, "extends": more, "adds": adds}
    return type("Only", (), made) if gives or adds or more else None


class OfPart(Layers):
    """Layers of a part: a step is asked for a few tables of many, and only these are read.

    Parameters
    ----------
    tables : mapping of str to DataFrame
    frame : Frame
    """

    def __init__(self, tables: "Mapping[str, pd.DataFrame]", *, frame: Frame) -> None:
        super().__init__({}, frame=frame)
        self._tables: Any = tables

    def after(self, step: Declaration, output: "Mapping[str, pd.DataFrame]") -> Self:
        """As for any layers; of the other tables none is read for it."""
        if not isinstance(self._tables, Asked):
            return super().after(step, output)
        old = {each.partition(".")[0] for each in (*step.extends, *step.adds)} | {*step.gives}
        laid = Layers({name: self[name] for name in self if name in old}, frame=self.frame).after(step, output)
        layers = type(self)(self._tables.beside({name: laid[name] for name in output}), frame=self.frame)
        layers._derived = self._derived
        return layers


class Asked(Mapping[str, Any]):
    """Tables by name, each read once, when it is asked for."""

    def __init__(self, names: Iterable[str], read: Callable[[str], Any]) -> None:
        self._names, self._read, self._held = dict.fromkeys(names), read, dict[str, Any]()

    def beside(self, tables: Mapping[str, Any]) -> "Asked":
        """These, with tables in place of those of the same names or beside them."""
        made = Asked([*self._names, *tables], self._read)
        made._held = {**self._held, **tables}
        return made

    def __getitem__(self, name: str) -> Any:
        if name not in self._names:
            raise KeyError(name)
        if name not in self._held:
            self._held[name] = self._read(name)
        return self._held[name]

    def __contains__(self, name: object) -> bool:
        return name in self._names

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)


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
    loaded, files, frame = _opened(job, work)
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


@lru_cache(maxsize=1)
def _opened(job: str, work: str) -> tuple[LoadedJob, JobFiles, Frame]:
    """A job with its files: of thousands of files each takes as long to find as one to read. Work names what it is."""
    loaded = load_framed(job)
    return loaded, job_files(loaded), read_frame(loaded)


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
            made = dict(made_by(step, layers))
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
    whole = place.layers(len(place.steps))
    names = [each for each in whole if each in given]
    layers = in_order(Layers({name: whole[name] for name in names}, frame=place.frame))
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
