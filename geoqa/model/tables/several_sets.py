"""One number under several rule sets: the strictest verdict stands for it, the others point to it."""

from typing import TYPE_CHECKING

from geoqa.model.signs import ranks

if TYPE_CHECKING:
    import pandas as pd

_NO_SETS = {"method", "no rule"}
"""Stand in the place of a rule set where the job states no limit; no number is judged under these and another."""
_NUMBER = ["check", "kind", "subject", "label", "shot", "station", "station_end"]
"""What findings of one number share, beside the number itself and the design it is held against."""


def ruleset_of(findings: "pd.DataFrame") -> "pd.Series":
    """Rule set of each finding: the first part of what it is judged against.

    Examples
    --------
    >>> import pandas as pd
    >>> ruleset_of(pd.DataFrame({"against": ["job; c-101", "prowag-2023; no design"]})).tolist()
    ['job', 'prowag-2023']
    """
    return findings["against"].str.partition("; ")[0]


def several_sets(against: "pd.Series") -> bool:
    """Whether findings are judged under more than one rule set that states limits.

    Examples
    --------
    >>> import pandas as pd
    >>> several_sets(pd.Series(["job; c-101", "no rule; c-101"])), several_sets(pd.Series(["job; a", "town; a"]))
    (False, True)
    """
    return len({each.partition("; ")[0] for each in against.unique()} - _NO_SETS) > 1


def number_of(findings: "pd.DataFrame") -> "pd.Series":
    """Which number each finding judges, as a code: findings of one number under several rule sets have the same.

    Parameters
    ----------
    findings : DataFrame

    Returns
    -------
    (n,) Series of int
    """
    sets = findings["against"].str.partition("; ")
    value = findings["measured"].where(findings["measured"].notna(), findings["deviation"])
    keys = findings[_NUMBER].assign(_source=sets[2], _value=value)
    # Two numbers that look alike under one rule set are told apart by their order, which is the same under each.
    nth = keys.assign(_set=sets[0]).groupby([*keys, "_set"], dropna=False, sort=False).cumcount()
    return keys.assign(_nth=nth).groupby([*keys, "_nth"], dropna=False, sort=False).ngroup()


def strictest_stands(findings: "pd.DataFrame") -> "pd.DataFrame":
    """Findings in which one number is reported once, whatever the count of rule sets it is judged under.

    Parameters
    ----------
    findings : DataFrame
        Of one step. Those that belong to a run or place already are left as they are.

    Returns
    -------
    DataFrame
        The same rows. The worst verdict of a number stands, among equal ones that which lies farthest beyond its
        limit, then the first; the others name it in `run`.
    """
    if not several_sets(findings["against"]):
        return findings
    free = findings[findings["run"].isna()]
    order = free.assign(
        _number=number_of(free), _rank=ranks(free["verdict"]), _excess=-free["excess"].fillna(-float("inf"))
    )
    order = order.sort_values(["_number", "_rank", "_excess"], kind="stable")
    stands = order.groupby("_number")["finding"].transform("first")
    stands = stands[stands != order["finding"]]
    return findings.assign(run=findings["run"].fillna(stands))
