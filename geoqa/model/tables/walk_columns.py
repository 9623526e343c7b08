"""Tables of walks: sections across them."""

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
}
