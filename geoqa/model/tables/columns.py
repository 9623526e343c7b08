"""The one list of tables and columns: name, dtype, unit, meaning, null policy.

The page in ``docs`` and the tests are made from it, and every room relies on it.
Units: ``job`` is the job frame's linear unit, ``quantity`` is decided by the row's `quantity`.
"""

from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Any

from geoqa.errors import LayerError
from geoqa.model.tables.baseline_columns import (
    AT_POINT,
    BASELINE_TABLES,
    FINDING_STATIONS,
    GAP_STATIONS,
    ON_STRETCH,
    ONLY_WITH_BASELINE,
    SHOT_STATIONS,
    along,
)
from geoqa.model.tables.column import Column, bare, blank, compared_as, conforms, held_as, nothing
from geoqa.model.tables.column import columns as _columns
from geoqa.model.tables.control_columns import CONTROL_TABLES
from geoqa.model.tables.day_columns import DAY_TABLES
from geoqa.model.tables.fact_columns import FACT_TABLES
from geoqa.model.tables.linework_columns import HANGS_ON, LINE_WORD, LINEWORK_TABLES
from geoqa.model.tables.match_columns import MATCH_TABLES
from geoqa.model.tables.method_columns import DECIDED, METHOD_TABLES
from geoqa.model.tables.surface_columns import SURFACE_TABLES
from geoqa.model.tables.utility_columns import UTILITY_TABLES
from geoqa.model.tables.walk_columns import WALK_TABLES

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from pandas.api.extensions import ExtensionArray

    ColumnValues = pd.Series | np.ndarray | ExtensionArray

SCHEMA_VERSION = 1
"""Version of the tables on disk; files carry it."""

TIME = "datetime64[us, UTC]"

SOLUTIONS = ("fixed", "float", "differential", "autonomous", "other")
"""Words of the column `solution`."""


TABLES: dict[str, tuple[Column, ...]] = {
    "shots": _columns(
        ("shot_key", "str", "", "source/name; repeats get ~2 … by time, easting, northing", "never, unique"),
        ("source", "str", "", "id of the [[shots]] table", "never"),
        ("line", "int64", "", "1-based line in that file", "never"),
        ("shot", "str", "", "name as written", "yes"),
        ("easting northing elevation", "float64", "job", "in the job's frame", "yes: cannot be judged"),
        ("raw_easting raw_northing raw_elevation", "str", "file", "text as read", "yes"),
        ("code line_id", "str", "", "as written", "yes"),
        ("sequence", "Int64", "", "order within the line", "yes"),
        ("note", "str", "", "as written; untrusted text", "yes"),
        ("photo", "str", "", "file names as written", "yes"),
        ("time", TIME, "", "observation", "yes"),
        ("session initialization", "str", "", "groups that share errors", "yes"),
        ("solution", "str", "", ", ".join(SOLUTIONS), "yes"),
        ("satellites epochs", "Int32", "count", "as in the log", "yes"),
        ("pdop hdop vdop", "float64", "", "as in the log", "yes"),
        ("correction_age", "float64", "s", "as in the log", "yes"),
        ("reported_h reported_v", "float64", "job", "as in the log; confidence is declared per source", "yes"),
        ("rod_height", "float64", "job", "rod to antenna reference", "yes"),
        ("tilt", "float64", "deg", "from plumb", "yes"),
        ("tilt_azimuth", "float64", "deg", "from tip to antenna, clockwise from grid north", "yes"),
        ("kind", "str", "", "from codes", "yes: unknown code", "kinds"),
        ("role", "str", "", "from codes: feature, check, other", "yes: unknown code", "kinds"),
        ("u_h_random u_v_random u_h_common u_v_common", "float64", "job", "1 sigma; H per axis", "yes", "uncertainty"),
        ("combined_factor", "float64", "1", "grid over ground at the shot", "yes: no elevation", "grid-ground"),
        ("use", "bool", "", "false = flagged out, still listed", "never", "usable-shots"),
        ("flags", "str", "", "sorted reason codes joined by ;", "never; empty text is none", "usable-shots"),
        *along(AT_POINT, SHOT_STATIONS),
        LINE_WORD,
    ),
    "control": _columns(
        ("mark", "str", "", "name of the mark", "never, unique"),
        ("easting northing elevation", "float64", "job", "published, in the job's frame", "yes"),
        ("u_h u_v", "float64", "job", "1 sigma of the published value; H per axis", "yes: taken as 0"),
        ("held independent", "bool", "", "held in the field set-up; never held", "never"),
        ("reference", "str", "", "where the values come from", "yes"),
    ),
    "codes": _columns(
        ("code", "str", "", "as the crew writes it", "never, unique"),
        ("kind", "str", "", "feature kind, e.g. curb-top", "never"),
        ("geometry", "str", "", "line or point", "never"),
        ("role", "str", "", "feature, check or other", "never"),
        ("pairs_with", "str", "", "code of the partner, e.g. flow line of a curb top", "yes"),
        ("meaning", "str", "", "words", "yes"),
        ("known_by", "str", "", "how it knows what is buried: exposed, measure-down, mark, record", "yes: not said"),
    ),
    "design_lines": _columns(
        ("line", "str", "", "name of the design line", "never, unique"),
        ("kind", "str", "", "feature kind", "never"),
        ("source", "str", "", "id of the [[design]] table", "never"),
    ),
    "design_elements": _columns(
        ("line", "str", "", "design line it belongs to", "never"),
        ("sequence", "int64", "", "order along the line, from 0", "never"),
        ("shape", "str", "", "line or arc", "never"),
        ("start_easting start_northing end_easting end_northing", "float64", "job", "ends", "never"),
        ("centre_easting centre_northing radius", "float64", "job", "arc only", "yes"),
        ("sense", "int64", "", "+1 curves right, -1 left, 0 straight", "never"),
        ("start_station length", "float64", "job", "along the line", "never"),
        ("start_elevation end_elevation", "float64", "job", "design elevation at the ends", "yes"),
    ),
    "design_points": _columns(
        ("point", "str", "", "name of the design point", "never, unique"),
        ("kind", "str", "", "feature kind", "never"),
        ("source", "str", "", "id of the [[design]] table", "never"),
        ("easting northing elevation", "float64", "job", "design position", "elevation: yes"),
    ),
    "surface_points": _columns(
        ("surface", "str", "", "name of the surface", "never"),
        ("source", "str", "", "id of the [[design]] table", "never"),
        ("point", "int32", "", "number within its surface, from 0", "never"),
        ("easting northing elevation", "float64", "job", "design position", "never"),
    ),
    "surface_faces": _columns(
        ("surface", "str", "", "name of the surface", "never"),
        ("source", "str", "", "id of the [[design]] table", "never"),
        ("first second third", "int32", "", "its corners, numbers of points of the same surface", "never"),
    ),
    "limits": _columns(
        ("ruleset", "str", "", "which set of rules", "never"),
        ("kind check", "str", "", "what it applies to", "never"),
        ("quantity", "str", "", "length, ratio, count, angle", "never"),
        ("lower upper", "float64", "quantity", "on the deviation; one-sided ±inf", "never"),
        ("rule", "str", "", "decision rule: guarded, simple, or guard R (multiple of U)", "never"),
        ("reference", "str", "", "where the limit is written", "never"),
        ("edition", "str", "", "of the reference", "yes"),
        ("verified", "bool", "", "a person compared it with the reference", "never"),
    ),
    "precision": _columns(
        ("kind", "str", "", "feature kind, * for all, or file: and the id of a file of shots", "never"),
        ("h_random v_random h_common v_common", "float64", "job", "1 sigma per shot, as the job declares it", "yes"),
        ("reference", "str", "", "where these come from", "never"),
    ),
    "screening": _columns(
        ("kind", "str", "", "feature kind, or * for all", "never"),
        ("field", "str", "", "shots column looked at", "never"),
        ("worst", "str", "", "worst value still taken, with its unit, or allowed words", "never"),
        ("action", "str", "", "warn (listed) or reject (not judged)", "never"),
        ("reference", "str", "", "where the limit comes from", "never"),
        ("source", "str", "", "id of the table of the job; preset: the job names none", "yes"),
    ),
    "findings": _columns(
        ("finding", "str", "", "stable id", "never, unique"),
        ("item", "str", "", "number that people cite; it survives runs and rounds", "yes: within tolerance", "items"),
        ("decision", "str", "", DECIDED, "yes: none, or it changed since", "decided"),
        ("check", "str", "", "offset, elevation, position, coverage …; listed in words", "never"),
        ("against", "str", "", "rule set + design source", "never"),
        (
            "kind subject label",
            "str",
            "",
            "subject = design line, point or mark; label for people",
            "subject - if none",
        ),
        ("shot", "str", "", "key of the main shot; more in evidence", "yes"),
        ("run", "str", "", "finding id of the run or place it belongs to", "yes"),
        ("station station_end offset", "float64", "job", "along the design; offset right +", "yes"),
        ("easting northing elevation", "float64", "job", "where to fly to", "yes"),
        ("quantity", "str", "", "length, ratio, count, angle", "never"),
        ("design measured deviation", "float64", "quantity", "measured - design; of falls and reveals measured", "yes"),
        ("lower upper", "float64", "quantity", "on the deviation; NaN = no limit known", "yes"),
        ("u_common u_random u", "float64", "quantity", "1 sigma; u is what was judged with", "yes"),
        ("rule", "str", "", "decision rule", "yes: no limit"),
        ("p_conform", "float64", "1", "probability that the true value conforms", "yes"),
        ("verdict", "str", "", "IN, OUT, UNDECIDED, NO_DATA", "never"),
        ("why", "str", "", "code of a closed list in words", "never"),
        ("cause remedy", "str", "", "what it probably is; the cheapest deciding measurement", "yes"),
        ("reference edition", "str", "", "source of the limit", "reference never"),
        ("verified", "boolean", "", "limit compared with its source by a person", "yes"),
        (
            "excess",
            "float64",
            "1",
            "distance beyond the nearer limit over u; worst first",
            "yes; in files also where u is 0",
        ),
        *along(ON_STRETCH, FINDING_STATIONS),
        HANGS_ON,
    ),
    "evidence": _columns(
        ("finding role layer key", "str", "", "which row of which layer, and as what", "never"),
        ("weight", "float64", "1", "share in the judged number", "yes"),
    ),
    "sources": _columns(
        ("source role path sha256 reader version", "str", "", "what was read, by what", "never"),
        ("encoding delimiter crs unit detected", "str", "", "detected is JSON", "yes"),
        ("confidence", "str", "", "of reported_h and reported_v: 1 sigma or 95 %", "yes: unknown"),
        ("sheet revision dated", "str", "", "of a design, as the job says; the date by ISO 8601", "yes: not said"),
    ),
    "runs": _columns(
        ("run", "str", "", "finding id of the run's own finding", "never, unique"),
        ("check kind line", "str", "", "what agrees, along which design line", "never"),
        ("station station_end", "float64", "job", "first and last shot", "never"),
        ("shots", "int64", "count", "members", "never"),
        ("mean", "float64", "job", "weighted mean deviation of the members", "never"),
        ("u_common u_random", "float64", "job", "1 sigma of the mean", "never"),
        ("u_choice", "float64", "job", "part of u_random that comes of the run having been chosen", "never"),
        ("lasting", "float64", "1", "share of the shots' own variance taken to last from shot to shot", "never"),
        ("extreme", "float64", "job", "deviation of the member that lies farthest off", "never"),
        ("extreme_shot", "str", "", "key of that shot", "never"),
        ("against", "str", "", "rule set + design source", "never"),
        ("verdict", "str", "", "of the run's own finding", "never"),
    ),
    "run_members": _columns(
        ("run", "str", "", "finding id of the run's own finding", "never"),
        ("shot_key", "str", "", "which shot", "never"),
        ("weight", "float64", "1", "share in the mean", "never"),
    ),
    "places": _columns(
        ("place", "str", "", "finding id of the place's own finding", "never, unique"),
        ("check kind subject", "str", "", "what was shot several times: design line or point", "never"),
        ("station", "float64", "job", "along a line", "yes: point"),
        ("shots", "int64", "count", "shots that were taken there and count", "never"),
        ("independent", "float64", "count", "independent shots that would be as good", "never"),
        ("mean", "float64", "job", "weighted mean of the deviation", "never"),
        ("u_common u_random", "float64", "job", "1 sigma of the mean, enlarged where the shots differ", "never"),
        ("enlarged", "float64", "1", "by how many times, because the shots differ; 1 is not", "never"),
        ("against", "str", "", "rule set + design source", "never"),
        ("verdict", "str", "", "of the place's own finding", "never"),
    ),
    "place_members": _columns(
        ("finding", "str", "", "finding id of the place's own finding", "never"),
        ("check against", "str", "", "what it is about", "never"),
        ("shot_key", "str", "", "which shot", "never"),
        ("weight", "float64", "1", "share in the mean", "never"),
    ),
    "gaps": _columns(
        ("finding", "str", "", "the finding it belongs to", "never, unique"),
        ("kind line", "str", "", "design line without evidence", "never"),
        ("station station_end length", "float64", "job", "along the design", "never"),
        *along(ON_STRETCH, GAP_STATIONS),
    ),
    "beyond_limits": _columns(
        ("design kind", "str", "", "design line or point beyond the limits of work", "never"),
        ("shape", "str", "", "line or point", "never"),
        ("start_station end_station length", "float64", "job", "the stretch of a line", "yes: point"),
    ),
    "chorded_curves": _columns(
        ("line", "str", "", "design line with a curve that is drawn in chords", "never"),
        ("start_station end_station", "float64", "job", "of the curve, along its chords", "never"),
        ("radius", "float64", "job", "of the circle through its vertices", "never"),
        ("chord ordinate", "float64", "job", "longest chord, and its middle ordinate", "never"),
        ("chords", "int64", "count", "how many", "never"),
        ("design_is", "str", "", "arc or chords, as the job says", "never; empty text is not said"),
    ),
    "bands": _columns(
        ("kind line", "str", "", "design line the band belongs to", "never"),
        ("lower upper", "float64", "job", "left and right limit of the offset", "never"),
        ("reference", "str", "", "where the limit is written", "never"),
    ),
    **BASELINE_TABLES,
    **CONTROL_TABLES,
    **DAY_TABLES,
    **FACT_TABLES,
    **LINEWORK_TABLES,
    **MATCH_TABLES,
    **METHOD_TABLES,
    **SURFACE_TABLES,
    **WALK_TABLES,
    **UTILITY_TABLES,
}

REPLACED = {
    "design_lines": "replaced_lines",
    "design_elements": "replaced_elements",
    "design_points": "replaced_points",
}
"""Design that an approved change replaces: where it is kept, with the columns it had."""

TABLES |= {kept: TABLES[name] for name, kept in REPLACED.items()}

PLACED = {
    "shots": "Point",
    "control": "Point",
    "design_lines": "LineString",
    "design_points": "Point",
    "findings": "Point",
    "runs": "LineString",
    "gaps": "LineString",
    "walk_sections": "LineString",
    "bands": "Polygon",
    "structures": "Point",
    "pipes": "LineString",
    "pipe_vertices": "Point",
    "asbuilt_lines": "LineString",
    "asbuilt_areas": "Polygon",
}
"""Tables with a 2D geometry in the job's frame, and its type (Polygon and LineString may be multi)."""

COORDINATES: dict[str, tuple[tuple[str, str, str | None], ...]] = {
    "shots": (("easting", "northing", "elevation"),),
    "control": (("easting", "northing", "elevation"),),
    "design_points": (("easting", "northing", "elevation"),),
    "surface_points": (("easting", "northing", "elevation"),),
    "design_elements": (
        ("start_easting", "start_northing", "start_elevation"),
        ("end_easting", "end_northing", "end_elevation"),
        ("centre_easting", "centre_northing", None),
    ),
    "baseline": (("easting", "northing", None),),
    "baseline_equations": (),
    "baseline_profile": (),
    "section": (),
}
"""Easting, northing and elevation columns that a change of frame moves; other `job` columns are only scaled.

A table without any lies nowhere by itself, and is scaled as its file is."""

_NOT_ALWAYS = {*ONLY_WITH_BASELINE, LINE_WORD[-1], HANGS_ON[-1], "items", "decided"}

STARTING = ("findings", "evidence", "flags", "notes")
"""Tables that exist, empty, before the first step."""

IN_SOME_JOBS = frozenset({HANGS_ON[0]})
"""Columns that a step may add with its rows though no row before had them."""


def columns_of(table: str, *, made_by: str | None = None) -> tuple[Column, ...]:
    """Columns of a table: all of them, or only those made by one step (``""`` = by a reader)."""
    if table not in TABLES:
        raise LayerError(f"No table named '{table}'; known tables are {', '.join(TABLES)}.")
    return tuple(each for each in TABLES[table] if made_by is None or each.made_by == made_by)


def lengths_of(table: str) -> list[str]:
    """Names of the columns whose unit is the job's, coordinates left out."""
    placed = {name for group in COORDINATES.get(table, ()) for name in group}
    return [each.name for each in columns_of(table) if each.unit == "job" and each.name not in placed]


def empty(table: str) -> "pd.DataFrame":
    """An empty table with the right columns and dtypes.

    Examples
    --------
    >>> empty("evidence").dtypes["weight"].name
    'float64'
    """
    return blank(_in_every_job(columns_of(table))).copy(deep=False)


def _in_every_job(known: tuple[Column, ...], held: Collection[str] = ()) -> tuple[Column, ...]:
    """Columns but those that only some jobs have, with a baseline or words of lines; of these, the ones there are."""
    return tuple(each for each in known if each.made_by not in _NOT_ALWAYS or each.name in held)


def conform(table: str, frame: "pd.DataFrame", *, made_by: str | None = None) -> "pd.DataFrame":
    """Put a table's columns in their order and dtype; add the ones that are missing, as null.

    Columns that `TABLES` does not know follow, unchanged, in their given order.

    Raises
    ------
    LayerError
        A column cannot be held in its dtype.
    """
    import pandas as pd

    held = dict(zip(frame.columns, frame.dtypes, strict=True))
    known = _in_every_job(columns_of(table, made_by=made_by), held)
    if not len(frame) and held.keys() <= {each.name for each in known}:
        return blank(known).copy(deep=False)
    if type(frame) is pd.DataFrame and conforms(held, known):
        return frame.copy(deep=False)
    return conformed(table, dict(frame.items()), index=frame.index, made_by=made_by)


def conformed(
    table: str, columns: "Mapping[Any, ColumnValues]", *, index: "pd.Index", made_by: str | None = None
) -> "pd.DataFrame":
    """As `conform`, from columns that nobody has made a table of yet: making one and then another is dear.

    Parameters
    ----------
    table : str
    columns : mapping of str to Series or array
        A Series has `index` as its own.
    index : Index
    made_by : str, optional
        As for `columns_of`.

    Raises
    ------
    LayerError
        A column cannot be held in its dtype.
    """
    import pandas as pd

    known = _in_every_job(columns_of(table, made_by=made_by), columns.keys())
    held: dict[str, Any] = {}
    for each in known:
        try:
            if each.name in columns:
                there = columns[each.name]
                # a cast, even to what it is, costs ten times the question, and a run asks some thousand times
                held[each.name] = (
                    there
                    if there.dtype == compared_as(each.dtype)
                    else pd.Series(there, index=index).astype(held_as(each.dtype))
                )
            elif each.dtype in ("int64", "bool"):
                raise LayerError(f"Table '{table}' lacks its column '{each.name}' ({each.meaning}).")
            else:
                held[each.name] = nothing(each.dtype, len(index))
        except (ValueError, TypeError) as error:
            raise LayerError(f"Column '{each.name}' of table '{table}' must be {each.dtype}: {error}") from error
    rest = {name: column for name, column in columns.items() if name not in held}
    return pd.DataFrame({name: bare(column) for name, column in {**held, **rest}.items()}, index=index)
