"""The baseline of a job from an alignment of a LandXML file."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from pydantic import Field

from geoqa.errors import SourceError
from geoqa.model.format import Format
from geoqa.model.source import Peek, Source
from geoqa.read.baseline.alignment_reader import AlignmentReader
from geoqa.read.landxml.alignment import alignment_of
from geoqa.read.landxml.contents import Contents, contents
from geoqa.read.landxml.design import DesignLandXML
from geoqa.read.landxml.stream import Node


class AlignmentLandXML(AlignmentReader):
    """An alignment of LandXML 1.0, 1.1 or 1.2: lines, arcs, clothoids, station equations, and its profile.

    `name` picks the alignment where the file has several.
    """

    format: ClassVar[Format | None] = Format(
        title="alignment of LandXML 1.0, 1.1 or 1.2",
        keeps="lines, arcs, clothoids, station equations, parabolas of the profile",
        loses="superelevation and cross sections; an arc in the profile becomes parabolas within 0.000001",
    )

    profile: str = Field("", max_length=100, description="Which profile of the alignment, where it has several.")

    def peek(self, path: Path) -> Peek:
        """Look at what the file holds, its unit and its system."""
        return DesignLandXML().peek(path)

    def read(self, path: Path, *, source: str) -> Source:
        """Read the alignment.

        Raises
        ------
        SourceError
            The file is no sound LandXML, has no such alignment, or what it states of it contradicts its points.
        """
        held = contents(path)
        alignment = alignment_of(self._chosen(held), held.places, profile=self.profile)
        return self.source_of(
            alignment,
            file=held.path.name,
            unit=held.unit,
            crs=held.crs,
            facts={"holds": held.words()},
            evidence=tuple(held.evidence),
        )

    def _chosen(self, held: Contents) -> Node:
        nodes = held.of("Alignment")
        names = [each.get("name") for each in nodes]
        chosen = [each for each in nodes if self.name in ("", each.get("name"))]
        if len(chosen) == 1:
            return chosen[0]
        if not nodes:
            raise SourceError(
                f"'{held.path.name}' holds {held.words()}, and no Alignment. "
                "Name a file that has one under [baseline], or write points = [ … ] there."
            )
        listed = ", ".join(f"'{name}'" for name in names)
        what = "has no alignment" if not chosen else "has several alignments"
        called = f" '{self.name}'" if self.name else ""
        raise SourceError(
            f"'{held.path.name}' {what}{called}; they are {listed}. Name the one that is built: name = \"{names[0]}\"."
        )
