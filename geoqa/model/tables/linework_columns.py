"""Tables of as-built lines: their elements, the shots they are made of, and how they lie beside the design."""

from geoqa.model.tables.column import Column, columns

LINE_WORD = ("line_word", "str", "", "what the crew says of its line: start, arc, end, close", "yes", "words of lines")
"""A column that `shots` has only where a file or a description gives it."""

HANGS_ON = ("hangs_on", "str", "", "session without a check whose shift it hangs on", "yes", "loose sessions")
"""A column that `findings` has only in jobs with sessions of which no shot is checked."""

LINEWORK_TABLES: dict[str, tuple[Column, ...]] = {
    "asbuilt_lines": columns(
        ("line", "str", "", "code and line ID, and the number of the piece from the second on", "never, unique"),
        ("kind", "str", "", "feature kind", "yes: unknown code"),
        ("code line_id", "str", "", "as the crew writes them", "never"),
        ("part", "int64", "", "piece of what bears this code and line ID, from 1", "never"),
        ("closed", "bool", "", "goes back to its first shot", "never"),
        ("length", "float64", "job", "along it, in plan", "never"),
        ("shots", "int64", "count", "shots it is made of", "never"),
        ("left_out", "int64", "count", "shots of this code and line ID that do not count, in no piece", "never"),
        ("curves", "int64", "count", "curves in it", "never"),
        ("fit_error", "float64", "job", "largest of its curves: see asbuilt_elements", "yes: no curve of four shots"),
        ("ended", "str", "", "why it ends though shots go on: word, gap, jump", "never; empty text is not"),
        ("gap", "float64", "job", "length of the leg behind it that is not drawn", "yes: none"),
        ("design", "str", "", "design line that most of its shots lie along", "yes: none"),
        ("direction", "str", "", "with or against that design line", "yes: not known"),
        ("elevations", "bool", "", "every shot has one", "never"),
    ),
    "asbuilt_areas": columns(
        ("line", "str", "", "closed as-built line around it, that does not cross itself", "never, unique"),
        ("kind", "str", "", "feature kind", "yes: unknown code"),
        ("code line_id", "str", "", "as the crew writes them", "never"),
        ("shots", "int64", "count", "shots it is made of", "never"),
        ("area", "float64", "job²", "in plan, on the grid", "never"),
        ("elevations", "bool", "", "every shot has one", "never"),
    ),
    "asbuilt_elements": columns(
        ("line", "str", "", "as-built line it belongs to", "never"),
        ("sequence", "int64", "", "order along the line, from 0", "never"),
        ("shape", "str", "", "line or arc", "never"),
        ("start_easting start_northing end_easting end_northing", "float64", "job", "ends", "never"),
        ("centre_easting centre_northing radius", "float64", "job", "arc only, through its end shots", "yes"),
        ("sense", "int64", "", "+1 curves right, -1 left, 0 straight", "never"),
        ("start_station length", "float64", "job", "along the line", "never"),
        ("start_elevation end_elevation", "float64", "job", "of the shots at its ends", "yes"),
        ("curve", "Int64", "", "number of the curve within its line, from 0", "yes: straight"),
        ("fitted_radius", "float64", "job", "of the circle nearest to all shots of the curve", "yes: straight"),
        ("fit_error", "float64", "job", "standard deviation of its shots about that circle", "yes: three shots"),
    ),
    "asbuilt_members": columns(
        ("line", "str", "", "as-built line", "never"),
        ("sequence", "int64", "", "order along it, from 0", "never"),
        ("shot_key", "str", "", "which shot", "never"),
        ("station", "float64", "job", "along the line", "never"),
        ("off", "float64", "job", "distance of the shot from the line, which an arc passes by", "never"),
        ("elevation", "float64", "job", "of the line there", "yes"),
    ),
    "line_comparison": columns(
        ("line", "str", "", "as-built line", "never"),
        ("design", "str", "", "design line it is compared with", "never"),
        ("kind", "str", "", "feature kind", "never"),
        ("shots", "int64", "count", "its shots beside that design line", "never"),
        ("length", "float64", "job", "of the as-built line from the first of them to the last", "never"),
        ("beyond", "float64", "job", "of that, what lies past the ends of the design line", "never"),
        ("station station_end", "float64", "job", "stretch of the design line beside it", "never"),
        ("left right", "float64", "job", "the band: how far to either side of the design line", "yes: no tolerance"),
        ("share", "float64", "1", "of the length beside the design line, what lies within the band", "yes: no band"),
        (
            "share_low share_high",
            "float64",
            "1",
            "with all shots 1.96 u farther out or in, legs past a corner without or with",
            "yes: no band",
        ),
        ("covered", "float64", "1", "of the length of the design line, what lies beside the as-built line", "never"),
        ("hausdorff", "float64", "job", "largest distance of either line from the other, cut to short pieces", "never"),
        ("frechet", "float64", "job", "the same for two that walk them from end to end", "never"),
        ("area", "float64", "job²", "between the two lines, on both sides together", "never"),
        ("mean_offset", "float64", "job", "weighted mean of the offsets of its shots; right +", "yes: not judged"),
        ("sd_offset", "float64", "job", "standard deviation of these offsets", "yes: one shot"),
        ("u_offset_common u_offset_random", "float64", "job", "1 sigma of the mean offset", "yes"),
        ("rest_offset", "str", "", "what is left: random, wider, narrower, waving, few", "yes"),
        ("mean_elevation", "float64", "job", "the same in elevation, against the design; high +", "yes: not judged"),
        ("sd_elevation", "float64", "job", "the same in elevation", "yes: one shot"),
        ("u_elevation_common u_elevation_random", "float64", "job", "the same in elevation", "yes"),
        ("rest_elevation", "str", "", "the same in elevation", "yes"),
    ),
    "session_means": columns(
        ("session", "str", "", "session, or file where none is known", "never"),
        ("axis", "str", "", "easting, northing or elevation", "never"),
        ("shots lines", "int64", "count", "shots along design lines, and how many lines these are", "never"),
        (
            "shift",
            "float64",
            "job",
            "what its shots share against the design, of whatever cause",
            "yes: not to be told",
        ),
        ("u_common u_random", "float64", "job", "1 sigma of it", "yes"),
    ),
    "loose_sessions": columns(
        ("session", "str", "", "session of which no check shot tells its elevation, or file", "never, unique"),
        (
            "shots lines",
            "int64",
            "count",
            "shots with an elevation against design, and how many lines these are",
            "never",
        ),
        ("shift", "float64", "job", "what most of them share, of whatever cause; high +", "yes: nothing measurable"),
        ("u", "float64", "job", "1 sigma of it", "yes: nothing measurable"),
        ("least", "float64", "job", "1 sigma that its elevations share at the least", "never"),
    ),
}
"""Further tables of the one list in `geoqa.model.tables.columns`."""
