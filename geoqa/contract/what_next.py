"""What a finding means and what happens next, in a line for the list: facts of its check and its odds."""

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from geoqa.contract.checks import check_named
from geoqa.contract.items import by_chance
from geoqa.contract.odds_sentences import share_in_words
from geoqa.model import words
from geoqa.model.tables.in_rows import in_rows

if TYPE_CHECKING:
    import pandas as pd

SPOILS = {
    "water": "water may not run off as designed",
    "use": "it may not be usable as designed",
    "clearance": "it may be too shallow, or too near to other work",
    "position": "it does not lie where the design has it",
}
"""What it means that a number of the work is out, by what its check says a defect spoils."""
SURE, DOUBTFUL = 0.775, 0.225
"""From here the odds speak for the work, or for the shot; between them for neither."""
MEND, OR = "have it mended", "or accept it in writing"
AGAIN = "measure it again after a new initialization before anything is mended"
SHOT_FIRST = "measure it again: the shot is likelier wrong than the work"


def chances(layers: Mapping[str, Any]) -> dict[str, float]:
    """How likely it is of each finding that the work is so and not the shot wrong, by its name.

    Parameters
    ----------
    layers : mapping
        With `work_odds`, where the step of that name ran.

    Examples
    --------
    >>> import pandas as pd
    >>> rows = pd.DataFrame({"finding": ["F1", "F1", "F2"], "log_ratio": [1.0, 2.0, 0.0]})
    >>> {name: round(chance, 2) for name, chance in chances({"work_odds": rows}).items()}
    {'F1': 0.95, 'F2': 0.5}
    """
    if "work_odds" not in layers or not len(layers["work_odds"]):
        return {}
    sums = layers["work_odds"].groupby("finding")["log_ratio"].sum().clip(-700.0, 700.0)
    return {str(name): 1.0 / (1.0 + math.exp(-total)) for name, total in sums.items()}


def sure(chance: float | None) -> str:
    """How sure it is that the work is so, without what speaks for it; empty where nothing was weighed."""
    return "" if chance is None else share_in_words(chance)


def beyond(finding: Mapping[Any, Any], unit: str) -> str:
    """By how much a number of the work lies beyond its limit: what has to be mended at the least; empty for all else.

    Parameters
    ----------
    finding : mapping
        A row of findings: `check`, `verdict`, `quantity`, `deviation`, `lower`, `upper`, `u`.
    unit : str
        Name of the job's unit.

    Examples
    --------
    >>> row = {"check": "clear-width", "verdict": "OUT", "quantity": "length", "u": 0.025, "deviation": 3.565,
    ...        "lower": 4.0, "upper": math.inf}
    >>> beyond(row, "ft"), beyond({**row, "verdict": "UNDECIDED"}, "ft")
    ('0.44 ft', '')
    >>> high = {"check": "elevation", "verdict": "OUT", "quantity": "length", "u": 0.033, "deviation": 0.3249,
    ...         "lower": -0.1, "upper": 0.1}
    >>> beyond(high, "ft")
    '0.22 ft'
    """
    given = [finding.get(name) for name in ("deviation", "lower", "upper")]
    value, lower, upper = (each if isinstance(each, float) else math.nan for each in given)
    known = not any(map(math.isnan, (value, lower, upper)))
    if finding["verdict"] != "OUT" or check_named(finding["check"]).subject != "work" or not known:
        return ""
    digits = words.judged_digits(finding, unit)
    if digits is not None and finding.get("quantity") == "length":
        value = round(value, digits)  # as it is printed, so that whoever takes the limit from it finds the same
    by = max(lower - value, value - upper)
    if not 0 < by < math.inf or finding.get("quantity") not in ("length", "slope"):
        return ""
    said = words.quantity(by, finding["quantity"], unit, digits=digits)
    # as much as a rounded number shows: what is less than its last figure is not told
    return "" if said == words.quantity(0.0, finding["quantity"], unit, digits=digits) else said


def what_next(finding: Mapping[Any, Any], chance: float | None, unit: str = "", *, loose: bool = False) -> str:
    """What happens next with a finding that is not within tolerance; empty where nothing is known to do.

    Parameters
    ----------
    finding : mapping
        A row of findings: `check`, `verdict`, `remedy`.
    chance : float or None
        How likely it is that the work is so.
    unit : str
        Name of the job's unit: what is to be mended is told with by how much it misses its limit.
    loose : bool
        It does not stand when all numbers are looked at together: it may be chance.

    Examples
    --------
    >>> row = {"check": "ponding", "verdict": "OUT", "remedy": None}
    >>> what_next(row, 0.98), what_next(row, None) == what_next(row, 0.98)
    ('have it mended, or accept it in writing', True)
    >>> what_next(row, 0.1), what_next({**row, "remedy": "level it"}, 0.98)
    ('measure it again: the shot is likelier wrong than the work', 'level it')
    >>> what_next(row, 0.98, loose=True)
    'measure it again after a new initialization before anything is mended'
    """
    if isinstance(finding["remedy"], str) and finding["remedy"]:
        return finding["remedy"]
    if finding["verdict"] != "OUT" or check_named(finding["check"]).subject != "work":
        return ""
    if (chance is None or chance >= SURE) and not loose:
        by = beyond(finding, unit) if unit else ""
        return f"{MEND}, by {by} at the least, {OR}" if by else f"{MEND}, {OR}"
    return SHOT_FIRST if chance is not None and chance <= DOUBTFUL else AGAIN


def meaning(finding: Mapping[Any, Any]) -> str:
    """What it means for the work that a number of it is out; empty for all else.

    Examples
    --------
    >>> meaning({"check": "ponding", "verdict": "OUT"}), meaning({"check": "ponding", "verdict": "IN"})
    ('water may not run off as designed', '')
    """
    check = check_named(finding["check"])
    return SPOILS.get(check.consequence, "") if finding["verdict"] == "OUT" and check.subject == "work" else ""


def next_line(finding: Mapping[Any, Any], chance: float | None, unit: str = "", *, loose: bool = False) -> str:
    """Meaning and next step in one line, as the terminal and the map print it.

    Examples
    --------
    >>> next_line({"check": "cover", "verdict": "OUT", "remedy": None}, 0.5)  # doctest: +ELLIPSIS
    'it may be too shallow, or too near to other work; next: measure it again after a new initialization...'
    """
    step = what_next(finding, chance, unit, loose=loose)
    parts = [meaning(finding), f"next: {step}" if step else ""]
    return "; ".join(part for part in parts if part)


def next_lines(layers: Mapping[str, Any], findings: "pd.DataFrame", unit: str = "") -> "pd.Series":
    """`next_line` of every row; null where it is empty."""
    import pandas as pd

    of, loose = chances(layers), by_chance(layers)
    said = [
        next_line(row, of.get(row["finding"]), unit, loose=row.get("item") in loose) or None
        for row in in_rows(findings)
    ]
    return pd.Series(said, index=findings.index, dtype="str")
