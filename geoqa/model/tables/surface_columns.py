"""Tables of what was built: the surface of the shots, and quantities."""

from geoqa.model.tables.column import Column, columns

SURFACE_TABLES: dict[str, tuple[Column, ...]] = {
    "asbuilt_surface_points": columns(
        ("surface", "str", "", "name of the surface: as-built", "never"),
        ("source", "str", "", "what it was made of: shots", "never"),
        ("point", "int32", "", "number within its surface, from 0", "never"),
        (
            "shot_key other_key",
            "str",
            "",
            "the shot; of a point put into a breakline, the two it lies between",
            "never",
        ),
        ("share", "float64", "1", "of the other one: 0 is the shot itself", "never"),
        ("easting northing elevation", "float64", "job", "as judged: shifts taken off, levelled instead", "never"),
    ),
    "asbuilt_surface_faces": columns(
        ("surface", "str", "", "name of the surface: as-built", "never"),
        ("source", "str", "", "what it was made of: shots", "never"),
        ("first second third", "int32", "", "its corners, numbers of points of the same surface", "never"),
    ),
    "surface_difference": columns(
        ("surface", "str", "", "name of the design surface", "never"),
        ("column row", "int32", "count", "of the cell, from the west and from the north", "never"),
        ("easting northing", "float64", "job", "centre of the cell", "never"),
        ("cell", "float64", "job", "side of the cell", "never"),
        ("asbuilt design", "float64", "job", "elevation of either surface there", "never"),
        ("difference", "float64", "job", "as-built minus design", "never"),
    ),
    "surface_picture": columns(
        ("surface", "str", "", "name of the design surface", "never"),
        ("column row", "int32", "count", "of the cell, from the west and from the north", "never"),
        ("easting northing", "float64", "job", "centre of the cell", "never"),
        ("cell", "float64", "job", "side of the cell", "never"),
        ("difference", "float64", "job", "as-built minus design", "never"),
    ),
    "quantities": columns(
        ("name", "str", "", "line, pair of lines or surface it is of", "never"),
        ("kind", "str", "", "feature kind, or surface", "never"),
        ("quantity", "str", "", "length, area or volume", "never"),
        ("measure", "str", "", "which one: length in plan, area in plan, above, below, net", "never"),
        ("value", "float64", "", "in `unit`", "yes: see why"),
        ("u_random u_common u", "float64", "", "1 sigma in `unit`, and its two parts", "yes"),
        ("unit", "str", "", "of value and uncertainty, e.g. ft, sq ft, cu ft", "never"),
        ("shots", "int64", "count", "shots it was made of", "never"),
        ("method", "str", "", "how it was made, in words", "never"),
        ("why", "str", "", "what keeps it from being given, in words", "yes: it is given"),
    ),
}
