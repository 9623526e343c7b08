"""Tables of which design a shot may be of."""

from geoqa.model.tables.column import Column, columns

MATCH_TABLES: dict[str, tuple[Column, ...]] = {
    "line_matches": columns(
        ("shot_key", "str", "", "which shot", "never"),
        ("design", "str", "", "candidate design line", "never"),
        (
            "station offset along distance",
            "float64",
            "job",
            "of the shot at that line; along is how far past an end (+) or before the start (-)",
            "never",
        ),
        ("design_elevation", "float64", "job", "of the line at the as-built position", "yes"),
        ("azimuth", "float64", "deg", "of the line there", "yes"),
        ("cost", "float64", "1", "lower is better", "never"),
        ("odds", "float64", "1", "probability among the candidates", "never"),
        ("chosen", "bool", "", "the match that is judged", "never"),
        ("ambiguous", "bool", "", "no candidate is likely enough to be chosen silently", "never"),
    ),
    "point_matches": columns(
        ("shot_key", "str", "", "which shot", "never"),
        ("design", "str", "", "candidate design point", "never"),
        (
            "station offset along distance",
            "float64",
            "job",
            "distance from the design point; the others do not apply",
            "yes",
        ),
        ("design_elevation", "float64", "job", "of the design point", "yes"),
        ("azimuth", "float64", "deg", "from the design point to the shot", "yes"),
        ("cost", "float64", "1", "lower is better", "never"),
        ("odds", "float64", "1", "probability among the candidates", "never"),
        ("chosen", "bool", "", "the match that is judged", "never"),
        ("ambiguous", "bool", "", "no candidate is likely enough to be chosen silently", "never"),
    ),
}
