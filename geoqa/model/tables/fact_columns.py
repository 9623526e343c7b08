"""Tables of what was noticed: flags of shots, notes to be read first, causes of blunders."""

from geoqa.model.tables.column import Column, columns
from geoqa.model.tables.fact import FACT

FACT_TABLES: dict[str, tuple[Column, ...]] = {
    "flags": columns(
        ("shot_key", "str", "", "which shot", "never"),
        ("flag", "str", "", "name of the flag; listed in words", "never"),
        ("reject", "bool", "", "true = not judged", "never"),
        ("step", "str", "", "who raised it", "never"),
    )
    + FACT,
    "notes": columns(
        ("note", "str", "", "what a reader must know first; listed in words", "never"),
        ("step", "str", "", "who says so; job where it is no step", "never"),
    )
    + FACT,
    "causes": columns(
        ("explanation", "int64", "", "1 is the answer; its rows happened together; then the runners-up", "never"),
        ("status", "str", "", "named, group, none, none-fits, two-disagree, no-control, runner-up", "never"),
        ("cause", "str", "", "name of the cause; listed in words", "never"),
        ("variant", "str", "", "which way, in words", "never; empty text is none"),
        ("subject", "str", "", "mark, session, initialization, file or shot it is about", "yes"),
        ("shots doubtful", "int64", "count", "shots it acts on; shots it may act on as well", "never"),
        ("first", "str", "", "key of the first shot it acts on", "yes"),
        ("shift_easting shift_northing shift_elevation", "float64", "job", "shown minus true, their mean", "yes"),
        ("u_easting u_northing u_elevation", "float64", "job", "1 sigma of that shift", "yes"),
        ("probability", "float64", "1", "among all explanations weighed, with the priors", "yes"),
        ("prior", "float64", "1", "probability before anything was measured", "yes"),
        ("chi2", "float64", "1", "misfit that the explanation leaves at control", "yes"),
        ("dof", "float64", "count", "its degrees of freedom", "yes"),
        ("p_fit", "float64", "1", "how often honest noise leaves more", "yes"),
        ("left", "float64", "1", "root mean square of what is left, in standard uncertainties", "yes"),
        ("code", "str", "", "coordinate system that the file is in, where a wrong one is the cause", "yes"),
        ("unit", "str", "", "unit that the file is in, where a wrong one is the cause", "yes"),
        ("epoch u_epoch", "float64", "year", "epoch that the file is at, and 1 sigma", "yes"),
        ("ppm", "float64", "ppm", "scale that the file shows, less 1", "yes"),
        ("factor", "float64", "1", "combined factor that undoes it", "yes"),
        ("origin_easting origin_northing", "float64", "job", "place that this scale was held at", "yes"),
        ("alike", "str", "", "causes that predict the same within 3 u", "never; empty text is none"),
        ("separates", "str", "", "log field or measurement that would tell them apart", "never; empty text is none"),
        ("words remedy", "str", "", "what it is; the change to make, never applied", "never"),
    ),
    "cause_shots": columns(
        ("cause subject", "str", "", "as in causes", "never"),
        ("shot_key", "str", "", "shot it acts on", "never"),
        ("sure", "bool", "", "false = between the last good and the first bad check shot, or in doubt", "never"),
        ("holds", "bool", "", "false = a doubt: told on the finding, which is judged all the same", "never"),
        ("shift_easting shift_northing shift_elevation", "float64", "job", "shown minus true", "yes"),
        ("u_easting u_northing u_elevation", "float64", "job", "1 sigma of that shift", "yes: not known"),
    ),
    "survey_doubt": columns(
        ("shot_key", "str", "", "shot whose session is in doubt, or whose uncertainties are too small", "never"),
        ("off_plan off_elevation", "float64", "job", "largest error that is reckoned with", "yes: not in doubt"),
        ("together_plan together_elevation", "float64", "job", "least common part, by the session's checks", "never"),
        ("widened", "float64", "1", "what its uncertainties are multiplied by before anything is judged", "never"),
    ),
    "diagnosis_gaps": columns(
        ("field", "str", "", "what is missing", "never"),
        ("shots", "int64", "count", "shots it is missing for", "never"),
        ("reason", "str", "", "what cannot be diagnosed without it", "never"),
    ),
}
