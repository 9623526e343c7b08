"""What one shot can decide, in words: made of the numbers of a row of `capability`."""

import math
from collections.abc import Mapping
from typing import Any

from geoqa.contract.checks import check_named
from geoqa.model.check import Check
from geoqa.model.words import length, quantity


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


def decided_together(row: Mapping[str, Any], unit: str) -> str:
    """What a number of several shots can prove.

    Parameters
    ----------
    row : mapping
        Of the table `capability_together`.
    unit : str
        Name of the job's linear unit.

    Examples
    --------
    >>> row = {"quantity": "slope", "u": 0.0057, "lower": -1 / 48, "upper": 1 / 48, "provable": True,
    ...        "in_from": -0.0115, "in_to": 0.0115, "out_below": -0.0302, "out_above": 0.0302}
    >>> decided_together(row, "ft")
    'within ±1.150 % proves IN, beyond ±3.020 % proves OUT'
    >>> row |= {"quantity": "length", "lower": 0.42, "upper": 0.58, "in_from": 0.467, "in_to": 0.533}
    >>> decided_together(row | {"out_below": 0.373, "out_above": 0.627}, "ft")
    '0.467 ft to 0.533 ft proves IN, below 0.373 ft or above 0.627 ft proves OUT'
    >>> decided_together(row | {"provable": False, "upper": math.inf, "out_below": 0.373}, "ft")
    'IN can never be proven so, at most 0.373 ft proves OUT'
    """
    if math.isnan(row["u"]):
        return "nothing can be said: no uncertainty is known"

    def said(value: float) -> str:
        return quantity(value, str(row["quantity"]), unit)

    least, most = math.isfinite(row["lower"]), math.isfinite(row["upper"])
    if least and most:
        alike = abs(row["lower"] + row["upper"]) < 1e-12
        denies = f"beyond ±{said(row['out_above'])}" if alike else (
            f"below {said(row['out_below'])} or above {said(row['out_above'])}")  # fmt: skip
        proves = f"within ±{said(row['in_to'])}" if alike else f"{said(row['in_from'])} to {said(row['in_to'])}"
    elif least:
        proves, denies = f"at least {said(row['in_from'])}", f"at most {said(row['out_below'])}"
    else:
        proves, denies = f"at most {said(row['in_to'])}", f"at least {said(row['out_above'])}"
    return f"{f'{proves} proves IN' if row['provable'] else 'IN can never be proven so'}, {denies} proves OUT"


def _ends(check: Check, low: float, high: float, unit: str) -> str:
    if check.radial or not math.isfinite(low) or abs(low + high) < 1e-9:
        return length(high if math.isfinite(high) else -low, unit)
    if not math.isfinite(high):
        return f"{length(-low, unit)} {_side(check, low)}"
    return f"{length(-low, unit)} {_side(check, low)} and {length(high, unit)} {_side(check, high)}"


def _side(check: Check, value: float) -> str:
    low, high = check.directions or ("below", "above")
    return low if value < 0 else high
