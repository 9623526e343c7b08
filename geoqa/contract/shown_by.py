"""Which control checks show a named blunder: they are no worst items of their own, but evidence of their cause."""

from typing import TYPE_CHECKING, Any

from geoqa.contract.checks import check_named
from geoqa.contract.survey import CONTROL_ELEVATION, CONTROL_POSITION, DIAGNOSIS
from geoqa.model import words

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

SHOWN_BY = 4
"""Control checks named below the blunder that puts them out of tolerance; the count is always complete."""


def cause_of_checks(layers: "Mapping[str, Any]", findings: "pd.DataFrame") -> "pd.Series":
    """Find the finding of the cause that puts a control check out of tolerance.

    Parameters
    ----------
    layers : mapping
        With `cause_shots`, if the diagnosis ran.
    findings : DataFrame, n rows
        With `finding`, `check`, `subject`, `shot` and `verdict`.

    Returns
    -------
    Series of str, (n,)
        On the index of `findings`: the `finding` of the cause; null where no named cause moves the shot in what the
        check is about, where the check is not out, and where the cause is not among the findings.

    Examples
    --------
    >>> import pandas as pd
    >>> moved = pd.DataFrame({"cause": ["rod"], "subject": ["session B"], "shot_key": ["a"], "holds": [True],
    ...     "shift_easting": [0.0], "shift_northing": [0.0], "shift_elevation": [0.5]})
    >>> findings = pd.DataFrame({"finding": ["F1", "F2", "F3"], "shot": [None, "a", "a"], "verdict": "OUT",
    ...     "check": ["diagnosis", "control-elevation", "control-position"], "subject": ["rod: session B", "M", "M"]})
    >>> cause_of_checks({"cause_shots": moved}, findings).fillna("-").tolist()
    ['-', 'F1', '-']
    """
    import numpy as np
    import pandas as pd

    none = pd.Series(None, index=findings.index, dtype="str")
    if "cause_shots" not in layers or not len(layers["cause_shots"]):
        return none
    moved = layers["cause_shots"]
    moved = moved[moved["holds"]]
    aside = np.hypot(moved["shift_easting"], moved["shift_northing"]).to_numpy()
    made = np.full(len(findings), None, dtype=object)
    causes = findings[findings["check"] == DIAGNOSIS.name].drop_duplicates("subject").set_index("subject")["finding"]
    owner = (moved["cause"] + ": " + moved["subject"].fillna("")).map(causes.to_dict())
    for check, size in ((CONTROL_POSITION, aside), (CONTROL_ELEVATION, moved["shift_elevation"].abs().to_numpy())):
        mine = (size > 0) & owner.notna().to_numpy()
        by_shot = dict(zip(moved["shot_key"][mine], owner[mine], strict=True))
        rows = ((findings["check"] == check.name) & (findings["verdict"] == "OUT")).to_numpy()
        made[rows] = [by_shot.get(shot) for shot in findings["shot"][rows]]
    return pd.Series(made, index=findings.index, dtype="str")


def checks_in_words(checks: "pd.DataFrame", unit: str) -> str:
    """Control checks that one blunder puts out of tolerance, in a line; empty where there are none.

    Parameters
    ----------
    checks : DataFrame
        Findings, worst first.
    unit : str
        Of the job.
    """
    if not len(checks):
        return ""
    each = [
        f"{row['subject']}, {row['label']}: {words.judged(row, check_named(row['check']), unit)}"
        for row in checks.head(SHOWN_BY).to_dict("records")
    ]
    each += [f"and {len(checks) - SHOWN_BY} more"] if len(checks) > SHOWN_BY else []
    count = words.many(len(checks), "control check is", "control checks are")
    return f"{count} out of tolerance by it: {'; '.join(each)}"


def folded_under_causes(
    layers: "Mapping[str, Any]", findings: "pd.DataFrame", most: int, unit: str
) -> "tuple[pd.DataFrame, int]":
    """First of the findings, with control checks that a named blunder explains in the column `below` of its own.

    Parameters
    ----------
    layers : mapping
    findings : DataFrame
        Worst first.
    most : int
        How many are listed.
    unit : str
        Of the job.

    Returns
    -------
    (DataFrame, int)
        At most so many rows, and how many checks stand below them.
    """
    import pandas as pd

    cause = cause_of_checks(layers, findings)
    listed = findings[cause.isna()].head(most)
    below = [checks_in_words(findings[cause == name], unit) or None for name in listed["finding"]]
    told = pd.Series(below, index=listed.index, dtype="str")
    return listed.assign(below=told), int(cause.isin(listed["finding"]).sum())
