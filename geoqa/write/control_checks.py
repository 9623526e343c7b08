"""Control checks one by one: what was measured at each mark beside what is published there."""

from typing import TYPE_CHECKING

from geoqa.model.results import Results

if TYPE_CHECKING:
    import pandas as pd

CHECKS = ("control-position", "control-elevation")


def control_checks(results: Results) -> "pd.DataFrame":
    """One row per control check, worst first, with the mark's and the shot's coordinates.

    Residuals are measured minus published, in the job's unit, positive east, north and up.

    Returns
    -------
    DataFrame
    """
    findings = results.findings.drop(columns="geometry", errors="ignore")
    checks = findings[findings["check"].isin(CHECKS)].rename(columns={"subject": "mark"})
    marks = results.layers["control"].drop(columns="geometry", errors="ignore")
    marks = marks.rename(columns={name: f"published_{name}" for name in _PLACE})
    marks = marks.rename(columns={"reference": "mark_reference"}).drop_duplicates("mark")
    shots = results.shots.drop(columns="geometry", errors="ignore")
    shots = shots[[name for name in ("shot_key", "time", "easting", "northing", "elevation") if name in shots]]
    shots = shots.rename(columns={name: f"measured_{name}" for name in _PLACE})
    table = checks.merge(marks, on="mark", how="left").merge(shots, left_on="shot", right_on="shot_key", how="left")
    for name in _PLACE:
        table[f"residual_{name}"] = table[f"measured_{name}"] - table[f"published_{name}"]
    table = table.sort_values(["excess", "finding"], ascending=[False, True], na_position="last", ignore_index=True)
    return table[[name for name in _COLUMNS if name in table.columns]]


_PLACE = ("easting", "northing", "elevation")
_COLUMNS = (
    *("mark", "shot", "time", "check", "verdict", "why", "deviation", "lower", "upper", "u", "u_common", "u_random"),
    *(f"{what}_{name}" for what in ("residual", "measured", "published") for name in _PLACE),
    *("held", "independent", "u_h", "u_v", "mark_reference", "rule", "p_conform", "reference", "edition", "finding"),
)
