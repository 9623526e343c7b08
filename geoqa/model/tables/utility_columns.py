"""Tables about structures and pipes: what was noted of them, the schedule, the network, and the right of way."""

from geoqa.model.tables.column import Column, columns

KNOWN_BY = ("exposed", "measure-down", "mark", "record")
"""How a shot knows what is buried: the thing itself was shot, it was measured down, its marks on the ground were shot,
or a record was drawn. Only the first two are measurements of it."""
MEASURED = KNOWN_BY[:2]

UTILITY_TABLES: dict[str, tuple[Column, ...]] = {
    "structure_notes": columns(
        ("source", "str", "", "id of the [[structures]] table", "never"),
        ("line", "int64", "", "1-based line in that file", "never"),
        ("structure", "str", "", "name of the structure", "yes: a row about a pipe alone"),
        ("shot", "str", "", "name of the shot of its rim", "yes: the shot that bears the structure's name"),
        ("pipe", "str", "", "name of the pipe whose end it is", "yes: a row about the structure alone"),
        ("direction", "str", "", "in or out: the water runs into the structure or out of it", "yes: not noted"),
        ("invert_shot", "str", "", "name of the shot of the invert itself", "yes: measured down"),
        ("measure_down", "float64", "job", "from the rim to the invert", "yes: not measured"),
        ("u_measure_down", "float64", "job", "its 1 sigma", "yes: as the step takes it"),
        ("sump depth", "float64", "job", "from the rim to the sump; depth of what is buried", "yes"),
        ("size material type facing", "str", "", "as written; untrusted text", "yes"),
        ("diameter wall", "float64", "m", "inside diameter that `size` states; thickness of the wall", "yes"),
        ("kind", "str", "", "feature kind of the pipe", "yes: that of its design line, else pipe"),
    ),
    "reduced_shots": columns(
        ("shot_key", "str", "", "shot of an invert that is the rim less a questioned measure-down", "never, unique"),
        ("slip", "float64", "job", "what its elevation changes by if that was misread", "never"),
        ("title", "str", "", "how it was misread, in words", "never"),
    ),
    "structures": columns(
        ("structure pipe direction", "str", "", "one end of a pipe in a structure, or a structure alone", "yes"),
        ("shot_key", "str", "", "shot of the rim, or of the invert itself", "yes: none was found"),
        ("easting northing elevation", "float64", "job", "of that shot", "yes"),
        ("rim measure_down invert sump", "float64", "job", "elevations, and the measure-down between", "yes"),
        ("u_common u_random", "float64", "job", "1 sigma of the invert", "yes"),
        ("design_invert deviation", "float64", "job", "of the end of the pipe's design line; measured - design", "yes"),
        ("size material type facing", "str", "", "as noted", "yes"),
        ("diameter wall", "float64", "job", "inside diameter; thickness of the wall", "yes"),
        ("depth", "float64", "job", "as noted", "yes"),
        ("missing", "str", "", "required attributes that nobody noted, joined by ,", "never; empty text is none"),
        ("question", "str", "", "slip that the measure-down looks like: whole-feet, tenths, unit or rim", "never"),
        ("invert_without", "float64", "job", "invert if it was misread so", "yes: no question"),
        ("why", "str", "", "why there is no invert", "never; empty text is none"),
    ),
    "pipes": columns(
        ("pipe kind", "str", "", "name and feature kind", "never, unique"),
        ("upper lower", "str", "", "structures at whose ends the water enters and leaves", "yes"),
        ("length", "float64", "job", "in plan, from shot to shot of its ends", "yes"),
        ("slope u_slope design_slope", "float64", "1", "fall over length, its 1 sigma, and that of the design", "yes"),
        ("diameter wall", "float64", "job", "inside diameter; thickness of the wall", "yes"),
        ("material", "str", "", "as noted", "yes"),
        ("why", "str", "", "why it has no slope", "never; empty text is none"),
    ),
    "pipe_vertices": columns(
        ("pipe kind", "str", "", "name and feature kind of the pipe", "never"),
        ("measured", "bool", "", "of the pipe itself; marks and records are lines of their own", "never"),
        ("sequence", "int64", "", "order along the line, from 0", "never"),
        ("known_by", "str", "", "exposed, measure-down, mark or record", "never; empty text is not said"),
        ("shot_key", "str", "", "shot it rests on", "yes"),
        ("easting northing elevation", "float64", "job", "top of the pipe, or invert of an end", "yes"),
    ),
    "minimum_slopes": columns(
        ("ruleset", "str", "", "which set of rules", "never"),
        ("diameter", "float64", "m", "inside diameter of a pipe", "never"),
        ("slope", "float64", "1", "least fall of such a pipe", "never"),
        ("reference edition", "str", "", "where it is written", "never"),
        ("verified", "bool", "", "a person compared it with the reference", "never"),
    ),
    "drawn_at": columns(
        ("source", "str", "", "id of the [[design]] table whose pipes it is said of", "never, unique"),
        ("at", "str", "", "what its lines of kinds called top draw: top or invert", "never"),
    ),
    "right_of_way": columns(
        ("source reference", "str", "", "id of the file; who supplied the polygon, and where it stands", "never"),
    ),
}
"""Further tables of the one list in `geoqa.model.tables.columns`."""
