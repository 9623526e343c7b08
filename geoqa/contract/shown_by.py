"""Which control checks show a named blunder: they are no worst items of their own, but evidence of their cause."""

from typing import TYPE_CHECKING, Any

from geoqa.contract.survey import CONTROL_ELEVATION, CONTROL_POSITION, DIAGNOSIS

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd


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
