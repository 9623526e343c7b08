"""Quantities of what was built, each with its uncertainty: lengths, areas, volumes."""

from typing import Any

import numpy as np
import pandas as pd
import shapely
from pydantic import Field

from geoqa.kernels.linework.order import swings
from geoqa.kernels.surfaces.measures import Measure, area_of, felt_by, length_of
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.model.words import many
from geoqa.steps.linework.observed import NEEDS, WANTS, observed
from geoqa.steps.linework.passes_apart import passes_apart
from geoqa.steps.shots.flags import noted
from geoqa.steps.surfaces.design_surface import surface_named
from geoqa.steps.surfaces.pieces import Piece, paired, pieces_of
from geoqa.steps.surfaces.surface_deviations import APART
from geoqa.steps.surfaces.volumes import DOUBT, volumes

ONE_EDGE = "only one of its two edges was shot here, or they end apart"
NO_SHOTS = "no two of its shots, no farther apart than the longest gap, are in use and free of a blunder"
SWINGING = "; it swings from side to side at its shots: two edges or heights under one line ID?"
CROSSED = "its outline crosses itself"


class Quantities(Step):
    """Tell lengths of lines, areas of closed lines and between paired edges, and volumes against the design surface.

    Lines are the strings of the crew, parted where shots lie farther apart than `gap`. Shots that are not in use, or
    under an open blunder, are passed over. Where a line was shot again, its first pass counts, and of a later one what
    lies on new ground; a pass that lies higher or lower than the first by more than both allow is told. All are plane
    measures on the grid of the job. Uncertainties are propagated through every shot: what a session shares cancels in
    lengths and areas, and counts over the whole area in a volume.
    """

    name = "quantities"
    needs = ("codes", *NEEDS)
    wants = ("surface_points", "surface_faces", "asbuilt_surface_points", "asbuilt_surface_faces", *WANTS)
    gives = ("quantities",)
    adds = ("notes",)

    gap: Length = Field(Length.parse("60 ft"), description="A line is not measured across a longer gap between shots")
    closing: Length = Field(Length.parse("0.3 ft"), description="A line is closed if its ends are no farther apart")
    widest: Length = Field(Length.parse("20 ft"), description="Edges are a pair if their ends are no farther apart")
    narrowest: Length = Field(Length.parse("2 ft"), description="Edges closer together bound no area: a curb, its face")
    surface: str = Field("", description="Name of the design surface; where one was read, it need not be named")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One row a quantity."""
        shots, unit = observed(layers), layers.frame.unit
        pieces = pieces_of(layers, shots, self.gap.to(unit))
        rows = _lengths(shots, pieces, unit.name)
        pieces = [piece for piece in pieces if len(piece.rows)]
        rows += self._closed(shots, pieces, layers)
        rows += self._between_edges(shots, pieces, layers)
        surface = surface_named(layers, self.surface)
        if surface is not None and "asbuilt_surface_faces" in layers and len(layers["asbuilt_surface_faces"]):
            rows += volumes(layers, shots, surface, APART.to(unit))
        notes = noted(self.name, list(passes_apart(layers, gap=self.gap.to(unit))))
        if not rows:
            return {"quantities": empty("quantities"), "notes": notes}
        made = pd.DataFrame(rows)
        without = made["why"] != ""
        for part in ("u_random", "u_common"):
            made[part] = made[part].where(~without)
        made["why"] = made["why"].where(without)
        made["u"] = np.hypot(made["u_random"].to_numpy(float), made["u_common"].to_numpy(float))
        return {"quantities": conform("quantities", made), "notes": notes}

    def _closed(self, shots: pd.DataFrame, pieces: list[Piece], layers: Layers) -> list[dict[str, Any]]:
        """Areas of lines that end where they begin; the last shot is that of the first place again."""
        unit = layers.frame.unit
        rows = []
        for piece in pieces:
            if len(piece.rows) > 3 and np.hypot(*(piece.at[-1] - piece.at[0])) <= self.closing.to(unit):
                rows.append(
                    _area(shots, piece, piece.rows[:-1], f"within {many(len(piece.rows) - 1, 'shot')}", unit.name)
                )
        return rows

    def _between_edges(self, shots: pd.DataFrame, pieces: list[Piece], layers: Layers) -> list[dict[str, Any]]:
        """Areas between edges whose codes are a pair."""
        unit = layers.frame.unit
        rows = []
        for code, other in _pairs(layers["codes"]):
            one, two = ([piece for piece in pieces if piece.code == name] for name in (code, other))
            found = paired(one, two, self.widest.to(unit))
            mine = [self._of_pair(shots, *pair, unit.name, self.narrowest.to(unit)) for pair in found]
            wide = [row for row in mine if row is not None]
            # where each pair that was found is as narrow as a curb, the ends of others are no walk either
            if len(wide) == len(mine) or any(not row["why"] or row["why"] == CROSSED for row in wide):
                rows += wide
        return rows

    @staticmethod
    def _of_pair(
        shots: pd.DataFrame, piece: Piece, beside: Piece | None, turned: bool, unit: str, narrowest: float
    ) -> dict[str, Any] | None:
        if beside is None:
            return _row(piece, "area", "area in plan", f"sq {unit}", len(piece.rows), "by both edges", ONE_EDGE)
        back = beside.rows if turned else beside.rows[::-1]
        made = _area(shots, piece, np.concatenate([piece.rows, back]), "by both edges", unit)
        made["name"], made["kind"] = f"{piece.name} and {beside.name}", _common_words(piece.kind, beside.kind)
        length = length_of(piece.at).value
        return None if not made["why"] and made["value"] < narrowest * length else made


def _pairs(codes: pd.DataFrame) -> list[tuple[str, str]]:
    """Codes of lines that are a pair, each pair once."""
    lines = codes[(codes["geometry"] == "line") & codes["pairs_with"].notna()]
    pairs = {tuple(sorted(pair)) for pair in zip(lines["code"], lines["pairs_with"], strict=True)}
    known = set(lines["code"])
    return sorted((str(one), str(two)) for one, two in pairs if {one, two} <= known)


def _common_words(one: str, other: str) -> str:
    """The first words that two kinds share, such as walk of walk-front and walk-back; the first kind where none.

    Examples
    --------
    >>> _common_words("walk-front", "walk-back"), _common_words("rim", "invert")
    ('walk', 'invert')
    """
    shared = []
    for word, same in zip(one.split("-"), other.split("-"), strict=False):
        if word != same:
            break
        shared.append(word)
    return "-".join(shared) or min(one, other)


def _row(piece: Piece, quantity: str, measure: str, unit: str, shots: int, method: str, why: str) -> dict[str, Any]:
    return {
        "name": piece.name, "kind": piece.kind, "quantity": quantity, "measure": measure, "value": np.nan,
        "u_random": np.nan, "u_common": np.nan, "unit": unit, "shots": shots, "method": method, "why": why,
    }  # fmt: skip


def _lengths(shots: pd.DataFrame, pieces: list[Piece], unit: str) -> list[dict[str, Any]]:
    """Length of every line, over all its pieces."""
    by_name: dict[str, list[Piece]] = {}
    for piece in pieces:
        by_name.setdefault(piece.name, []).append(piece)
    rows = []
    for parts in by_name.values():
        found = [length_of(piece.at) for piece in parts]
        members = np.concatenate([piece.rows for piece in parts])
        whole = Measure(sum(each.value for each in found), np.concatenate([each.gradient for each in found]))
        said = f"chords along {many(len(members), 'shot')}"
        if parts[0].again:
            said += f"; {many(parts[0].again, 'shot')} of later passes not counted"
        if parts[0].passed_over:
            said += f", {many(parts[0].passed_over, 'other')} passed over"
        if len(parts) > 1:
            said += f", in {len(parts)} pieces; what lies between them is not counted"
        if any(swings(piece.at) for piece in parts):
            said += SWINGING
        row = _row(parts[0], "length", "length in plan", unit, len(members), said, "" if len(members) else NO_SHOTS)
        if not len(members):
            rows.append(row)
            continue
        made = _with_u(shots, members, whole)
        made["u_random"] = float(np.hypot(made["u_random"], sum(_zigzag(shots, piece) for piece in parts)))
        rows.append(row | made)
    return rows


def _zigzag(shots: pd.DataFrame, piece: Piece) -> float:
    """Length that scatter across a line adds to it on average: of each leg half the variance across it by its length.

    It is no matter of chance and not taken off; where shots stand close together it is the larger part.
    """
    variance = shots["u_h_random"].to_numpy(float)[piece.rows] ** 2
    leg = np.hypot(*np.diff(piece.at, axis=0).T)
    spread = np.sqrt(variance[1:] + variance[:-1])
    return float(np.sum(spread**2 / 2 / np.maximum(leg, spread)))


def _area(shots: pd.DataFrame, piece: Piece, ring: np.ndarray, method: str, unit: str) -> dict[str, Any]:
    at = shots[["easting", "northing"]].to_numpy(float)[ring]
    whole = shapely.is_valid(shapely.polygons(at - at[0]))
    row = _row(piece, "area", "area in plan", f"sq {unit}", len(ring), method, "" if whole else CROSSED)
    if not whole:
        return row
    found = area_of(at)
    sign = 1.0 if found.value >= 0 else -1.0
    return row | _with_u(shots, ring, Measure(sign * found.value, sign * found.gradient))


def _with_u(shots: pd.DataFrame, members: np.ndarray, found: Measure) -> dict[str, Any]:
    """A plane measure with both parts of its uncertainty; a shot that counts twice has one error.

    A survey in doubt is not felt where all shots are of one initialization: what moves them all changes nothing.
    """
    gradient = np.zeros((len(shots), 2))
    np.add.at(gradient, members, found.gradient)
    mine = np.unique(members)
    random, common = (shots[f"u_h_{part}"].to_numpy(float)[mine] for part in ("random", "common"))
    group = shots["group_h"].to_numpy()[mine]
    parts = np.array([felt_by(gradient[mine, axis], random, common, group) for axis in (0, 1)])
    whole = np.hypot(*parts)
    made: dict[str, Any] = {"value": found.value, "u_random": float(whole[0]), "u_common": float(whole[1])}
    if np.isfinite(shots["doubt_plan"].to_numpy(float)[mine]).any() and shots["setup"].iloc[mine].nunique() > 1:
        made |= {"value": np.nan, "why": DOUBT}
    return made
