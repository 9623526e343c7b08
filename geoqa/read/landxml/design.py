"""Design lines, points and surfaces from LandXML."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, Literal

import numpy as np
from pydantic import Field

from geoqa.errors import SourceError
from geoqa.model.format import Format
from geoqa.model.source import Evidence, Peek, Reader, Source
from geoqa.model.words import many
from geoqa.read.landxml.alignment import alignment_of
from geoqa.read.landxml.contents import FIRST, Contents, by_state, contents, refuse_unknown_surfaces
from geoqa.read.landxml.coordgeom import drawn, parts, stretches
from geoqa.read.landxml.kinds import Kinds
from geoqa.read.landxml.pipes import network
from geoqa.read.landxml.stream import Node
from geoqa.read.landxml.surface import Surface
from geoqa.read.vector.linework import Drawn, Elevations, design_tables

if TYPE_CHECKING:
    import pandas as pd

State = Literal["proposed", "existing", "abandoned", "destroyed", "unstated"]


class DesignLandXML(Reader):
    """Design lines and points of LandXML 1.0, 1.1 or 1.2: plan features, alignments, pipe networks, points.

    Plan features and alignments without a profile are lines with their arcs; a spiral becomes arcs that leave it by
    less than 0.0001. Points are read where they have a code or the job gives them a kind.
    """

    format: ClassVar[Format | None] = Format(
        title="design of LandXML 1.0, 1.1 or 1.2",
        keeps="lines and arcs with elevations, points, pipes and structures, faces of surfaces",
        loses="spirals become arcs within 0.0001; sections, slopes and materials of pipes; breaklines",
    )
    role: ClassVar[str] = "design"

    kinds: dict[str, str] = Field(
        default_factory=dict,
        description='pattern on name, code or description = kind, * for anything; a kind of "" leaves out. Without '
        "it a kind is the code, the description if it is one word, or what the element is",
    )
    states: tuple[State, ...] = Field(("proposed", "unstated"), description="states of things that are design")
    surfaces: tuple[str, ...] = Field((), description="names of the surfaces to read")
    elevations: Elevations = Field(
        "auto", description="auto: Z of 0 everywhere means unknown; as-drawn: Z as it is; none: Z is not taken"
    )

    def peek(self, path: Path) -> Peek:
        """Look at what the file holds, its unit and its system."""
        held = contents(path, at_most=FIRST)
        rows = [
            (each.name, each.get("name"), each.get("code"), each.get("desc"))
            for name in ("Alignment", "PlanFeature", "PipeNetwork", "CgPoint")
            for each in held.of(name)[:5]
        ]
        rows += [("Surface", name, "", "") for name, _, _ in held.listed[:5]]
        return Peek(
            columns=("element", "name", "code", "desc"),
            rows=tuple(rows),
            layers=tuple(name for name, _, _ in held.listed),
            crs=held.crs,
            evidence=(Evidence(what="in the file", answer=held.words(), because="counted"), *held.evidence),
        )

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file.

        Raises
        ------
        SourceError
            The file is no sound LandXML, an element contradicts itself, two things have one name, or nothing in it
            is design.
        """
        held = contents(path, surfaces=self.surfaces)
        refuse_unknown_surfaces(held, self.surfaces)
        gathered = Drawn(file=held.path.name, evidence=list(held.evidence))
        kinds = Kinds(self.kinds)
        taking = _Taking(held, gathered, kinds, self.states)
        taking.everything()
        kinds.refuse_unused(held.path)
        _tell(held, gathered, kinds, self.surfaces)
        tables: dict[str, pd.DataFrame] = {}
        if gathered.lines or gathered.points or not held.surfaces:
            _refuse_nothing(held, gathered)
            tables = design_tables(gathered, source=source, elevations=self.elevations)
            tables["design_elements"] = _stationed(tables["design_elements"], taking.starts)
        if held.surfaces:
            tables |= surface_tables(held.surfaces, source=source)
        return Source(
            layers=tables,
            crs=held.crs,
            unit=held.unit,
            facts={"holds": held.words()},
            evidence=tuple(gathered.evidence),
            troubles=tuple(gathered.troubles),
        )


class _Taking:
    """Lines and points of a file, one element after the other."""

    def __init__(self, held: Contents, gathered: Drawn, kinds: Kinds, states: tuple[str, ...]) -> None:
        self.held, self.gathered, self.kinds, self.states = held, gathered, kinds, states
        self.starts: dict[str, float] = {}
        """Stations of the starts of lines that have one, by name."""

    def everything(self) -> None:
        """All that is design, in the order plan features, alignments, pipes, points."""
        for name, take in (
            ("PlanFeature", self._feature),
            ("Alignment", self._alignment),
            ("PipeNetwork", self._network),
            ("CgPoint", self._point),
        ):
            nodes, left = by_state(self.held.of(name), self.states)
            for node in nodes:
                take(node)
            for state, count in sorted(left.items()):
                because = f'states = ["{state}", …] in the job takes them'
                answer = f"{count} of state {state} left out"
                self.gathered.evidence.append(Evidence(what=name, answer=answer, because=because, first=True))

    def _feature(self, node: Node) -> None:
        kind = self.kinds.kind_of(node, "plan-feature")
        if kind:
            self._lines(node, kind)
            for place in node.all("Location"):
                self._add(self._name(node, kind), kind, place)

    def _alignment(self, node: Node) -> None:
        if any(each.all("ProfAlign") for each in node.all("Profile")):
            self._baseline(node)
            if node.get("name").casefold() not in self.kinds.patterns:
                return
        if kind := self.kinds.kind_of(node, "alignment"):
            self._lines(node, kind)
        if node.all("StaEquation"):
            because = "a design line counts on from staStart; state the alignment as baseline for its equations"
            answer = f"station equations of '{node.get('name')[:60]}' not used"
            self.gathered.evidence.append(Evidence(what="alignment", answer=answer, because=because))
        if node.all("Superelevation"):
            because = "superelevation is out of scope"
            answer = f"superelevation of '{node.get('name')[:60]}' not read"
            self.gathered.evidence.append(Evidence(what="alignment", answer=answer, because=because))

    def _baseline(self, node: Node) -> None:
        """Say what an alignment with a profile is, and whether it holds together; it is no design line."""
        because = (
            "it has a profile, so it is a baseline: [baseline] reads it; name it in kinds to have its plan as a line"
        )
        try:
            found = alignment_of(node, self.held.places)
            start, end = found.pieces[0].station, found.pieces[-1].station + found.pieces[-1].length
            answer = f"'{found.name[:60]}', {len(found.pieces)} elements, {start:.2f} to {end:.2f}; no design line"
        except SourceError as error:
            answer = f"{error} No design line"
        self.gathered.evidence.append(Evidence(what="alignment", answer=answer, because=because))

    def _lines(self, node: Node, kind: str) -> None:
        name, places = self._name(node, kind), self.held.places
        whole = [part for each in node.all("CoordGeom") for part in parts(stretches(each, places))]
        if not whole:
            self.gathered.trouble(node.line, node.name, name, "has no geometry; not read")
        spirals = sum(each.kind == "spiral" for part in whole for each in part)
        if spirals:
            because = "by arcs that leave them by less than 0.0001"
            self.gathered.evidence.append(Evidence(what=name, answer=f"{spirals} spirals", because=because))
        for number, part in enumerate(whole, start=1):
            vertices, bulges = drawn(part)
            own = f"{name}-{number}" if len(whole) > 1 else name
            if len(whole) == 1 and np.isfinite(start := places.number(node, "staStart")):
                self.starts[own] = start
            self.gathered.add_line(own, kind, vertices, number=part[0].line, layer=node.name, bulges=bulges)

    def _network(self, node: Node) -> None:
        points, pipes = network(node, self.held.places, diameter=self.held.diameter)
        for point in points:
            if kind := self.kinds.kind_of(point.node, point.kind):
                self.gathered.add_point(point.name, kind, point.place, number=point.node.line, layer=point.node.name)
        for pipe in pipes:
            kind = self.kinds.kind_of(pipe.node, "pipe")
            if kind:
                ends = np.array([pipe.start, pipe.end])
                self.gathered.add_line(pipe.name, kind, ends, number=pipe.node.line, layer="Pipe")
                because = f"as written in line {pipe.node.line}; not judged"
                self.gathered.evidence.append(
                    Evidence(what=f"pipe {pipe.name}", answer=pipe.attributes or "no attributes", because=because)
                )

    def _point(self, node: Node) -> None:
        default = "point" if node.get("code") else ""
        if kind := self.kinds.kind_of(node, default):
            self._add(self._name(node, kind), kind, node)

    def _add(self, name: str, kind: str, node: Node) -> None:
        self.gathered.add_point(name, kind, self.held.places.place(node), number=node.line, layer=node.name)

    def _name(self, node: Node, kind: str) -> str:
        return node.get("name") or f"{kind} of line {node.line}"


def _stationed(elements: pd.DataFrame, starts: dict[str, float]) -> pd.DataFrame:
    """Elements whose stations begin where their alignment's do; equations are not applied to a design line."""
    first = elements["line"].map(starts).fillna(0.0).astype("float64")
    return elements.assign(start_station=elements["start_station"] + first)


def _tell(held: Contents, gathered: Drawn, kinds: Kinds, surfaces: tuple[str, ...]) -> None:
    points = len(held.of("CgPoint"))
    taken = sum(each.layer == "CgPoint" for each in gathered.points)
    if points > taken:
        because = 'only points with a code, or that kinds names, are design; kinds = { "*" = "KIND" } takes all'
        gathered.evidence.append(Evidence(what="CgPoint", answer=f"{points - taken} left out", because=because))
    if kinds.unstated:
        listed = ", ".join(f"{kind} {count}" for kind, count in sorted(kinds.unstated.items()))
        because = 'by code, description or element; state kinds = { "NAME*" = "KIND" } for others'
        gathered.evidence.append(Evidence(what="kinds", answer=listed, because=because))
    if kinds.left_out:
        listed = ", ".join(f"{count} {name}" for name, count in sorted(kinds.left_out.items()))
        gathered.evidence.append(Evidence(what="left out", answer=listed, because='kinds = { … = "" } in the job'))
    if aside := [name for name, _, _ in held.listed if name not in surfaces]:
        because = f'surfaces = ["{aside[0]}"] in the job reads it'
        gathered.evidence.append(Evidence(what="surfaces not read", answer=", ".join(aside), because=because))
    for each in held.surfaces:
        answer = (
            f"{many(len(each.points), 'point')}, {many(len(each.faces), 'face')}, {each.invisible} invisible left out"
        )
        because = "; ".join(each.notes) or "its Pnts and Faces"
        gathered.evidence.append(Evidence(what=f"surface {each.name}", answer=answer, because=because))


def _refuse_nothing(held: Contents, gathered: Drawn) -> None:
    if gathered.lines or gathered.points or gathered.troubles:
        return
    told = "".join(f"\n  {each}" for each in gathered.evidence)
    raise SourceError(
        f"'{held.path.name}' holds {held.words()}, and nothing of it is read as design. Points need a code or "
        f'kinds = {{ "*" = "KIND" }}, surfaces need surfaces = ["NAME"].{told}'
    )


def surface_tables(surfaces: tuple[Surface, ...], *, source: str) -> dict[str, pd.DataFrame]:
    """Surfaces as the tables surface_points and surface_faces; a face names rows of its own surface's points."""
    import pandas as pd
    import pyarrow as pa

    from geoqa.model.tables.columns import conform

    counts, faces = [len(each.points) for each in surfaces], [len(each.faces) for each in surfaces]
    names = [each.name for each in surfaces]
    points = np.concatenate([each.points for each in surfaces]) if len(surfaces) > 1 else surfaces[0].points
    corners = np.concatenate([each.faces for each in surfaces]) if len(surfaces) > 1 else surfaces[0].faces

    def repeated(values: list[str], counts: list[int]) -> pd.Series:
        named = zip(values, counts, strict=True)
        texts = [pa.repeat(pa.scalar(value, pa.large_string()), count) for value, count in named]
        return pd.Series(pd.array(pa.chunked_array(texts), dtype="str"))

    return {
        "surface_points": conform(
            "surface_points",
            pd.DataFrame(
                {
                    "surface": repeated(names, counts),
                    "source": repeated([source], [sum(counts)]),
                    "point": np.concatenate([np.arange(count, dtype=np.int32) for count in counts]),
                    "easting": points[:, 0],
                    "northing": points[:, 1],
                    "elevation": points[:, 2],
                }
            ),
        ),
        "surface_faces": conform(
            "surface_faces",
            pd.DataFrame(
                {
                    "surface": repeated(names, faces),
                    "source": repeated([source], [sum(faces)]),
                    "first": corners[:, 0],
                    "second": corners[:, 1],
                    "third": corners[:, 2],
                }
            ),
        ),
    }
