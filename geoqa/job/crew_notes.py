"""What a reader must know first about control, site fit and what the log could not show, in sentences."""

from collections.abc import Iterable

from geoqa.model.layer import Layers


def crew_notes(layers: Layers) -> Iterable[str]:
    """Site fits that hide something, marks that stand out, checks on control that were not made."""
    if "site_fit_warnings" in layers:
        for row in layers["site_fit_warnings"].to_dict("records"):
            yield f"Site fit: {row['warning']}."
    if "control_sessions" in layers:
        sums = layers["control_sessions"]
        for row in sums[sums["session"] == ("all" if len(sums) > 1 else sums["session"])].to_dict("records"):
            for plane, says in (("in plan", row["horizontal_says"]), ("in elevation", row["vertical_says"])):
                if "disagree" in says or "outlying" in says:
                    yield f"Control {plane}: {says}."
    if "session_checks" in layers:
        rows = layers["session_checks"]
        for row in rows[rows["met"].eq(False).fillna(False)].to_dict("records"):
            yield f"Check on control, {row['rule']} ({row['reference']}): {row['reason']}."


def impossible_notes(layers: Layers) -> Iterable[str]:
    """What cannot be checked because no shot has the field it takes."""
    if "impossible_checks" in layers:
        lost = layers["impossible_checks"]
        for row in lost[lost["shots"] == lost["of"]].to_dict("records"):
            yield f"Impossible without {row['field']} in the log: {row['check']}; {row['reason']}."
