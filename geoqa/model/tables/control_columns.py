"""Tables about control: residuals on marks, sessions by their check shots, and what both are worth."""

from geoqa.model.tables.column import Column, columns

CONTROL_TABLES: dict[str, tuple[Column, ...]] = {
    "control_residuals": columns(
        ("mark session", "str", "", "check shots of one session on one mark", "session: yes"),
        ("shots left_out", "int64", "count", "check shots that count; under a named blunder, or listed twice", "never"),
        ("mean_easting mean_northing mean_elevation", "float64", "job", "mean of measured - published", "yes"),
        ("worst", "float64", "job", "largest horizontal distance from the mark", "yes"),
    ),
    "check_policy": columns(
        ("rule", "str", "", "opening, closing, interval, pause or marks", "never"),
        ("limit", "str", "", "longest time with its unit, or fewest marks", "never"),
        ("action", "str", "", "warn (listed) or reject (not judged)", "never"),
        ("reference", "str", "", "where the rule comes from", "never"),
    ),
    "session_checks": columns(
        ("session rule limit", "str", "", "which session was held against which rule", "never"),
        ("measured", "float64", "min", "time, or count of marks", "yes: no check, or no times"),
        ("met", "boolean", "", "the rule was kept", "yes: cannot be told"),
        ("shots", "int64", "count", "feature shots that no check vouches for", "never"),
        ("reason reference", "str", "", "words with the numbers; source of the rule", "never"),
    ),
    "control_table": columns(
        ("session", "str", "", "of the check shot", "yes"),
        ("mark shot_key", "str", "", "mark, and the shot on it", "never"),
        ("time", "datetime64[us, UTC]", "", "observation", "yes"),
        ("easting northing elevation horizontal", "float64", "job", "measured - published; plan distance", "yes"),
        ("held independent", "bool", "", "as in control", "never"),
        ("limit_h limit_v", "float64", "job", "of the control checks", "yes: no limit"),
        ("left_out", "str", "", "why it is in no sum", "yes: it counts"),
    ),
    "control_sessions": columns(
        ("session", "str", "", "session, or all", "yes"),
        ("shots marks", "int64", "count", "check shots that count, and different marks", "never"),
        ("mean_easting mean_northing mean_elevation", "float64", "job", "of measured - published", "yes"),
        ("rmse_easting rmse_northing rmse_elevation rmse_horizontal", "float64", "job", "divisor n", "yes"),
        ("h_95 v_95", "float64", "job", "95 % of normal errors with these RMSE; no statement of accuracy", "yes"),
        ("over_h over_v", "int64", "count", "shots beyond the limit", "never"),
        ("outlying", "str", "", "marks named as outlying", "never; empty text is none"),
        ("horizontal_says vertical_says", "str", "", "what the marks say of each other", "never"),
        ("left_out", "int64", "count", "check shots in no sum: under a named blunder, or listed twice", "never"),
        ("without", "str", "", "which, and why", "never; empty text is none"),
    ),
    "session_shifts": columns(
        ("session axis", "str", "", "of the check shots, or their file; easting, northing or elevation", "never"),
        ("shift u", "float64", "job", "measured - published, shared by the session; 1 sigma", "yes: no check shot"),
        ("low high", "float64", "job", "95 % band of the shift", "yes: no check shot"),
        ("t p", "float64", "1", "shift over u; two-sided chance of it where there is none", "yes: no check shot"),
        ("dof", "float64", "count", "degrees of freedom behind u", "never"),
        ("share", "float64", "1", "part of a shot's own variance that lasts from shot to shot", "never"),
        ("shots marks tests", "int64", "count", "check shots and marks it rests on; shifts that were tested", "never"),
        ("u_stated", "float64", "job", "1 sigma that the shots of the session are stated to share", "never"),
        ("limit", "float64", "job", "95 % of that; at least what chance makes of it", "yes: no check shot"),
        ("proven", "bool", "", "beyond chance, all tests counted", "never"),
    ),
    "accuracy": columns(
        ("standard component", "str", "", "which standard; horizontal or vertical", "never"),
        ("allowed", "bool", "", "the standard lets it be stated", "never"),
        ("value", "float64", "job", "the number to state", "yes: not allowed"),
        ("rmse", "float64", "job", "of the check points that count; horizontal radial", "yes"),
        ("points", "int64", "count", "check points that count", "never"),
        ("reason", "str", "", "why not, cautions, and what was left out", "never; empty text is none"),
    ),
    "site_fit": columns(
        ("parameter", "str", "", "shift, scale, rotation, slope; from measured to published", "never"),
        ("value se", "float64", "", "value and standard error, in `unit`", "never"),
        ("unit", "str", "", "of both", "never"),
        ("proven", "bool", "", "beyond four standard errors", "never"),
    ),
    "site_fit_marks": columns(
        ("mark", "str", "", "mark of the fit", "never, unique"),
        ("shots", "int64", "count", "check shots in its mean", "never"),
        ("before_easting before_northing before_elevation", "float64", "job", "measured - published", "yes"),
        ("residual_easting residual_northing residual_elevation", "float64", "job", "the same after the fit", "yes"),
        ("redundancy_horizontal redundancy_vertical", "float64", "1", "share of an error that shows", "yes"),
        ("statistic", "float64", "1", "of the outlier test", "yes: two marks"),
        ("outlying", "bool", "", "named by the test", "never"),
    ),
    "site_fit_warnings": columns(
        ("cause warning", "str", "", "what the fit would hide, or cannot tell", "never"),
    ),
}
