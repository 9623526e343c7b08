"""What the crew shoots, in which order, on which day.

Three sessions on two days; each opens and closes on control. A string is walked
up along one line and down along the next, so half of the strings run against
the design.
"""

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from geoqa.simulate.crew.draws import stream
from geoqa.simulate.site import alignment, scenario
from geoqa.simulate.site.design import DesignLine, lines, points

SESSIONS = {
    "A": ("day1", "2026-05-12T13:05:00"),
    "B": ("day1", "2026-05-12T18:02:00"),
    "C": ("day2", "2026-05-13T13:10:00"),
}
"""Session: file it is in, start (UTC)."""

_OPENING = {
    "A": ("CP-1", "CP-2", "CP-6", "CP-3"),
    "B": ("CP-1", "CP-2", "CP-3", "CP-2"),
    "C": ("CP-3", "CP-1", "CP-2", "CP-3"),
}
_CLOSING = {
    "A": ("CP-4", "CP-5", "CP-1", "CP-6"),
    "B": ("CP-4", "CP-5", "CP-6", "CP-5"),
    "C": ("CP-4", "CP-5", "CP-6", "CP-4"),
}

JITTER = 2.0
"""Largest distance along the line between a shot and its even 25 ft station."""


def route(seed: int) -> list[dict[str, Any]]:
    """Every shot of the three sessions in the order taken, without any error."""
    rows = []
    for session, (source, _) in SESSIONS.items():
        body = {"A": _session_a, "B": _session_b, "C": _session_c}[session](seed)
        shots = [*_checks(session, "open", _OPENING), *body, *_checks(session, "close", _CLOSING)]
        rows += [{**shot, "session": session, "source": source} for shot in shots]
    return rows


def _session_a(seed: int) -> Iterator[dict[str, Any]]:
    yield from _strings(seed, "L", "1")
    yield from _named("CR-1", "DWY-1")
    yield from string(lines()["DWY-1"], "DWY1", [3.0, 9.0, 16.0, 24.0, 31.0, 37.0])
    yield from _named("WV-1", "WV-2", "HYD-1")
    yield from _ground("A", [(1110.0 + 100.0 * step, -18.5) for step in range(10)])


def _session_b(seed: int) -> Iterator[dict[str, Any]]:
    yield from _strings(seed, "R", "1")
    yield from _named("CR-2")
    water = lines()["W-1"]
    yield from string(water, "WTP1", [water.begin, *np.arange(1025.0, 2951.0, 25.0)])
    yield from _tilt_test()


def _session_c(seed: int) -> Iterator[dict[str, Any]]:
    yield from _strings(seed, "L", "2")
    yield from _strings(seed, "R", "2")
    yield from _named("CR-3", "IN-1", "MH-1", "MH-2", "OF-1")
    for name in scenario.PIPES:
        pipe = lines()[name]
        inside = np.arange(6.0, pipe.finish - 3.0, 12.5) if pipe.finish > 30 else np.array([4.0, 16.0])
        yield from string(pipe, name.replace("P-", "STP"), inside)
    yield from _named("WV-3")
    yield from _ground("C", [(2300.0 + 60.0 * step, 18.5) for step in range(10)])


def _checks(session: str, when: str, marks: Mapping[str, tuple[str, ...]]) -> Iterator[dict[str, Any]]:
    for number, mark in enumerate(marks[session], start=1):
        station, offset, elevation = scenario.CONTROL[mark]
        east, north = alignment.place(station, offset)
        yield {
            "id": f"{session}/{when}/{number}",
            "kind": "control",
            "line_id": mark,
            "target": "mark",
            "design": mark,
            "base_e": round(float(east), 3),
            "base_n": round(float(north), 3),
            "base_z": elevation,
        }


def _strings(seed: int, side: str, part: str) -> Iterator[dict[str, Any]]:
    """Both edges of the walk and both lines of the curb on one side, walked to and fro."""
    begin, finish = scenario.PARTS[part]
    even = np.arange(begin, finish, 25.0)
    for kind, (code, *_) in scenario.SECTION.items():
        line = lines()[f"{code}-{side}-{part}"]
        aside = stream(seed, f"stations {line.name}").uniform(-JITTER, JITTER, len(even))
        aside[0] = 0.0
        at = np.append(even + aside, finish)
        nominal = np.append(even, finish)
        shots = list(string(line, f"{code}{'LR'.index(side) + 2 * int(part) - 1}", at, nominal))
        yield from _renumbered(shots[::-1] if kind in ("curb-top", "walk-front") else shots)


def _renumbered(shots: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    for sequence, shot in enumerate(shots, start=1):
        yield {**shot, "sequence": sequence}


def string(line: DesignLine, line_id: str, at: Any, nominal: Any = None) -> Iterator[dict[str, Any]]:
    """Shots along one design line, in the order of `at`; `nominal` stations name them."""
    feet = line.foot(at)
    names = np.asarray(at if nominal is None else nominal, float)
    for sequence, (east, north, elevation, azimuth, station, name) in enumerate(
        zip(*feet, names, strict=True), start=1
    ):
        yield {
            "id": f"{line.name}/{name:.1f}",
            "kind": line.kind,
            "line_id": line_id,
            "sequence": sequence,
            "target": "line",
            "design": line.name,
            "at": float(name),
            "station": float(station),
            "azimuth": float(azimuth),
            "base_e": float(east),
            "base_n": float(north),
            "base_z": float(elevation),
        }


def _named(*names: str) -> Iterator[dict[str, Any]]:
    """Design points of the named structures, ramps, valves and hydrants."""
    for point in points().values():
        if point.name in names or point.name.split(" ")[0] in names:
            yield {
                "id": point.name,
                "kind": point.kind,
                "line_id": point.name,
                "target": "point",
                "design": point.name,
                "base_e": point.easting,
                "base_n": point.northing,
                "base_z": point.elevation,
            }


def _ground(session: str, places: list[tuple[float, float]]) -> Iterator[dict[str, Any]]:
    for number, (station, offset) in enumerate(places, start=1):
        yield _loose(f"{session}/ground/{number}", "ground", station, offset, 0.14)


def _tilt_test() -> Iterator[dict[str, Any]]:
    for number in range(8):
        for turn, azimuth in enumerate((0.0, 90.0, 180.0, 270.0)):
            for tilt in (0.0, 10.0, 29.5):
                shot = _loose(f"tilt/{number}/{turn}/{tilt:g}", "tilt-test", 1040.0 + 12.0 * number, 31.0, 0.3)
                yield {**shot, "line_id": f"T{number + 1}", "tilt": tilt, "tilt_azimuth": azimuth}


def _loose(name: str, kind: str, station: float, offset: float, above: float) -> dict[str, Any]:
    east, north = alignment.place(station, offset)
    return {
        "id": name,
        "kind": kind,
        "target": "none",
        "base_e": float(east),
        "base_n": float(north),
        "base_z": float(alignment.profile(station)) + above,
    }
