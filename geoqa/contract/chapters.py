"""In which order findings are listed: the work by what a defect spoils, then what was not measured, then the survey."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from geoqa.contract.checks import check_named

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class Chapter:
    """Findings about one thing.

    Attributes
    ----------
    subject : str
        What its checks are about.
    head : str
        Words over its list.
    out : str
        What a finding of it is called that is out.
    """

    subject: str
    head: str
    out: str


CHAPTERS = (
    Chapter(subject="work", head="The work", out="out of tolerance"),
    Chapter(subject="evidence", head="What was not measured", out="without evidence"),
    Chapter(subject="survey", head="The survey", out="to clear first"),
)
OPEN = {"UNDECIDED": "undecided", "NO_DATA": "not judged"}
"""What findings of any chapter are called that are not out."""
_SPOILS = ("water", "use", "clearance", "position", "")


def in_chapters(findings: "pd.DataFrame") -> "list[tuple[Chapter, pd.DataFrame]]":
    """Part findings by what they are about; what is out comes first, by what it spoils.

    Parameters
    ----------
    findings : DataFrame
        With `check` and `verdict`, worst first.

    Returns
    -------
    list of (Chapter, DataFrame)
        Every finding once; without chapters that have none.

    Examples
    --------
    >>> import pandas as pd
    >>> checks = ["control-elevation", "elevation", "coverage", "ponding", "elevation"]
    >>> found = pd.DataFrame({"check": checks, "verdict": ["OUT", "OUT", "OUT", "OUT", "UNDECIDED"]})
    >>> [(chapter.head, rows.index.tolist()) for chapter, rows in in_chapters(found)]
    [('The work', [3, 1, 4]), ('What was not measured', [2]), ('The survey', [0])]
    """
    subject = findings["check"].map({name: check_named(name).subject for name in set(findings["check"])})
    parts = [(chapter, findings[(subject == chapter.subject).to_numpy(bool)]) for chapter in CHAPTERS]
    return [(chapter, _by_consequence(rows)) for chapter, rows in parts if len(rows)]


def tally(findings: "pd.DataFrame", chapter: Chapter) -> str:
    """How many findings of a chapter are out, open, or not judged.

    Examples
    --------
    >>> import pandas as pd
    >>> tally(pd.DataFrame({"verdict": ["OUT", "NO_DATA", "OUT"]}), CHAPTERS[0])
    '2 out of tolerance, 1 not judged'
    >>> tally(pd.DataFrame({"verdict": ["OUT", "NO_DATA", "OUT"], "item": ["1", "2", "1"]}), CHAPTERS[0])
    '2 out of tolerance in 1 item, 1 not judged'
    """
    names = {"OUT": chapter.out, **OPEN}
    counts = {verdict: int((findings["verdict"] == verdict).sum()) for verdict in names}
    items = findings.loc[findings["verdict"] == "OUT", "item"].nunique() if "item" in findings else 0
    # the headline counts matters of the survey, so this says what it counts and in how many matters
    noun = "matter" if chapter.subject == "survey" else "item"
    together = f" in {items} {noun}{'s' if items > 1 else ''}" if 0 < items < counts["OUT"] else ""
    if together and noun == "matter":
        names["OUT"] = f"findings {chapter.out}"
    return ", ".join(
        f"{count} {names[verdict]}{together if verdict == 'OUT' else ''}" for verdict, count in counts.items() if count
    )


def _by_consequence(rows: "pd.DataFrame") -> "pd.DataFrame":
    """What is out before what is open; then by what it spoils; worst first, as they stand."""
    spoils = rows["check"].map({name: _SPOILS.index(check_named(name).consequence) for name in set(rows["check"])})
    is_open = (rows["verdict"] != "OUT").to_numpy(int)
    rank = [0 if late else int(place) for late, place in zip(is_open, spoils, strict=True)]
    return rows.iloc[sorted(range(len(rows)), key=lambda at: (is_open[at], rank[at]))]
