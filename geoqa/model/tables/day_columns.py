"""Tables of a field day: what to look at before leaving, and what the log does not let one check."""

from geoqa.model.tables.column import Column, columns

DAY_TABLES: dict[str, tuple[Column, ...]] = {
    "screening_gaps": columns(
        ("field", "str", "", "shots column the screening rules ask for", "never"),
        ("shots", "int64", "count", "rows that could not be screened by it", "never"),
        ("reason", "str", "", "words", "never"),
    ),
    "day_items": columns(
        ("item", "int64", "", "number on the list, most urgent first", "never, unique"),
        ("urgency", "int64", "", "1 before leaving, 2 look at, 3 good to know", "never"),
        ("title where", "str", "", "what, and on which line, mark or session", "never; empty text is none"),
        ("shots", "int64", "count", "how many", "never"),
        ("names why do", "str", "", "shot names; reason with its numbers; what to do", "never; empty text is none"),
        ("easting northing", "float64", "job", "of the first shot", "yes"),
        ("shot_key", "str", "", "that shot", "yes"),
    ),
    "impossible_checks": columns(
        ("check", "str", "", "what the field is needed for, in words", "never"),
        ("field", "str", "", "shots column that is missing", "never"),
        ("shots of", "int64", "count", "shots without it, and all shots", "never"),
        ("reason", "str", "", "what is lost", "never"),
    ),
}
