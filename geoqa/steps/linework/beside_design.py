"""As-built lines beside their design lines, both as vertices that run the same way."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.kernels.design.along_elements import Chords, chords, point_at
from geoqa.kernels.design.elements import line_table
from geoqa.model.quantity import Length
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import Alignments, alignments, elements_of
from geoqa.steps.design.arc_offsets import from_the_arc
from geoqa.steps.design.deviations import along_lines
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.linework.observed import observed

FARTHER = 1.959963984540054
"""Standard uncertainties that every shot is moved by, farther out and farther in."""
CHORD = Length.parse("0.001 ft")
"""Largest distance between an arc and its chords, where lines are compared."""
CORNER = 15.0
"""Degrees that a design line turns by at a corner; a curve drawn in chords turns by less at each."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Beside:
    """A stretch of an as-built line along one design line.

    Attributes
    ----------
    line, design : str
    rows : DataFrame
        Of `along_lines`, for its shots along that design line, in the order of the as-built line; with `station_on`,
        along the as-built line.
    built : (k, 2) float64
        Vertices from the first of these shots to the last, in the direction of the design, shifts taken off.
    u : (k - 1,) float64
        Horizontal 1 sigma of each leg: the larger of its shots'; where a curve is drawn in chords and nobody says which
        is the design, so much wider that the other reading lies within it at 95 %.
    corner : (k - 1,) bool
        The leg goes past a corner of the design that nobody shot: what was built there is not known.
    reference : (m, 2) float64
        The whole design line.
    stretch : (j, 2) float64
        The part of it beside the as-built line.
    station, station_end : float
        Of that part.
    length : float
        Of the design line.
    """

    line: str
    design: str
    rows: pd.DataFrame
    built: np.ndarray
    u: np.ndarray
    corner: np.ndarray
    reference: np.ndarray
    stretch: np.ndarray
    station: float
    station_end: float
    length: float


def beside_design(layers: Layers) -> Iterator[Beside]:
    """Every as-built line along every design line that two of its shots or more are matched to.

    Parameters
    ----------
    layers : Layers
        With `asbuilt_lines`, `asbuilt_elements`, `asbuilt_members`, and what `along_lines` takes.
    """
    members, table = layers["asbuilt_members"], layers["asbuilt_elements"]
    lines = layers["asbuilt_lines"]
    if not len(members):
        return
    design, sagitta = alignments(layers), CHORD.to(layers.frame.unit)
    number = rows_of(table["line"], lines["line"])
    built = chords(elements_of(table, number), max_sagitta=sagitta)
    drawn = chords(design.elements, max_sagitta=sagitta)
    rows = along_lines(layers, "offset")
    if not len(rows):
        return
    own = _own_rows(layers, members, rows)
    closed = lines["closed"].to_numpy(bool)
    rings = line_table(design.elements)
    ring = dict(zip(rings.line.tolist(), rings.closed.tolist(), strict=True))
    for (line, name), mine in own.groupby(["line", "subject"], sort=True):
        which, of = int(rows_of([str(line)], lines["line"])[0]), int(rows_of([str(name)], design.names)[0])
        mine = pd.DataFrame(mine[mine["station"].notna()])
        if of < 0 or len(mine) < 2 or not np.ptp(mine["station"].to_numpy(float)) > 0:
            continue
        yield _beside(design, drawn, built, mine, which, of, whole=bool(closed[which] and ring[of]))


def _own_rows(layers: Layers, members: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """Rows of shots along design lines, in the order of their as-built lines."""
    place = rows_of(members["shot_key"], rows["shot"])
    seen = observed(layers)
    at = rows_of(members["shot_key"], seen["shot"])
    shots = layers["shots"].iloc[seen["row"].to_numpy()[at]]
    found = pd.DataFrame(rows.iloc[np.maximum(place, 0)]).reset_index(drop=True)
    for axis in ("easting", "northing"):
        found[f"moved_{axis}"] = seen[axis].to_numpy(float)[at] - shots[axis].to_numpy(float)
    for name in ("group_h", "group_v", "minutes"):
        found[name] = seen[name].to_numpy()[at]
    found["line"], found["station_on"] = members["line"].to_numpy(), members["station"].to_numpy(float)
    return found[(place >= 0) & (found["subject"] != "-").to_numpy(bool)].reset_index(drop=True)


def _beside(
    design: Alignments, drawn: Chords, built: Chords, rows: pd.DataFrame, which: int, of: int, *, whole: bool
) -> Beside:
    on = rows["station_on"].to_numpy(float)
    station = np.clip(rows["station"].to_numpy(float), design.start[of], design.end[of])
    steps = np.diff(station)
    back = bool((steps < 0).sum() > (steps > 0).sum())
    first, last = np.searchsorted(built.line, which), np.searchsorted(built.line, which, side="right")
    along, vertices = built.station[first:last], built.coordinates[first:last]
    inside = np.ones(len(along), bool) if whole else (along >= on[0] - 1e-9) & (along <= on[-1] + 1e-9)
    along, vertices = along[inside], vertices[inside]
    moved = np.column_stack([np.interp(along, on, rows[f"moved_{axis}"]) for axis in ("easting", "northing")])
    along, vertices = _bent(design, drawn, of, along, vertices + moved, on, station, rows["offset"].to_numpy(float))
    sigma = np.nan_to_num(np.hypot(rows["u_common"].to_numpy(float), rows["u_random"].to_numpy(float)))
    sigma = sigma + from_the_arc(rows) / FARTHER
    at = np.clip(np.searchsorted(on, (along[1:] + along[:-1]) / 2) - 1, 0, len(on) - 2)
    u = np.maximum(sigma[at], sigma[at + 1])
    corner = _past_corners(drawn, of, station)[at]
    low, high = float(station.min()), float(station.max())
    start, end = float(design.start[of]), float(design.end[of])
    if whole:
        # from the place of its first shot round to it again
        low, high, turn = start, end, float(station[0])
        stretch = np.vstack([_stretch(design, drawn, of, turn, end), _stretch(design, drawn, of, start, turn)])
        stretch = stretch[np.append(True, (np.diff(stretch, axis=0) != 0).any(axis=1))]
    else:
        stretch = _stretch(design, drawn, of, low, high)
    return Beside(
        line=str(rows["line"].iloc[0]), design=str(design.names[of]), rows=rows,
        built=vertices[::-1] if back else vertices, u=u[::-1] if back else u,
        corner=corner[::-1] if back else corner,
        reference=_stretch(design, drawn, of, start, end), stretch=stretch,
        station=low, station_end=high, length=end - start,
    )  # fmt: skip


def _bent(
    design: Alignments,
    drawn: Chords,
    of: int,
    along: np.ndarray,
    vertices: np.ndarray,
    on: np.ndarray,
    station: np.ndarray,
    offset: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Let straight legs bend where the design does: their offset changes evenly from shot to shot.

    Nobody shot what lies between; a chord across a curve would make work that is sound at every shot a defect.
    """
    first, last = np.searchsorted(drawn.line, of), np.searchsorted(drawn.line, of, side="right")
    soft = drawn.station[first:last][_soft(drawn.coordinates[first:last])]
    a, b = station[:-1], station[1:]
    # both lists ascend: what lies between two shots is one slice of each
    curved = np.searchsorted(along, on[:-1] + 1e-9, side="right") < np.searchsorted(along, on[1:] - 1e-9, side="left")
    low = np.searchsorted(soft, np.minimum(a, b), side="right")
    high = np.searchsorted(soft, np.maximum(a, b), side="left")
    bends = (a != b) & ~curved & np.isfinite(offset[:-1] + offset[1:])
    count = np.where(bends, np.maximum(high - low, 0), 0)
    if not count.any():
        return along, vertices
    leg = np.repeat(np.arange(len(a)), count)
    between = soft[np.arange(len(leg)) - np.repeat(np.cumsum(count) - count, count) + low[leg]]
    share = (between - a[leg]) / (b[leg] - a[leg])
    at = point_at(design.elements, np.full(len(between), of), between)
    aside = offset[leg] + share * (offset[leg + 1] - offset[leg])
    bearing = np.radians(at.azimuth)
    more = np.column_stack([at.easting + aside * np.cos(bearing), at.northing - aside * np.sin(bearing)])
    whole = np.append(along, on[leg] + share * (on[leg + 1] - on[leg]))
    order = np.argsort(whole, kind="stable")
    return whole[order], np.vstack([vertices, more])[order]


def _turn(places: np.ndarray) -> np.ndarray:
    """Degrees that a drawn line turns by at each vertex; 0 at its ends."""
    leg = np.diff(places, axis=0)
    bearing = np.degrees(np.arctan2(leg[:, 0], leg[:, 1]))
    return np.concatenate([[0.0], np.abs((np.diff(bearing) + 180.0) % 360.0 - 180.0), [0.0]])


def _soft(places: np.ndarray) -> np.ndarray:
    """Vertices of a drawn line at which it bends as a curve does, not at a corner."""
    turn = _turn(places)
    return np.asarray((turn > 0) & (turn < CORNER))


def _past_corners(drawn: Chords, of: int, station: np.ndarray) -> np.ndarray:
    """Legs between shots that have a corner of the design between them."""
    first, last = np.searchsorted(drawn.line, of), np.searchsorted(drawn.line, of, side="right")
    corners = drawn.station[first:last][_turn(drawn.coordinates[first:last]) >= CORNER]
    low, high = np.minimum(station[:-1], station[1:]), np.maximum(station[:-1], station[1:])
    near = 1e-3 * (high - low)
    return np.asarray(((corners > (low + near)[:, None]) & (corners < (high - near)[:, None])).any(axis=1))


def _stretch(design: Alignments, drawn: Chords, of: int, start: float, end: float) -> np.ndarray:
    """Vertices of a design line between two stations."""
    first, last = np.searchsorted(drawn.line, of), np.searchsorted(drawn.line, of, side="right")
    along = drawn.station[first:last]
    between = drawn.coordinates[first:last][(along > start) & (along < end)]
    ends = point_at(design.elements, [of, of], [start, end])
    points = np.column_stack([ends.easting, ends.northing])
    return np.vstack([points[:1], between, points[1:]])
