"""Items in words: the headline that counts them, and what else is out at the place of one."""

from typing import TYPE_CHECKING, Any

from geoqa.model import words
from geoqa.model.tables.layer import Layers

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

CHECKS_NAMED = 4
"""Checks named beside the one that speaks for an item."""


def _reach(findings: "pd.DataFrame", unit: str) -> str:
    """From where to where findings of one check lie; empty where that is one place, or not along a line."""
    start = "baseline_station" if "baseline_station" in findings else "station"
    if not unit or start not in findings or findings["station"].isna().any():
        return ""
    low, high = findings[start].min(), findings[start].max()
    if f"{start}_end" in findings:
        high = findings[f"{start}_end"].fillna(high).clip(lower=high).max()
    return f", {words.stretch(float(low), float(high), unit)}" if high > low else ""


def headline(layers: "Mapping[str, Any]", *, counts_too: bool = True) -> str:
    """Count what is out by places, and what is open by numbers, in one sentence.

    Parameters
    ----------
    layers : mapping
        With `findings`, and `items` and `many_checks` where the steps of these names ran.
    counts_too : bool
        Count what is open too; a page that shows these counts beside the sentence leaves them out.

    Returns
    -------
    str
        Empty where no number was judged.

    Examples
    --------
    >>> import pandas as pd
    >>> findings = pd.DataFrame({"verdict": ["OUT", "OUT", "OUT", "UNDECIDED", "IN"], "run": None,
    ...     "item": ["1", "1", "2", "3", None]})
    >>> items = pd.DataFrame({"item": ["1", "2", "3"], "chapter": ["work", "survey", "work"],
    ...     "verdict": ["OUT", "OUT", "UNDECIDED"], "state": "open"})
    >>> headline({"findings": findings, "items": items})
    '1 place of the work is out of tolerance; 1 matter of the survey to clear first; 1 number cannot be decided.'
    """
    findings = layers["findings"]
    reported = findings.loc[findings["run"].isna(), "verdict"].value_counts()
    if not len(reported):
        return ""
    said = []
    if "items" in layers:
        items = layers["items"]
        out = items[(items["verdict"] == "OUT") & (items["state"] == "open")]["chapter"].value_counts()
        said += [sentence(int(out[chapter])) for chapter, sentence in _OUT.items() if chapter in out]
        if "work" in out:
            listed = items.loc[(items["state"] == "open") & (items["chapter"] == "work"), "item"]
            said[0] += _standing(int(out["work"]), len(by_chance(layers) & set(listed)))
        if "work" not in out and reported.get("OUT", 0) + reported.get("IN", 0) + reported.get("UNDECIDED", 0):
            said.insert(0, "no place of the work is proven out of tolerance")
    elif reported.get("OUT", 0):
        said.append(words.many(int(reported["OUT"]), "finding is", "findings are") + " out of tolerance")
    if counts_too:
        said += [words.many(int(reported[each]), *names) for each, names in _OPEN.items() if each in reported]
    told = "; ".join(said)
    return f"{told[:1].upper()}{told[1:]}." if told else "All numbers are within tolerance."


def by_chance(layers: "Mapping[str, Any]") -> set[str]:
    """Items whose numbers of the work that are out do not stand when all numbers are looked at together.

    Parameters
    ----------
    layers : mapping
        With `findings` and their items, and `many_checks` where the step of that name ran.

    Returns
    -------
    set of str
        An item stands where one of its numbers does, or was not looked at together with the others.

    Examples
    --------
    >>> import pandas as pd
    >>> findings = pd.DataFrame({"finding": ["F1", "F2", "F3"], "item": ["1", "1", "2"], "verdict": "OUT"})
    >>> claims = pd.DataFrame({"finding": ["F1", "F2", "F3"], "holds": [False, True, False]})
    >>> by_chance({"findings": findings, "many_checks": claims})
    {'2'}
    """
    if isinstance(layers, Layers):
        return set(layers.derived("items by chance", ("findings", "many_checks"), lambda: _by_chance(layers)))
    return _by_chance(layers)


def _by_chance(layers: "Mapping[str, Any]") -> set[str]:
    findings = layers["findings"]
    if "many_checks" not in layers or not len(layers["many_checks"]) or "item" not in findings:
        return set()
    claims = layers["many_checks"].set_index("finding")["holds"]
    mine = findings[findings["finding"].isin(claims.index) & findings["item"].notna()]
    holds = mine["finding"].map(claims).astype(bool).groupby(mine["item"]).any()
    return {str(item) for item in holds.index[~holds]}


def _standing(out: int, chance: int) -> str:
    """How many of the places that are out do not stand when all numbers are looked at together."""
    if not chance:
        return ""
    if chance == out:
        told = "and it does not stand" if out == 1 else "of which none stands"
    else:
        told = f"of which {words.many(chance, 'does', 'do')} not stand"
    return f", {told} {TOGETHER}"


TOGETHER = "when all numbers are looked at together"
MAY_BE_CHANCE = f"may be chance: it does not stand {TOGETHER}"
"""Said of an item of `by_chance`."""
_OUT = {
    "work": lambda count: words.many(count, "place of the work is", "places of the work are") + " out of tolerance",
    "evidence": lambda count: words.many(count, "reach or point has", "reaches or points have") + " no evidence",
    "survey": lambda count: words.many(count, "matter of the survey", "matters of the survey") + " to clear first",
}
_OPEN = {
    "UNDECIDED": ("number cannot be decided", "numbers cannot be decided"),
    "NO_DATA": ("number is not judged", "numbers are not judged"),
}


def also_there(findings: "pd.DataFrame", lead: str, unit: str = "") -> str:
    """What else an item holds beside the finding that speaks for it, by check, and from where to where they lie.

    Parameters
    ----------
    findings : DataFrame
        Those of one item, worst first: `finding`, `check`, and where they lie along a line `station` and `station_end`,
        or the same of the baseline.
    lead : str
        Id of the one that speaks for it.
    unit : str
        Name of the job's unit; no place is told without.

    Examples
    --------
    >>> import pandas as pd
    >>> mine = pd.DataFrame({"finding": ["F1", "F2", "F3", "F4"], "check": ["cover", "cover", "clearance", "cover"]})
    >>> also_there(mine, "F1"), also_there(mine.head(1), "F1")
    ('also of this item: cover (2), clearance (1)', '')
    >>> also_there(mine.assign(station=[1050.0, 1100.0, 1100.0, 1150.2]), "F1", "ft")
    'also of this item: cover (2, 11+00 to 11+50), clearance (1)'
    >>> run = mine.assign(station=1050.0, station_end=[None, None, 1155.0, None]).iloc[[0, 2]]
    >>> also_there(run, "F1", "ft")
    'also of this item: clearance (1, 10+50 to 11+55)'
    """
    others = findings[findings["finding"] != lead]
    if not len(others):
        return ""
    named = [
        f"{str(check).replace('-', ' ')} ({len(mine)}{_reach(mine, unit)})"
        for check, mine in others.groupby("check", sort=False)
    ]
    more = f" and {len(named) - CHECKS_NAMED} more checks" if len(named) > CHECKS_NAMED else ""
    return f"also of this item: {', '.join(named[:CHECKS_NAMED])}{more}"
