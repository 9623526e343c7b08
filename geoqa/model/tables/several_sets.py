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
    return findings["against"].str.split("; ", n=1).str[0]


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

    Returns
    -------
    DataFrame
        The same rows. The worst verdict that is reported of a number stands, among equal ones that which lies farthest
        beyond its limit, then the first; the others name it in `run`, or the run it belongs to. What belongs to a run
        of its own rule set stays there; a run of which every member is reported elsewhere, and as strictly, names the
        worst of those.
    """
    if not several_sets(findings["against"]):
        return findings
    verdict = findings.drop_duplicates("finding").set_index("finding")["verdict"]
    of_run = findings["run"].map(verdict)
    table = findings[["finding", "run"]].assign(
        number=number_of(findings),
        ruleset=ruleset_of(findings),
        rank=ranks(of_run.where(of_run.notna(), findings["verdict"])),
        below=-findings["excess"].fillna(-float("inf")),
        name=findings["run"].where(findings["run"].notna(), findings["finding"]),
    )
    first = table.sort_values(["number", "rank", "below"], kind="stable").drop_duplicates("number").set_index("number")
    table["stands"], table["strictest"] = table["number"].map(first["name"]), table["number"].map(first["rank"])
    points = table["run"].isna() & (table["stands"] != table["finding"])
    run = findings["run"].where(~points, table["stands"])
    elsewhere = _elsewhere(table)
    if len(elsewhere):
        run = run.where(run.notna(), findings["finding"].map(elsewhere))
    return findings.assign(run=run)


def _elsewhere(table: "pd.DataFrame") -> "pd.Series":
    """Runs that are reported by what stands for their members, by name."""
    own = table.drop_duplicates("finding").set_index("finding")
    of_run = table["run"].map(own["ruleset"])
    members = table[of_run == table["ruleset"]]
    if not len(members):
        return members["stands"]
    members = members.assign(away=(members["stands"] != members["run"]) & members["strictest"].le(
        members["run"].map(own["rank"])))  # fmt: skip
    kept = members.groupby("run")["away"].transform("all")
    return members[kept].sort_values("strictest", kind="stable").drop_duplicates("run").set_index("run")["stands"]
