"""The centre line of a folder: an alignment with a profile that stands in one of its files of elements."""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from geoqa import plugins
from geoqa.errors import GeoqaError
from geoqa.job.begin.comment import one_line
from geoqa.job.begin.listing import Found
from geoqa.job.document.quoted import quoted
from geoqa.model.words import many, station

if TYPE_CHECKING:
    import pandas as pd


def baseline_of(found: Iterable[Found]) -> list[str]:
    """The table of the baseline: of the one alignment that has a profile; a comment where there are several.

    An alignment without a profile is read as a design line, and none is chosen to count stations by.
    """
    told: list[tuple[Found, str, str]] = []
    troubles: list[str] = []
    for file in found:
        names = [row[1] for row in file.peek.rows if row[:1] == ("Alignment",)]
        if file.role == "design" and names and _reader(file.path) in plugins.declared("readers"):
            for name in names:
                try:
                    tables = plugins.load("readers", _reader(file.path))(name=name).read(file.path, source="").layers
                except GeoqaError as error:
                    troubles.append(one_line(error))
                    continue
                if "baseline_profile" in tables:
                    told.append((file, name, _reach(tables["baseline"])))
    lines = list(_table(told, troubles))
    return ["\n".join(lines)] if lines else []


def _reader(path: Path) -> str:
    return f"baseline.{path.suffix.lower().removeprefix('.')}"


def _reach(pieces: "pd.DataFrame") -> str:
    first, last = pieces.iloc[0], pieces.iloc[-1]
    return f"{station(first['start_station'])} to {station(last['start_station'] + last['stationed'])}"


def _table(told: list[tuple[Found, str, str]], troubles: list[str]) -> Iterator[str]:
    if len(told) == 1 and not troubles:
        [(file, name, reach)] = told
        yield from ("[baseline]", f"file = {quoted(file.shown)}")
        yield f"# its one alignment with a profile: {quoted(one_line(name))}, {reach}; stations are counted along it"
        if sum(row[:1] == ("Alignment",) for row in file.peek.rows) > 1:
            yield f"name = {quoted(name)}"
        return
    if not told and not troubles:
        return
    yield f"# {many(len(told), 'alignment')} with a profile; stations are counted along one of them, taken in by:"
    yield "# [baseline]"
    for file, name, reach in told:
        yield f"# file = {quoted(file.shown)}   name = {quoted(one_line(name))}: {reach}"
    yield from (f"# cannot be read: {each}" for each in troubles)
