"""Which control checks show a named blunder, or a doubt that nothing explains: they are no matters of their own."""

from typing import TYPE_CHECKING, Any

from geoqa.contract.checks import check_named
from geoqa.contract.survey import CONTROL_ELEVATION, CONTROL_POSITION, DIAGNOSIS
from geoqa.model import words
from geoqa.model.tables.in_rows import in_rows

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pandas as pd

    from geoqa.model.check import Check

SHOWN_BY = 4
"""Control checks named below the blunder that puts them out of tolerance; the count is always complete."""

UNEXPLAINED = "none-fits"
"""Cause of a survey blunder that nothing known explains."""


def cause_of_checks(layers: "Mapping[str, Any]", findings: "pd.DataFrame") -> "pd.Series":
    """Find the finding of the cause that puts a control check out of tolerance.

    Where nothing explains why the check shots of a session are off, that is one question and has one finding: what no
    named cause moves stands under it, in plan or in elevation, whichever is in doubt.

    Parameters
    ----------
    layers : mapping
        With `cause_shots` and `survey_doubt`, if the diagnosis ran.
    findings : DataFrame, n rows
        With `finding`, `check`, `subject`, `shot` and `verdict`.

    Returns
    -------
    Series of str, (n,)
        On the index of `findings`: the `finding` of the cause; null where no named cause moves the shot in what the
        check is about and its session is not in doubt, where the check is not out, and where the cause is not among the
        findings.

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

    made = np.full(len(findings), None, dtype=object)
    out = (findings["verdict"] == "OUT").to_numpy(bool)
    causes = findings[findings["check"] == DIAGNOSIS.name].drop_duplicates("subject").set_index("subject")["finding"]
    for check, owners in _owners(layers, {str(name): str(key) for name, key in causes.items()}):
        rows = np.flatnonzero((findings["check"] == check.name).to_numpy(bool) & out)
        rows = rows[pd.isna(made[rows])]
        made[rows] = [owners.get(shot) for shot in findings["shot"].iloc[rows].tolist()]
    return pd.Series(made, index=findings.index, dtype="str")


def _owners(layers: "Mapping[str, Any]", causes: dict[str, str]) -> "Iterator[tuple[Check, dict[str, str]]]":
    """By check, the finding of the cause of each shot: named causes first, then the doubt that nothing explains."""
    import numpy as np

    if "cause_shots" in layers and len(layers["cause_shots"]):
        moved = layers["cause_shots"]
        moved = moved[moved["holds"]]
        aside = np.hypot(moved["shift_easting"], moved["shift_northing"]).to_numpy()
        owner = (moved["cause"] + ": " + moved["subject"].fillna("")).map(causes)
        for check, size in ((CONTROL_POSITION, aside), (CONTROL_ELEVATION, moved["shift_elevation"].abs().to_numpy())):
            mine = (size > 0) & owner.notna().to_numpy()
            yield check, dict(zip(moved["shot_key"][mine], owner[mine], strict=True))
    doubt = next((finding for subject, finding in causes.items() if unexplained(subject)), None)
    if doubt is not None and "survey_doubt" in layers:
        table = layers["survey_doubt"]
        for check, column in ((CONTROL_POSITION, "off_plan"), (CONTROL_ELEVATION, "off_elevation")):
            yield check, dict.fromkeys(table.loc[table[column].notna(), "shot_key"], doubt)


def unexplained(subject: object) -> bool:
    """Whether a survey blunder is that nothing explains what control shows.

    Examples
    --------
    >>> unexplained("none-fits: A and B"), unexplained("rod: session B")
    (True, False)
    """
    return str(subject).startswith(f"{UNEXPLAINED}: ")


def checks_in_words(checks: "pd.DataFrame", unit: str, blunder: object) -> str:
    """Control checks that stand under one survey blunder, in a line; empty where there are none.

    Parameters
    ----------
    checks : DataFrame
        Findings, worst first.
    unit : str
        Of the job.
    blunder : str
        Subject of the finding they stand under.
    """
    if not len(checks):
        return ""
    each = [
        f"{row['subject']}, {row['label']}: {words.judged(row, check_named(row['check']), unit)}"
        for row in in_rows(checks.head(SHOWN_BY))
    ]
    each += [f"and {len(checks) - SHOWN_BY} more"] if len(checks) > SHOWN_BY else []
    count = words.many(len(checks), "control check is", "control checks are")
    which = "it" if len(checks) == 1 else "them"
    by = f", and nothing known explains {which}" if unexplained(blunder) else " by it"
    return f"{count} out of tolerance{by}: {'; '.join(each)}"


def folded_under_causes(
    layers: "Mapping[str, Any]", findings: "pd.DataFrame", most: int, unit: str
) -> "tuple[pd.DataFrame, int]":
    """First of the findings, with control checks that stand under a survey blunder in the column `below` of its own.

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
    below = [
        checks_in_words(findings[cause == name], unit, subject) or None
        for name, subject in zip(listed["finding"], listed["subject"], strict=True)
    ]
    told = pd.Series(below, index=listed.index, dtype="str")
    return listed.assign(below=told), int(cause.isin(listed["finding"]).sum())
