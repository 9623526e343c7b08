"""What is reported at each shot: the one sign it bears on every map, drawing, plot and list."""

from typing import TYPE_CHECKING, Any

from geoqa.model.signs import SIGNS, ranks
from geoqa.model.tables.shot_flags import AGAIN, has_flag

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

NOT_CHECKED = "NOT_CHECKED"
"""Stands in for a verdict where no finding speaks of a shot."""
UNASKED = "no check asks about it"
"""The same in words."""
TEXTS = {**{verdict: sign.text for verdict, sign in SIGNS.items()}, NOT_CHECKED: UNASKED}
"""Every sign a shot may bear in words, worst first."""


def reported_verdicts(findings: Any) -> "pd.Series":
    """Verdict each finding is reported with: that of its run, if it is a member of one.

    A run may itself be one of several findings of one number under several rule sets; then the strictest counts.

    Parameters
    ----------
    findings : DataFrame
        With `finding`, `verdict` and `run`.

    Returns
    -------
    (n,) Series of str

    Examples
    --------
    >>> import pandas as pd
    >>> rows = pd.DataFrame(
    ...     {"finding": ["F1", "F2"], "verdict": ["UNDECIDED", "OUT"], "run": pd.Series(["F2", None], dtype="str")})
    >>> reported_verdicts(rows).tolist()
    ['OUT', 'OUT']
    """
    own = findings["verdict"]
    if "run" not in findings or findings["run"].isna().all():
        return own
    runs = findings["run"].dropna().unique()
    of_run = findings[findings["finding"].isin(runs)].drop_duplicates("finding").set_index("finding")
    told = findings["run"].map(of_run["verdict"])
    beyond = findings["run"].map(of_run["run"])
    if beyond.notna().any():
        told = told.where(~beyond.isin(of_run.index), beyond.map(of_run["verdict"]))
    return own.where(told.isna(), told)


def signs_of_shots(findings: Any, shots: Any) -> "np.ndarray":
    """Sign of every shot: the worst of the verdicts that are reported about it.

    Parameters
    ----------
    findings : DataFrame
    shots : DataFrame
        With `shot_key`; `use` and `flags` count where they are there.

    Returns
    -------
    (n,) object array
        A verdict, or `NOT_CHECKED`. A shot that is not used and has no finding is NO_DATA; a row that lists a shot
        again is not checked, so that it never hides the row that is.

    Examples
    --------
    >>> import pandas as pd
    >>> rows = pd.DataFrame({"shot": ["a", "a"], "verdict": ["IN", "OUT"]})
    >>> signs_of_shots(rows, pd.DataFrame({"shot_key": ["a", "b"]})).tolist()
    ['OUT', 'NOT_CHECKED']
    """
    import numpy as np
    import pandas as pd

    row = np.asarray(pd.Index(shots["shot_key"]).get_indexer(pd.Index(findings["shot"])), dtype=np.int64)
    worst = np.full(len(shots), len(SIGNS))
    np.minimum.at(worst, row[row >= 0], ranks(reported_verdicts(findings))[row >= 0])
    signs = np.array([*SIGNS, NOT_CHECKED], dtype=object)[worst]
    if "use" in shots:
        signs[(worst == len(SIGNS)) & ~shots["use"].to_numpy(bool) & ~has_flag(shots, AGAIN)] = "NO_DATA"
    return signs


def signs_in(layers: Any) -> "np.ndarray":
    """Sign of every shot of a job, worked out once for all its outputs; it must not be changed.

    Parameters
    ----------
    layers : Layers

    Returns
    -------
    (n,) object array
        As of `signs_of_shots`, in the order of the layer `shots`.
    """
    made: np.ndarray = layers.derived(
        "signs of shots", ("findings", "shots"), lambda: signs_of_shots(layers["findings"], layers["shots"])
    )
    return made


def shots_by_sign(layers: Any) -> dict[str, int]:
    """How many shots bear each sign, worst first; rows that list a shot again are not counted.

    Examples
    --------
    >>> from geoqa import testing
    >>> shots_by_sign(testing.layers(shots=testing.judged_shots([{}])))
    {'OUT': 0, 'UNDECIDED': 0, 'NO_DATA': 0, 'IN': 0, 'NOT_CHECKED': 1}
    """
    signs = signs_in(layers)[~has_flag(layers["shots"], AGAIN)]
    return {sign: int((signs == sign).sum()) for sign in TEXTS}
