"""Readings taken beside the shots: which number of shots each stands beside, and which of both is judged."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.model import words
from geoqa.model.check import Check
from geoqa.model.quantity import UNITS
from geoqa.model.tables.layer import Layers

TABLES = ("readings", "reading_rules")


@dataclass(frozen=True, kw_only=True, eq=False)
class Beside:
    """What readings do to numbers of shots.

    Attributes
    ----------
    labels : list of str
        Of every number, with what was read beside it.
    instead : DataFrame
        `number`, `value` and `u` of readings that are better than the shots: they are judged.
    lost : DataFrame
        `place`, `source` and `line` of readings beside no number.
    """

    labels: list[str]
    instead: pd.DataFrame
    lost: pd.DataFrame


def elsewhere(layers: Layers, check: Check, lost: pd.DataFrame) -> pd.DataFrame:
    """Rows of readings that stand beside no number, as `panels.lacking_rows` has them."""
    limits = layers["limits"]
    # a cross slope has limits of walks and of ramps
    kinds = sorted(set(limits.loc[limits["check"] == check.name, "kind"]), key=lambda kind: (kind != "walk", kind))
    where = [f"{source}, line {line}" for source, line in zip(lost["source"], lost["line"], strict=True)]
    return pd.DataFrame(
        {
            "kind": kinds[0] if kinds else "",
            "subject": where,
            "reason": "reading-elsewhere",
            "label": [f"reading at {place}" for place in lost["place"]],
            "easting": np.nan,
            "northing": np.nan,
            "rows": None,
        }
    )


def of_check(layers: Layers, check: Check) -> pd.DataFrame:
    """Readings of a check, in the job's unit: source, line, place, value, u and reference."""
    if not all(name in layers for name in TABLES) or not len(layers["readings"]):
        return pd.DataFrame(columns=["source", "line", "place", "value", "u", "reference"])
    rules = layers["reading_rules"]
    table = layers["readings"].merge(rules[rules["what"] == check.name], on="source", suffixes=("", "_stated"))
    # a slope in a file of widths, or the other way round, is of no use to the check
    table = table[table["quantity"] == check.quantity]
    scale = 1.0 if check.quantity == "slope" else 1.0 / UNITS[layers.frame.unit.name].metres_float
    u = table["u"].where(table["u"].notna(), table["u_stated"])
    made = table.assign(value=table["value"] * scale, u=u * scale)
    return made.sort_values(["source", "line"], ignore_index=True)


def beside(
    layers: Layers, check: Check, labels: list[str], names: list[set[str]], value: np.ndarray, u: np.ndarray
) -> Beside:
    """Find for every reading the numbers it stands beside.

    Parameters
    ----------
    layers : Layers
    check : Check
    labels : list of str
    names : list of set of str
        Of every number: shots, or the ramp, that a reading may name.
    value, u : (m,) arrays
        As the shots tell it; NaN is not known.

    Notes
    -----
    Several readings of one number are one value, the mean weighed by 1 / u². It is judged where it is better than the
    shots or these tell nothing; otherwise it stands in the label.
    """
    readings = of_check(layers, check)
    made, instead, found = list(labels), [], np.zeros(len(readings), dtype=bool)
    if not len(readings):
        return Beside(labels=made, instead=pd.DataFrame(columns=["number", "value", "u"]), lost=readings)
    unit = layers.frame.unit.name
    places = readings["place"].to_numpy(dtype=object)
    for number, each in enumerate(names):
        mine = np.array([place in each for place in places])
        if not mine.any():
            continue
        found |= mine
        weight = readings["u"].to_numpy(float)[mine] ** -2.0
        read = float(np.average(readings["value"].to_numpy(float)[mine], weights=weight))
        u_read = float(weight.sum() ** -0.5)
        pair = [_with_band(a, b, check, unit) for a, b in ((read, u_read), (value[number], u[number]))]
        better = not (np.isfinite(value[number]) and u[number] <= u_read)
        shown = f"read {pair[0]}" + (f", by shots {pair[1]}" if np.isfinite(value[number]) else "")
        made[number] += f"; {shown}; {'the reading is' if better else 'the shots are'} judged"
        if better:
            instead.append((number, read, u_read))
    table = pd.DataFrame(instead, columns=["number", "value", "u"])
    return Beside(labels=made, instead=table, lost=readings[~found].reset_index(drop=True))


def _with_band(value: float, u: float, check: Check, unit: str) -> str:
    """A number with its band of 95 %, to as many decimals as it deserves."""
    deserving = {"deviation": value, "quantity": check.quantity, "u": u}
    digits = words.judged_digits(deserving, unit)
    told, band = (words.quantity(each, check.quantity, unit, digits=digits) for each in (value, 1.96 * u))
    return f"{told} ± {band}"
