"""Tables of walks: sections across them, and readings taken beside the shots."""

from geoqa.model.tables.column import Column, columns

WALK_TABLES: dict[str, tuple[Column, ...]] = {
    "walk_sections": columns(
        ("section", "str", "", "pair of edges and distance along the first of them", "never"),
        ("kind pair", "str", "", "kind under which it is judged; strings of both edges", "never"),
        ("station", "float64", "job", "along the first edge, from its first shot", "never"),
        ("shots", "str", "", "shots of either edge that it is laid at", "never"),
        ("width u_width", "float64", "job", "between the edges, square to them; 1 sigma", "never"),
        ("cross_slope u_cross_slope", "float64", "1", "rise over run, without a sign; 1 sigma", "yes: no elevation"),
        ("towards", "str", "", "which edge it falls to, in words", "never; empty text is not known"),
    ),
    "readings": columns(
        ("source", "str", "", "id of the [[readings]] table", "never"),
        ("line", "int64", "", "1-based line in that file", "never"),
        ("place", "str", "", "name of the shot beside it, or of a ramp", "never"),
        ("quantity", "str", "", "slope or length", "never"),
        ("text", "str", "", "as written", "never"),
        ("value u", "float64", "", "rise over run or metres; 1 sigma", "u: that of the job stands"),
        ("length", "float64", "m", "of the level", "yes"),
    ),
    "reading_rules": columns(
        ("source reference", "str", "", "id of the [[readings]] table; with what it was measured", "never"),
        ("what", "str", "", "check that its numbers are of", "never"),
        ("u", "float64", "", "1 sigma, rise over run or metres", "never"),
    ),
}
