"""asbuilt.xml: LandXML 1.2 with the shots as points, as-built lines with their arcs as plan features, surfaces.

Coordinates are those of the job's frame, northing first, in its own foot, and every number reads back as it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar
from xml.sax.saxutils import quoteattr

from geoqa.errors import OutputError
from geoqa.model.format import Format
from geoqa.model.frame import Frame
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.model.tables.in_rows import in_rows
from geoqa.model.tables.shot_flags import once
from geoqa.model.words import CERTIFICATION
from geoqa.write.about import geoqa_version, review
from geoqa.write.dates import job_day
from geoqa.write.readback import opening_again
from geoqa.write.rows import Row
from geoqa.write.text import one_line

if TYPE_CHECKING:
    import pandas as pd

    Place = tuple[float, float, float]
    AsBuilt = tuple[str, str, list["Part"]]
    """Name and kind of a line, and its parts."""

FILE = "asbuilt.xml"
NAMESPACE = "http://www.landxml.org/schema/LandXML-1.2"
_IMPERIAL = (
    '<Imperial areaUnit="squareFoot" linearUnit="{}" volumeUnit="cubicYard" temperatureUnit="fahrenheit" '
    'pressureUnit="inHG"/>'
)
_METRIC = (
    '<Metric areaUnit="squareMeter" linearUnit="meter" volumeUnit="cubicMeter" temperatureUnit="celsius" '
    'pressureUnit="milliBars"/>'
)
UNITS = {"ft": _IMPERIAL.format("foot"), "ftUS": _IMPERIAL.format("USSurveyFoot"), "m": _METRIC}
_SURFACES = (("surface_points", "surface_faces"), ("asbuilt_surface_points", "asbuilt_surface_faces"))
"""Layers of surfaces: as designed, and as built."""
_SPACE = f"{{{NAMESPACE}}}"
_ROWS_AT_ONCE = 50_000


@dataclass(frozen=True)
class Part:
    """A straight part of a line, its two ends; or a curve: start, centre, end, and what is said of it."""

    places: tuple[Place, ...]
    curve: dict[str, str] | None = None


class LandXML(Output):
    """Points, as-built lines, and surfaces as designed and as built, as LandXML 1.2."""

    format: ClassVar[Format | None] = Format(
        title="LandXML 1.2: shots, lines of the crew, surfaces",
        keeps="every coordinate as it is, names, codes and notes, arcs of as-built lines",
        loses="verdicts, limits and uncertainty: the format has no place for them",
    )

    name: ClassVar[str] = "landxml"

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write ``asbuilt.xml`` into `folder`."""
        with Path(folder, FILE).open("w", encoding="utf-8", newline="\n") as file:
            for text in _document(results):
                file.write(text)
        return (FILE,)

    @opening_again
    def read_back(self, results: Results, folder: Path) -> dict[str, Any]:
        """Open the file again: unit, and every point, line and surface where it was."""
        wanted = {
            "unit": [results.layers.frame.unit.name],
            "points": [_text(place) for _, table in _groups(results) for place in _places(table)],
            "lines": [_text(place) for _, _, parts in _lines(results) for part in parts for place in part.places],
            "surface points": [_text(place) for _, points, _ in _surfaces(results) for place in _places(points)],
            "faces": [" ".join(map(str, face)) for _, _, faces in _surfaces(results) for face in _corners(faces)],
        }
        found = _opened(Path(folder, FILE))
        for what, texts in wanted.items():
            if found[what] != texts:
                raise OutputError(f"{FILE} gives back other {what} than were written; do not use it.")
        return {FILE: {what: len(texts) for what, texts in wanted.items() if what != "unit"}}


def _opened(path: Path) -> dict[str, list[str]]:
    from xml.etree.ElementTree import iterparse

    kinds = {
        "CgPoint": "points",
        "Start": "lines",
        "Center": "lines",
        "End": "lines",
        "P": "surface points",
        "F": "faces",
    }
    found: dict[str, list[str]] = {"unit": [], **{each: [] for each in kinds.values()}}
    named = {"foot": "ft", "USSurveyFoot": "ftUS", "meter": "m"}
    for _, element in iterparse(path):
        own = element.tag.removeprefix(_SPACE)
        if own in kinds:
            found[kinds[own]].append(element.text or "")
        elif own in ("Imperial", "Metric"):
            found["unit"].append(named[element.get("linearUnit", "")])
        element.clear()
    return found


def _document(results: Results) -> Iterator[str]:
    frame, title = results.layers.frame, results.title
    yield (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<LandXML xmlns="{NAMESPACE}" version="1.2" '
        f'date="{job_day(results).isoformat()}" time="00:00:00" readOnly="false">\n'
        f"<Units>{UNITS[frame.unit.name]}</Units>\n"
    )
    yield f"<CoordinateSystem{_attributes(_system(frame))}/>\n"
    said = one_line(f"{review(title)}. {CERTIFICATION}")
    yield f"<Project{_attributes({'name': title.name, 'desc': said})}/>\n"
    yield f"<Application{_attributes({'name': 'geoqa', 'version': geoqa_version()})}/>\n"
    for name, table in _groups(results):
        if len(table):
            yield from _points(name, table)
    lines = list(_lines(results))
    if lines:
        yield '<PlanFeatures name="as-built lines" state="existing">\n'
        for name, kind, parts in lines:
            yield f"<PlanFeature{_attributes({'name': name, 'desc': kind})}><CoordGeom>\n"
            yield from map(_written, parts)
            yield "</CoordGeom></PlanFeature>\n"
        yield "</PlanFeatures>\n"
    yield from _surface_elements(results)
    yield "</LandXML>\n"


def _system(frame: Frame) -> dict[str, str]:
    authority, _, code = frame.horizontal.partition(":")
    return {
        "desc": frame.describe(),
        "epsgCode": code if authority == "EPSG" else "",
        "horizontalCoordinateSystemName": frame.horizontal_name,
        "verticalDatum": frame.vertical_name or "",
    }


def _groups(results: Results) -> list[tuple[str, pd.DataFrame]]:
    """Shots that have a place: those in use, and those that are flagged out."""
    shots = once(results.shots)
    shots = shots[shots["easting"].notna() & shots["northing"].notna()].sort_values("shot_key", kind="stable")
    used = shots["use"].to_numpy(bool) if "use" in shots else shots["shot_key"].notna().to_numpy(bool)
    return [("shots", shots[used]), ("shots flagged out", shots[~used])]


def _points(group: str, table: pd.DataFrame) -> Iterator[str]:
    yield f'<CgPoints{_attributes({"name": group})} state="existing">\n'
    names = _names(table)
    for start in range(0, len(table), _ROWS_AT_ONCE):
        part = table.iloc[start : start + _ROWS_AT_ONCE]
        columns = names[start : start + _ROWS_AT_ONCE], part["code"], part["note"]
        for name, code, note, place in zip(*columns, _places(part), strict=True):
            said = {"name": name, "code": _or_none(code), "desc": _or_none(note)}
            yield f"<CgPoint{_attributes(said)}>{_text(place)}</CgPoint>\n"
    yield "</CgPoints>\n"


def _names(table: pd.DataFrame) -> list[str]:
    """The crew's own names; the key where a name stands twice or is none."""
    twice = table["shot"].duplicated(keep=False) | table["shot"].isna()
    return [key if again else name for key, name, again in zip(table["shot_key"], table["shot"], twice, strict=True)]


def _lines(results: Results) -> Iterator[AsBuilt]:
    """As-built lines, by name; none where the step that makes them did not run."""
    layers = results.layers
    if "asbuilt_elements" not in layers:
        return
    lines = layers["asbuilt_lines"]
    kinds = dict(zip(lines["line"], lines["kind"].fillna(""), strict=True))
    ordered = layers["asbuilt_elements"].sort_values(["line", "sequence"], kind="stable")
    for name, rows in ordered.groupby("line", sort=True):
        yield str(name), str(kinds[name]), [_part(row) for row in in_rows(rows)]


def _part(row: Row) -> Part:
    start, end = (
        (row[f"{at}_easting"], row[f"{at}_northing"], row[f"{at}_elevation"]) for at in ("start", "end")
    )  # fmt: skip
    if row["shape"] != "arc":
        return Part((start, end))
    centre = row["centre_easting"], row["centre_northing"], float("nan")
    said = {"rot": "cw" if row["sense"] > 0 else "ccw", "crvType": "arc", "radius": repr(row["radius"])}
    return Part((start, centre, end), said | {"length": repr(row["length"])})


def _written(part: Part) -> str:
    if part.curve is None:
        return f"<Line><Start>{_text(part.places[0])}</Start><End>{_text(part.places[1])}</End></Line>\n"
    start, centre, end = map(_text, part.places)
    inside = f"<Start>{start}</Start><Center>{centre}</Center><End>{end}</End>"
    return f"<Curve{_attributes(part.curve)}>{inside}</Curve>\n"


def _surfaces(results: Results) -> Iterator[tuple[str, pd.DataFrame, pd.DataFrame]]:
    layers = results.layers
    found = []
    for points, faces in _SURFACES:
        if points not in layers or faces not in layers:
            continue
        corners = dict(iter(layers[faces].groupby(["source", "surface"], sort=True)))
        for (source, surface), mine in layers[points].groupby(["source", "surface"], sort=True):
            found.append((source, surface, mine, corners[source, surface]))
    names = [surface for _, surface, _, _ in found]
    for source, surface, mine, own in found:
        name = surface if names.count(surface) == 1 else f"{source} {surface}"
        own = own.sort_values(["first", "second", "third"], kind="stable")
        yield name, mine.sort_values("point", kind="stable"), own


def _corners(faces: pd.DataFrame) -> Iterator[tuple[int, ...]]:
    """Corners by the ids that are written, which count from 1."""
    yield from map(tuple, (faces[["first", "second", "third"]].to_numpy() + 1).tolist())


def _surface_elements(results: Results) -> Iterator[str]:
    begun = False
    for name, points, faces in _surfaces(results):
        if not begun:
            yield "<Surfaces>\n"
            begun = True
        yield f'<Surface{_attributes({"name": name})}><Definition surfType="TIN"><Pnts>\n'
        for at, place in enumerate(_places(points), start=1):
            yield f'<P id="{at}">{_text(place)}</P>\n'
        yield "</Pnts><Faces>\n"
        for face in _corners(faces):
            yield f"<F>{' '.join(map(str, face))}</F>\n"
        yield "</Faces></Definition></Surface>\n"
    if begun:
        yield "</Surfaces>\n"


def _places(table: pd.DataFrame) -> Iterable[Place]:
    columns = (table[each].to_numpy(float).tolist() for each in ("easting", "northing", "elevation"))
    return zip(*columns, strict=True)


def _text(place: Place) -> str:
    """Northing, easting and, where there is one, elevation; each the shortest that reads back as it is."""
    easting, northing, elevation = place
    return f"{northing!r} {easting!r} {elevation!r}" if elevation == elevation else f"{northing!r} {easting!r}"


def _attributes(said: dict[str, str]) -> str:
    return "".join(f" {key}={quoteattr(one_line(text))}" for key, text in said.items() if text)


def _or_none(value: object) -> str:
    return "" if value is None or value != value else str(value)
