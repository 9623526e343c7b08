"""Alignments of LandXML as the record of a baseline: elements, station equations, profile."""

from __future__ import annotations

import math

import numpy as np

from geoqa.model.alignment import Alignment, Equation, Piece, Pvi
from geoqa.read.landxml.coordgeom import APART, Stretch, parts, stretches
from geoqa.read.landxml.places import Places
from geoqa.read.landxml.stream import Node, refusal

_CLOSE = 1e-6
"""How far the parabolas that stand for a vertical circle may leave it."""
_MOST = 10_000
"""Parabolas that may stand for one."""


def alignment_of(node: Node, places: Places, *, profile: str = "") -> Alignment:
    """One alignment of a file, in the file's unit.

    Parameters
    ----------
    node : Node
        The element Alignment.
    places : Places
        Named points of the file.
    profile : str
        Name of the profile to take where there are several.

    Raises
    ------
    SourceError
        It has no geometry, its elements do not follow each other, or what is stated of it contradicts its points.
    """
    geometry = node.all("CoordGeom")
    if len(geometry) != 1:
        raise places.refused(node, f"has {len(geometry)} CoordGeom; one is needed")
    if node.get("staIncrement") == "decreasing":
        raise places.refused(node, 'has staIncrement="decreasing"; only stations that increase are read')
    found = stretches(geometry[0], places)
    if not found or len(parts(found)) != 1:
        after = parts(found)[0][-1].line if found else node.line
        raise refusal(places.path, after, f"{node.words()}: its elements do not follow each other after this line.")
    start = places.number(node, "staStart")
    if not math.isfinite(start):
        raise places.refused(node, "has no staStart; it needs the station of its start")
    total = sum(each.length for each in found)
    stated = places.number(node, "length")
    if not math.isnan(stated) and abs(stated - total) > APART + 0.001 * len(found):
        raise places.refused(node, f'states length="{stated:.10g}", and its elements give {total:.4f}')
    pvis, called, notes = _profile(node, places, profile)
    equations = _equations(node, places, start)
    if pvis and equations:
        notes.append("stations of the profile are taken along the line, without the equations")
    return Alignment(
        name=node.get("name") or f"alignment in line {node.line}",
        pieces=_pieces(found, start),
        equations=equations,
        profile=tuple(pvis),
        profile_name=called,
        superelevation=_superelevation(node),
        place=f"line {node.line}",
        notes=tuple(notes),
    )


def _pieces(found: list[Stretch], start: float) -> tuple[Piece, ...]:
    stations = start + np.concatenate([[0.0], np.cumsum([each.length for each in found])[:-1]])
    return tuple(
        Piece(
            kind=each.kind,
            easting=each.start[0],
            northing=each.start[1],
            azimuth=each.azimuth,
            length=each.length,
            start_radius=each.start_radius,
            end_radius=each.end_radius,
            station=float(station),
            end_easting=each.end[0],
            end_northing=each.end[1],
            place=f"line {each.line}",
        )
        for each, station in zip(found, stations, strict=True)
    )


def _equations(node: Node, places: Places, start: float) -> tuple[Equation, ...]:
    made: list[Equation] = []
    since, written = start, start
    for each in node.all("StaEquation"):
        ahead, internal, back = (places.number(each, key) for key in ("staAhead", "staInternal", "staBack"))
        if not math.isfinite(ahead) or not (math.isfinite(internal) or math.isfinite(back)):
            raise places.refused(each, "needs staAhead and staInternal (or staBack)")
        if math.isnan(internal):
            internal = since + back - written
        reached = written + internal - since
        if not math.isnan(back) and abs(back - reached) > APART:
            raise places.refused(each, f"has staBack {back:.4f}, and staInternal {internal:.4f} is {reached:.4f} there")
        if internal < since - APART:
            raise places.refused(each, f"stands at {internal:.4f}, before the one ahead of it")
        made.append(
            Equation(
                back=reached if math.isnan(back) else back, ahead=ahead, internal=internal, place=f"line {each.line}"
            )
        )
        since, written = internal, ahead
    return tuple(made)


def _profile(node: Node, places: Places, wanted: str) -> tuple[list[Pvi], str, list[str]]:
    there = [(each, profile) for profile in node.all("Profile") for each in profile.all("ProfAlign")]
    notes = []
    ground = sum(len(profile.all("ProfSurf")) for profile in node.all("Profile"))
    if ground:
        notes.append(f"{ground} profiles of existing ground (ProfSurf) are not read")
    if not there:
        return [], "", notes
    names = [each.get("name") or profile.get("name") for each, profile in there]
    if wanted:
        chosen = [at for at, name in enumerate(names) if name == wanted]
    else:
        proposed = [at for at, (each, _) in enumerate(there) if each.get("state") == "proposed"]
        chosen = proposed if len(proposed) == 1 else list(range(len(there)))
    if len(chosen) != 1:
        listed = ", ".join(f"'{name}'" for name in names)
        raise places.refused(node, f'has the profiles {listed}; name the one that is built: profile = "{names[0]}"')
    at = chosen[0]
    if len(there) > 1:
        left = ", ".join(f"'{name}'" for other, name in enumerate(names) if other != at)
        notes.append(f"other profiles are not read: {left}")
    return _pvis(there[at][0], places), names[at], notes


def _pvis(node: Node, places: Places) -> list[Pvi]:
    rows: list[tuple[Node, float, float]] = []
    for each in node.all("PVI", "ParaCurve", "UnsymParaCurve", "CircCurve"):
        values = places.numbers(each)
        if len(values) != 2:
            raise places.refused(each, f"reads '{each.text.strip()[:40]}'; station and elevation are needed")
        if rows and values[0] <= rows[-1][1]:
            raise places.refused(
                each,
                f"stands at {values[0]:.4f}, not after the one before it at {rows[-1][1]:.4f}; give them in order of "
                "station, each once",
            )
        rows.append((each, values[0], values[1]))
    made: list[Pvi] = []
    for at, (each, station, elevation) in enumerate(rows):
        if each.name == "CircCurve":
            if not 0 < at < len(rows) - 1:
                raise places.refused(each, "is the end of a profile; a curve stands between two grades")
            made += _circle(each, places, rows[at - 1][1:], (station, elevation), rows[at + 1][1:])
            continue
        before, after = _lengths(each, places)
        made.append(
            Pvi(station=station, elevation=elevation, curve_in=before, curve_out=after, place=f"line {each.line}")
        )
    return made


def _lengths(node: Node, places: Places) -> tuple[float, float]:
    if node.name == "PVI":
        return 0.0, 0.0
    keys = ("length", "length") if node.name == "ParaCurve" else ("lengthIn", "lengthOut")
    before, after = (places.number(node, key) for key in keys)
    if not (0.0 <= before < math.inf and 0.0 <= after < math.inf):
        raise places.refused(node, f"needs {' and '.join(dict.fromkeys(keys))}, 0 or more")
    return (before / 2.0, after / 2.0) if node.name == "ParaCurve" else (before, after)


def _circle(
    node: Node, places: Places, before: tuple[float, float], at: tuple[float, float], after: tuple[float, float]
) -> list[Pvi]:
    """A vertical circle as parabolas that touch it at their ends, close enough to be it."""
    radius = abs(places.number(node, "radius"))
    enter, leave = (math.atan2(end[1] - start[1], end[0] - start[0]) for start, end in ((before, at), (at, after)))
    if not 1.0 <= radius < math.inf:
        raise places.refused(node, "needs a radius of 1 or more")
    tangent = radius * math.tan(abs(leave - enter) / 2.0)
    length = places.number(node, "length")
    true = radius * abs(leave - enter)
    if not math.isnan(length) and min(abs(length - each) for each in (true, 2.0 * tangent)) > APART:
        raise places.refused(node, f'states length="{length:.10g}", and its radius and grades give {true:.4f}')
    # over half a length h the parabolas leave the circle by h^4 / (8 R^3) and, on a slope s, by about s h^3 / (15 R^2)
    steep = max(abs(math.tan(enter)), abs(math.tan(leave)), 1e-9)
    half = min((8.0 * radius**3 * _CLOSE) ** 0.25, (14.0 * radius**2 * _CLOSE / steep) ** (1.0 / 3.0))
    count = max(1, math.ceil(true / 2.0 / half))
    if count > _MOST:
        raise places.refused(node, f"turns from {math.tan(enter):.4g} to {math.tan(leave):.4g}; no profile is so steep")
    first = at[0] - tangent * math.cos(enter), at[1] - tangent * math.sin(enter)
    sign = math.copysign(1.0, leave - enter)
    centre = first[0] - sign * radius * math.sin(enter), first[1] + sign * radius * math.cos(enter)
    turns = np.linspace(enter, leave, count + 1)
    on = [(centre[0] + sign * radius * math.sin(t), centre[1] - sign * radius * math.cos(t)) for t in turns]
    made = []
    for start, end, (x0, y0), (x1, _) in zip(turns, turns[1:], on, on[1:], strict=False):
        reach = radius * math.tan(abs(end - start) / 2.0)
        x, y = x0 + reach * math.cos(start), y0 + reach * math.sin(start)
        made.append(Pvi(station=x, elevation=y, curve_in=x - x0, curve_out=x1 - x, place=f"line {node.line}"))
    return made


def _superelevation(node: Node) -> str:
    banked = node.all("Superelevation")
    if not banked:
        return ""
    return f"superelevation from line {banked[0].line} on ({len(banked)} elements) is not used"
