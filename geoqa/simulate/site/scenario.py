"""Tannery Lane, phase 0: the numbers of the invented job, in international feet.

The town of Larkmere, its streets, marks and structures are invented; the coordinates lie in open country.
Stations and offsets (right positive) are of the centre line. Elevations of a section are above the centre line.
"""

from dataclasses import dataclass

from geoqa.errors import JobError

TITLE = "Tannery Lane, phase 0"
PLACE = "Town of Larkmere, Quill County"
REVISION = "Design rev. B, 2026-03-14"
REVISED = "2026-03-14"
JOB_DATE = "2026-05-15"
VERTICAL = "EPSG:8228"

BEGIN, FINISH = 1000.0, 2970.0
OSPREY = (2210.0, 2250.0)
"""Osprey Street opening: neither curb nor walk."""


@dataclass(frozen=True)
class Zone:
    """A coordinate system and where station 10+00 lies in it."""

    code: str
    easting: float
    northing: float


ZONES = {
    zone.code: zone
    for zone in (
        Zone("EPSG:6547", 2_228_500.0, 446_000.0),
        Zone("EPSG:6559", 8_253_000.0, 687_000.0),
        Zone("EPSG:6405", 553_000.0, 1_055_000.0),
    )
}
"""North Dakota South, Oregon North, Arizona Central; all NAD83(2011), international foot."""


def zone_named(code: str) -> Zone:
    """Look a zone of the demo up.

    Raises
    ------
    JobError
        The demo has no site in that zone.

    Examples
    --------
    >>> zone_named("EPSG:6405").northing
    1055000.0
    """
    if code not in ZONES:
        raise JobError(f"The demo has no site in '{code}'; it has one in each of {', '.join(ZONES)}.")
    return ZONES[code]


SECTION = {
    "curb-flow": ("CFL", 16.0, -0.40),
    "curb-top": ("CTB", 16.5, 0.10),
    "walk-front": ("WKF", 21.0, 0.19),
    "walk-back": ("WKB", 26.0, 0.265),
}
"""Kind: code, distance from the centre line, elevation above it."""

SIDES = {"L": -1.0, "R": 1.0}
PARTS = {"1": (BEGIN, OSPREY[0]), "2": (OSPREY[1], FINISH)}


@dataclass(frozen=True)
class Depression:
    """A reach where a curb or walk line is lowered: full from `first` to `last`, tapering off on both sides."""

    name: str
    side: str
    first: float
    last: float
    taper: float
    lowered: dict[str, float]


_AT_RAMP = {"curb-top": -0.4625, "walk-front": -0.215, "walk-back": -0.155}
"""Ramp 16.0 to 22.0 at 7.5 % from the flow line, turning space 22.0 to 26.0 at 1.5 %, less the walk's own section."""

DEPRESSIONS = (
    Depression("CR-1", "L", 1417.5, 1422.5, 8.0, _AT_RAMP),
    Depression("CR-2", "R", 1417.5, 1422.5, 8.0, _AT_RAMP),
    Depression("CR-3", "L", 2250.0, 2255.0, 8.0, _AT_RAMP),
    Depression("DWY-1", "L", 1654.0, 1670.0, 3.0, {"curb-top": -0.40}),
)

RAMP_POINTS = {
    "1": ("ramp", -2.5, 16.0, -0.40),
    "2": ("ramp", 0.0, 16.0, -0.40),
    "3": ("ramp", 2.5, 16.0, -0.40),
    "4": ("ramp", -2.5, 22.0, 0.05),
    "5": ("ramp", 0.0, 22.0, 0.05),
    "6": ("ramp", 2.5, 22.0, 0.05),
    "7": ("ramp", -2.5, 26.0, 0.11),
    "8": ("ramp", 2.5, 26.0, 0.11),
    "W1": ("detectable-warning", -2.5, 16.5, -0.3625),
    "W2": ("detectable-warning", 2.5, 16.5, -0.3625),
}
"""Point: kind, along the curb from the middle of the ramp, distance from the centre line, elevation above it."""

STRUCTURES = {
    "IN-1": (2009.0, -16.0, 1455.87, {"out": 1451.40}),
    "MH-1": (2009.0, 4.0, 1456.19, {"in": 1451.20, "out": 1451.10}),
    "MH-2": (2260.0, 4.0, 1457.22, {"in": 1450.10, "out": 1450.00}),
    "OF-1": (2500.0, 60.0, None, {"out": 1448.77}),
}
"""Station, offset, rim, inverts."""

PIPES = {
    "P-1": ("IN-1", "out", "MH-1", "in", 12.0, 2.0),
    "P-2": ("MH-1", "out", "MH-2", "in", 15.0, 2.25),
    "P-3": ("MH-2", "out", "OF-1", "out", 18.0, 2.5),
}
"""From, to, inside diameter and wall in inches."""

WATER = ("W-1", 1020.0, 2950.0, -9.0, -0.18 - 7.50)
"""Line, from, to, offset, top of pipe above the centre line: surface at 2 % less the cover of 7.50."""

WATER_SIZE = (8.0, 0.35)
"""Inside diameter and wall in inches."""

VALVES = {"WV-1": 1030.0, "WV-2": 1984.0, "WV-3": 2945.0}
HYDRANTS = {"HYD-1": (1600.0, -19.0, 1.65)}

DRIVEWAY = ("DWY-1", ((1654.0, -26.0), (1654.0, -38.0), (1670.0, -38.0), (1670.0, -26.0)))
"""Edge of a driveway behind the walk; it rises at 2 % from the back of the walk."""

CONTROL = {
    "CP-1": (1010.0, 34.0, 1461.640),
    "CP-2": (1350.0, -32.0, 1459.600),
    "CP-3": (1790.0, 33.0, 1456.960),
    "CP-4": (2130.0, -34.0, 1456.350),
    "CP-5": (2560.0, 32.0, 1458.500),
    "CP-6": (2960.0, -31.0, 1460.500),
}
CONTROL_U = (0.005, 0.010)
"""Standard uncertainty of the published values: each horizontal axis, elevation."""
INDEPENDENT = ("CP-6",)

CODES = (
    ("CHK", "control", "point", "check", None, "check shot on a control mark"),
    ("CFL", "curb-flow", "line", "feature", "CTB", "flow line of the gutter"),
    ("CTB", "curb-top", "line", "feature", "CFL", "top back of curb"),
    ("WKF", "walk-front", "line", "feature", "WKB", "front edge of walk"),
    ("WKB", "walk-back", "line", "feature", "WKF", "back edge of walk"),
    ("RMP", "ramp", "point", "feature", None, "corner of a curb ramp or turning space"),
    ("RMO", "ramp-outline", "line", "feature", None, "outline of a curb ramp with its turning space, a closed line"),
    ("RMG", "ramp-gutter", "point", "feature", None, "gutter in front of a curb ramp, edge of the pan"),
    ("DWS", "detectable-warning", "point", "feature", None, "corner of a detectable warning"),
    ("DWY", "driveway", "line", "feature", None, "edge of driveway"),
    ("RIM", "rim", "point", "feature", "INV", "rim or grate of a structure"),
    ("INV", "invert", "point", "feature", "RIM", "pipe invert, reduced from rim and measure-down"),
    ("WTP", "water-top", "line", "feature", None, "top of water pipe in open trench"),
    ("STP", "storm-top", "line", "feature", None, "top of storm pipe in open trench"),
    ("WVL", "valve", "point", "feature", None, "valve box, centre of lid"),
    ("HYD", "hydrant", "point", "feature", None, "hydrant, centre of flange"),
    ("OBS", "obstruction", "point", "other", None, "obstruction in a walk"),
    ("GND", "ground", "point", "other", None, "ground"),
    ("TLT", "tilt-test", "point", "other", None, "tilt test of the rod"),
)
"""Code, kind, geometry, role, pairs with, meaning."""

CODE_OF = {kind: code for code, kind, *_ in CODES}

TOLERANCES: dict[str, tuple[float | None, float | None, float | None]] = {
    "control": (0.10, 0.15, None),
    "curb-flow": (0.10, 0.08, 30.0),
    "curb-top": (0.10, 0.08, 30.0),
    "walk-front": (0.15, 0.06, 30.0),
    "walk-back": (0.15, 0.06, 30.0),
    "ramp": (0.15, 0.06, None),
    "detectable-warning": (0.15, 0.06, None),
    "driveway": (0.25, None, 30.0),
    "rim": (0.20, 0.10, None),
    "invert": (None, 0.05, None),
    "storm-top": (0.50, None, 30.0),
    "water-top": (0.50, None, 30.0),
    "valve": (0.30, None, None),
    "hydrant": (0.30, None, None),
}
"""Kind: horizontal, vertical, spacing of evidence. Demo values, taken from no agency."""
WALK_SLOPE = 0.015
"""Cross slope of the walks as designed."""
REVEAL = 0.50
"""Top of curb above the flow line as designed, where the curb is not lowered."""

FINISHED: dict[str, dict[str, str | tuple[str, str]]] = {
    "walk": {"cross_slope": "1:48", "running_slope": "1:20", "width": "4 ft"},
    "ramp": {"ramp_slope": "1:12", "cross_slope": "1:48", "counter_slope": "1:20", "turning_space": "4 ft",
             "turning_slope": "1:48"},
    "detectable-warning": {"warning_depth": "2 ft"},
    "curb": {"reveal": ("0.42 ft", "0.58 ft")},
    "curb-flow": {"ponding": "0.04 ft"},
    "storm-top": {"pipe_slope": ("0.30 %", ""), "straightness": "0.0625 ft"},
    "water-top": {"cover": "7 ft", "clearance": "1.50 ft"},
    "driveway": {"surface": "0.15 ft"},
}  # fmt: skip
"""Kind: keys of its tolerance that several shots tell together; two values are the least and the most, none where that
side is open. Demo values, taken from no agency."""

FINISHED_LIMITS = {
    "cross-slope": (-1 / 48, 1 / 48), "ramp-slope": (-float("inf"), 1 / 12), "counter-slope": (-float("inf"), 1 / 20),
    "turning-space": (4.0, float("inf")), "clear-width": (4.0, float("inf")),
    "ponding": (-float("inf"), 0.04),
    "reveal": (0.42, 0.58), "cover": (7.0, float("inf")),
}  # fmt: skip
"""The same as limits, by check, where the truth needs them."""

TOLERANCE_REFERENCE = "Demo tolerance table, sheet C-101 (invented)"

U_HORIZONTAL = 0.02
"""Each axis, one shot, everything included; no part of it is shared by a session."""
U_VERTICAL = 0.02
"""One shot, relative to its session."""
U_SESSION = 0.02
"""Elevation bias shared by all shots of a session."""
U_MEASURE_DOWN = 0.02

PRECISION = {
    "*": (U_HORIZONTAL, U_VERTICAL, 0.0, U_SESSION),
    "invert": (U_HORIZONTAL, 0.0283, 0.0, U_SESSION),
}
"""Kind: horizontal random, vertical random, horizontal common, vertical common; 1 sigma."""
PRECISION_REFERENCE = "Crew's repeat shots (invented); invert: shot and measure-down, 0.02 ft each"

SCREENING = (
    ("*", "solution", "fixed", "reject", "Common practice, no source"),
    ("*", "pdop", "4.0", "reject", "Common practice, no source"),
    ("*", "satellites", "7", "warn", "Common practice, no source"),
    ("*", "correction_age", "5 s", "warn", "Common practice, no source"),
    ("*", "tilt", "30 deg", "reject", "Demo rule: beyond the crew's own tilt test"),
)
"""Kind, field, worst value still taken, action, reference."""

BUILT_OFFSET, BUILT_ELEVATION = 0.015, 0.008
"""Amplitude of the slow wander of sound construction about its design."""
