"""What several rule sets say of one number, in a line: which set a limit is of, and where others differ."""

from typing import TYPE_CHECKING

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.model.tables.several_sets import number_of, ruleset_of, several_sets

if TYPE_CHECKING:
    import pandas as pd

SAID = {"IN": "within", "UNDECIDED": "undecided", "OUT": "exceeds", "NO_DATA": "not judged"}
"""Verdicts as they are said of the numeric limit of a rule set."""
_NO_LIMITS = ("method", "no rule")


def rule_set_words(findings: "pd.DataFrame", unit: str) -> "pd.DataFrame":
    """Name the rule set of every finding whose kind and check are judged under several, and what the others say.

    Parameters
    ----------
    findings : DataFrame
        All findings of a job, members of runs among them.
    unit : str
        Name of the job's unit.

    Returns
    -------
    DataFrame
        By finding: `ruleset`, short name and edition, empty where only one set is in force for kind and check; and
        `sets_differ`, a line where the sets give one number different verdicts. Of a run, its members are counted.

    Examples
    --------
    >>> import pandas as pd
    >>> one = {"check": "clear-width", "kind": "walk", "subject": "W", "label": "", "shot": "s/1", "measured": 4.5,
    ...        "station": 0.0, "station_end": 0.0, "deviation": 4.5, "quantity": "length", "upper": float("inf"),
    ...        "run": None}
    >>> rows = [one | {"finding": "A", "against": "job; a", "edition": "", "lower": 4.0, "verdict": "IN"},
    ...         one | {"finding": "B", "against": "town; a", "edition": "2nd", "lower": 5.0, "verdict": "OUT"}]
    >>> words = rule_set_words(pd.DataFrame(rows), "ft")
    >>> words.loc["B", "ruleset"], words.loc["B", "sets_differ"]
    ('town, 2nd', 'rule sets differ; town, 2nd: exceeds (at least 5.00 ft); job: within (at least 4.00 ft)')
    """
    import pandas as pd

    made = pd.DataFrame({"ruleset": "", "sets_differ": ""}, index=pd.Index(findings["finding"], name="finding"))
    if not several_sets(findings["against"]):
        return made
    own = ruleset_of(findings)
    own = own.where(~own.isin(_NO_LIMITS))
    several = own.groupby([findings["kind"], findings["check"]], dropna=False).transform("nunique") > 1
    edition = findings["edition"].fillna("").astype(str)
    named = own.astype(str) + (", " + edition).where(edition != "", "")
    made["ruleset"] = named.where(several & own.notna(), "").to_numpy()
    table = findings.assign(number=number_of(findings), ruleset=own, named=named)[several & own.notna()]
    made["sets_differ"] = _differ(table, unit).reindex(made.index).fillna("")
    return made


def _differ(table: "pd.DataFrame", unit: str) -> "pd.Series":
    """The line of each finding whose number, or a member's, is judged otherwise under another set."""
    import pandas as pd

    verdicts = table.groupby("number")["verdict"].nunique()
    numbers = table[table["number"].isin(verdicts.index[verdicts > 1])]
    if not len(numbers):
        return pd.Series(dtype="str")
    own = table.drop_duplicates("finding").set_index("finding")["ruleset"]
    single = numbers[["finding", "number"]].rename(columns={"finding": "about"})
    members = numbers[numbers["run"].map(own) == numbers["ruleset"]]
    of_runs = members[["run", "number"]].rename(columns={"run": "about"})
    pairs = pd.concat([single, of_runs], ignore_index=True).drop_duplicates()
    told = pairs.merge(numbers[[*_TOLD]], on="number")
    told["first"] = told["ruleset"] != told["about"].map(own)
    lines = {}
    for about, rows in told.groupby("about", sort=False):
        sets = [_of_set(mine, unit) for _, mine in rows.groupby(["first", "ruleset"], sort=True)]
        if len(sets) > 1:
            many = rows["number"].nunique() > 1
            lines[about] = f"rule sets differ{' on what it is the mean of' if many else ''}; {'; '.join(sets)}"
    return pd.Series(lines, dtype="str")


_TOLD = ("number", "ruleset", "named", "verdict", "lower", "upper", "check", "quantity")


def _of_set(rows: "pd.DataFrame", unit: str) -> str:
    """What one set says: its verdict, or how many of each, and its limit where one holds for all."""
    count = rows["verdict"].value_counts()
    said = [SAID[verdict] if len(rows) == 1 else f"{count[verdict]} {_several(verdict, count[verdict])}"
            for verdict in SAID if verdict in count]  # fmt: skip
    first = rows.iloc[0]
    alike = rows["lower"].nunique(dropna=False) == rows["upper"].nunique(dropna=False) == 1
    known = alike and not rows[["lower", "upper"]].isna().to_numpy().any()
    limit = words.limits(
        float(first["lower"]), float(first["upper"]), check_named(first["check"]), first["quantity"], unit
    ) if known else ""  # fmt: skip
    return f"{first['named']}: {', '.join(said)}" + (f" ({limit.removeprefix('within ')})" if limit else "")


def _several(verdict: str, count: int) -> str:
    return "exceed" if verdict == "OUT" and count > 1 else SAID[verdict]
