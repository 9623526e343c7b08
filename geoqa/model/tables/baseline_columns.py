"""Tables of the baseline: its pieces, equations and profile, the typical section, and places along it."""

from geoqa.model.tables.column import Column, columns

BASELINE_TABLES: dict[str, tuple[Column, ...]] = {
    "baseline": columns(
        ("baseline", "str", "", "name of the centre line", "never"),
        ("sequence", "int64", "", "order along it, from 0", "never"),
        ("shape", "str", "", "line, arc or spiral (curvature changes evenly with length)", "never"),
        ("easting northing", "float64", "job", "start of the piece", "never"),
        ("azimuth", "float64", "deg", "direction at its start, clockwise from grid north", "never"),
        ("length", "float64", "job", "along it", "never"),
        ("start_radius end_radius", "float64", "job", "positive curving right", "yes: straight"),
        ("start_station", "float64", "job", "continuous station of its start, without equations", "never"),
        ("stationed", "float64", "job", "what the station grows by; on the ground where it was given there", "never"),
        ("left_out", "str", "", "what of the file is not used, in words", "never; empty text is none"),
    ),
    "baseline_equations": columns(
        (
            "back ahead",
            "float64",
            "job",
            "stations as written: of the stretch that ends, of the one that begins",
            "never",
        ),
    ),
    "baseline_profile": columns(
        ("station", "float64", "job", "of the point of vertical intersection, as written", "never"),
        ("equation", "Int64", "", "how many equations the station lies after; -1: it is continuous", "yes: not said"),
        ("elevation", "float64", "job", "where the grades meet", "never"),
        ("curve_in curve_out", "float64", "job", "length of the parabola before and after it; 0 for none", "never"),
        ("place", "str", "", "file and line it comes from", "never"),
    ),
    "section": columns(
        ("sequence", "int64", "", "order in the file", "never"),
        ("line kind", "str", "", "design line it makes, and its feature kind", "never"),
        ("from_station to_station", "float64", "job", "stretch, as written", "never"),
        ("from_equation to_equation", "Int64", "", "how many equations the stations lie after", "yes: not said"),
        ("after", "str", "", "line the width counts from; the baseline if empty", "never; empty text is the baseline"),
        ("width", "float64", "job", "from that line, positive to the right", "never"),
        ("slope", "float64", "1", "rise over width, positive rising outward", "never"),
        ("rise", "float64", "job", "on top of that", "never"),
        ("source", "str", "", "id of the table of the job", "never"),
        ("left_out", "str", "", "what of the file is not used, in words", "yes"),
        ("place", "str", "", "file and line it comes from", "never"),
    ),
}

SHOT_STATIONS, FINDING_STATIONS, GAP_STATIONS = "shot-stations", "finding-stations", "gap-stations"
ONLY_WITH_BASELINE = frozenset({SHOT_STATIONS, FINDING_STATIONS, GAP_STATIONS})
"""Steps whose columns a table has only where the job has a baseline."""

_STATION = "along the baseline, as its drawing counts"
_OFFSET = "from the baseline, right +"
_EQUATION = "how many station equations it lies after, 0 before the first"
_PLACE = "the same in words, or why there is no station"

AT_POINT = (
    ("baseline_station", "float64", "job", _STATION, "yes: beyond its ends, or not unique"),
    ("baseline_offset", "float64", "job", _OFFSET, "yes: as the station"),
    ("baseline_equation", "Int64", "", _EQUATION, "yes: as the station"),
    ("baseline_place", "str", "", _PLACE, "yes: it lies nowhere"),
)
"""Columns of a table of points."""
ON_STRETCH = (AT_POINT[0], ("baseline_station_end", "float64", "job", _STATION, "yes: as the station"), *AT_POINT[1:])
"""Columns of a table of points and stretches."""


def along(rows: tuple[tuple[str, str, str, str, str], ...], step: str) -> tuple[tuple[str, ...], ...]:
    """Rows of `geoqa.model.tables.column.columns` that a step makes."""
    return tuple((*row, step) for row in rows)
