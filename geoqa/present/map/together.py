"""What several shots show together and what is within its limits: named with its shots, not sent finding by finding."""

from typing import TYPE_CHECKING

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.present.map.linework import Canvas

if TYPE_CHECKING:
    import pandas as pd


def kept(findings: "pd.DataFrame", evidence: "pd.DataFrame") -> "tuple[pd.DataFrame, pd.DataFrame]":
    """Part findings into those that are sent to the page, and those that are only counted with their shots.

    Parameters
    ----------
    findings : DataFrame
        With `finding`, `check`, `shot`, `run` and `verdict`.
    evidence : DataFrame
        With `finding`, `layer` and `role`.

    Returns
    -------
    (DataFrame, DataFrame)
        Counted is what is IN, has no main shot but members, and belongs to no run that is sent.

    Examples
    --------
    >>> import pandas as pd
    >>> found = pd.DataFrame({"finding": ["a", "b", "c"], "check": "running-slope", "shot": None, "run": None,
    ...                       "verdict": ["IN", "OUT", "IN"]})
    >>> shown = pd.DataFrame({"finding": ["a", "b"], "layer": "shots", "role": "member"})
    >>> [part["finding"].tolist() for part in kept(found, shown)]
    [['b', 'c'], ['a']]
    """
    members = evidence.loc[(evidence["layer"] == "shots") & (evidence["role"] == "member"), "finding"]
    among = findings["finding"].isin(set(members)).to_numpy() & findings["shot"].isna().to_numpy()
    counted = among & (findings["verdict"] == "IN").to_numpy(bool)
    # a run is judged from its members: what belongs to one that is sent is sent as well, and the other way round
    told = ~counted
    of_sent = findings["run"].isin(set(findings["finding"][told])).to_numpy()
    has_sent = findings["finding"].isin(set(findings["run"][told].dropna())).to_numpy()
    counted &= ~of_sent & ~has_sent
    return findings[~counted], findings[counted]


def add_within(canvas: Canvas, within: "pd.DataFrame", evidence: "pd.DataFrame", shots: "pd.DataFrame") -> None:
    """Add to every shot what it shows with others and what is within its limits: "Running slope of a walk (2)"."""
    table = canvas.packer.table("together", len(shots))
    checks = within.set_index("finding")["check"]
    mine = evidence[(evidence["layer"] == "shots") & evidence["finding"].isin(set(checks.index))]
    of_shot = mine.assign(check=mine["finding"].map(checks.to_dict())).drop_duplicates(["finding", "key"])
    counts = of_shot.groupby(["key", "check"], sort=True).size().reset_index(name="count")
    said: dict[str, list[str]] = {}
    for row in counts.to_dict("records"):
        title = check_named(row["check"]).title
        said.setdefault(row["key"], []).append(title if row["count"] == 1 else f"{title} ({row['count']})")
    table.texts("within", [words.listed(said[key]) if key in said else None for key in shots["shot_key"]])
