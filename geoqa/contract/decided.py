"""What one shot can decide, in words: made of the numbers of a row of `capability`."""

import math
from collections.abc import Mapping
from typing import Any

from geoqa.contract.checks import check_named
from geoqa.model.check import Check
from geoqa.model.words import length


def decided(row: Mapping[str, Any], unit: str) -> str:
    """What a method can prove by one shot.

    Parameters
    ----------
    row : mapping
        Of the table `capability`.
    unit : str
        Name of the job's linear unit.

    Examples
    --------
    >>> row = {"check": "offset", "u": 0.02, "provable": True, "in_from": -0.067, "in_to": 0.067}
    >>> decided(row | {"out_below": -0.133, "out_above": 0.133}, "ft")
    'within 0.067 ft proves IN, from 0.133 ft on proves OUT'
    >>> least = {"check": "clear-width", "u": 0.02, "provable": True, "in_from": 3.033, "in_to": math.inf}
    >>> decided(least | {"out_below": 2.967, "out_above": math.nan}, "ft")
    'at least 3.033 ft proves IN, at most 2.967 ft proves OUT'
    """
    if math.isnan(row["u"]):
        return "nothing can be said: no uncertainty is known"
    check = check_named(str(row["check"]))
    if not check.radial and row["provable"] and (row["in_from"] > 0 or row["in_to"] < 0):
        least = row["in_from"] > 0
        proves, denies = (row["in_from"], row["out_below"]) if least else (row["in_to"], row["out_above"])
        first, second = ("at least", "at most") if least else ("at most", "at least")
        return f"{first} {length(proves, unit)} proves IN, {second} {length(denies, unit)} proves OUT"
    inside = _ends(check, row["in_from"], row["in_to"], unit) if row["provable"] else ""
    proves = f"within {inside} proves IN" if inside else "IN can never be proven by one shot"
    return f"{proves}, from {_ends(check, row['out_below'], row['out_above'], unit)} on proves OUT"


def capability_words(row: Mapping[str, Any], unit: str) -> str:
    """The same, with what is left between and how the uncertainty compares with the tolerance."""
    if math.isnan(row["u"]):
        return decided(row, unit)
    third = "at most" if row["one_third"] else "more than"
    return (
        f"{decided(row, unit)}; what lies between cannot be decided by one shot. "
        f"U at 95 % is {third} a third of the tolerance"
    )


def _ends(check: Check, low: float, high: float, unit: str) -> str:
    if check.radial or not math.isfinite(low) or abs(low + high) < 1e-9:
        return length(high if math.isfinite(high) else -low, unit)
    if not math.isfinite(high):
        return f"{length(-low, unit)} {_side(check, low)}"
    return f"{length(-low, unit)} {_side(check, low)} and {length(high, unit)} {_side(check, high)}"


def _side(check: Check, value: float) -> str:
    low, high = check.directions or ("below", "above")
    return low if value < 0 else high
