"""An alignment from a drawing: lines, arcs and polylines with bulges on one layer."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from pydantic import Field

from geoqa.errors import SourceError
from geoqa.model.alignment import ARC, LINE, Alignment, Piece
from geoqa.model.baseline import GAP
from geoqa.model.format import Format
from geoqa.model.source import Peek, Source
from geoqa.read.baseline.alignment_reader import AlignmentReader
from geoqa.read.vector.dxf import DesignDrawing

if TYPE_CHECKING:
    import pandas as pd


class AlignmentDrawing(AlignmentReader):
    """An alignment from the lines, arcs and polylines of one layer, joined end to end.

    It runs as its first line in the drawing does; `from_end` turns it round.
    """

    format: ClassVar[Format | None] = Format(
        title="drawing whose layer holds one alignment",
        keeps="its lines, arcs and bulges, joined end to end",
        loses="spirals, station equations and the profile: a drawing has none of them",
    )

    layer: str = Field(min_length=1, description="Layer that holds the alignment and no other line.")
    from_end: bool = Field(False, description="The stations run against the way it is drawn.")

    def peek(self, path: Path) -> Peek:
        """Look at layers and what is drawn on them."""
        return DesignDrawing().peek(path)

    def read(self, path: Path, *, source: str) -> Source:
        """Read the alignment.

        Raises
        ------
        SourceError
            The layer is not there, or what is drawn on it is no single line from end to end.
        """
        drawn = DesignDrawing(layers={self.layer: "baseline"}, elevations="none").read(path, source=source)
        elements = drawn.layers.get("design_elements")
        if elements is None or not len(elements):
            raise SourceError(
                f"'{path.name}' has no line, arc or polyline on the layer '{self.layer}'. Name the layer of the "
                'alignment under [baseline]: layer = "NAME".'
            )
        if lost := [trouble for trouble in drawn.troubles if not trouble.kept]:
            raise SourceError(f"'{path.name}', {lost[0]}; a baseline is read whole. Draw it on its own layer.")
        parts = [part.sort_values("sequence") for _, part in elements.groupby("line", sort=False)]
        chain = _end_to_end([_pieces(part) for part in parts], path.name)
        if self.from_end:
            chain = _turned(chain)
        station, placed = self.started() or 0.0, []
        for each in chain:
            placed.append(Piece(**{**vars(each), "station": station}))
            station += each.length
        return self.source_of(
            Alignment(name=self.layer, pieces=tuple(placed), place=f"layer {self.layer}"),
            file=path.name,
            unit=drawn.unit,
            facts=drawn.facts,
            evidence=drawn.evidence,
            troubles=drawn.troubles,
        )


def _pieces(part: pd.DataFrame) -> list[Piece]:
    made = []
    for row in part[part["length"] > 0].to_dict("records"):
        chord = row["end_easting"] - row["start_easting"], row["end_northing"] - row["start_northing"]
        arc = row["shape"] == ARC
        turn = row["sense"] * row["length"] / row["radius"] if arc else 0.0
        azimuth = np.degrees(np.arctan2(*chord) - turn / 2.0)
        if arc and abs(turn) > np.pi * 2 - 1e-9:
            azimuth = np.nan  # a whole circle has no direction to start in; refused with its place
        radius = row["sense"] * row["radius"] if arc else np.inf
        made.append(
            Piece(
                kind=ARC if arc else LINE, easting=row["start_easting"], northing=row["start_northing"],
                azimuth=float(azimuth) % 360.0, length=row["length"], start_radius=radius, end_radius=radius,
                station=0.0, end_easting=row["end_easting"], end_northing=row["end_northing"],
                place=f"line {row['line']}, piece {row['sequence'] + 1}",
            )
        )  # fmt: skip
    return made


def _turned(pieces: list[Piece]) -> list[Piece]:
    """The same pieces, run from their end."""
    made = []
    for each in reversed(pieces):
        turn = each.length / each.start_radius
        azimuth = (each.azimuth + np.degrees(turn) + 180.0) % 360.0
        made.append(
            Piece(
                kind=each.kind, easting=each.end_easting, northing=each.end_northing, azimuth=float(azimuth),
                length=each.length, start_radius=-each.start_radius if each.kind == ARC else each.start_radius,
                end_radius=-each.end_radius if each.kind == ARC else each.end_radius, station=0.0,
                end_easting=each.easting, end_northing=each.northing, place=each.place,
            )
        )  # fmt: skip
    return made


def _end_to_end(parts: list[list[Piece]], file: str) -> list[Piece]:
    """Join what is drawn in several lines; each may be drawn either way."""
    chain, left = list(parts[0]), [part for part in parts[1:] if part]
    while left:
        for at, part in enumerate(left):
            joined = _joined(chain, part) or _joined(chain, _turned(part))
            if joined is not None:
                chain = joined
                left.pop(at)
                break
        else:
            first = left[0][0]
            raise SourceError(
                f"'{file}', {first.place}: it starts at {first.easting:.2f}, {first.northing:.2f} and joins no end "
                f"of the rest ({GAP:g} is allowed); a baseline is one line from end to end."
            )
    return chain


def _joined(chain: list[Piece], part: list[Piece]) -> list[Piece] | None:
    if _near(chain[-1], part[0]):
        return [*chain, *part]
    return [*part, *chain] if _near(part[-1], chain[0]) else None


def _near(before: Piece, after: Piece) -> bool:
    return float(np.hypot(after.easting - before.end_easting, after.northing - before.end_northing)) <= GAP
