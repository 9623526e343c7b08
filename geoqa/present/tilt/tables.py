"""The tables of the tilt page: largest lean, what was learned, what to test next. All text is escaped."""

from collections.abc import Hashable, Iterable, Mapping
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.model.quantity import LengthUnit
from geoqa.present.tilt.plots import other_unit

if TYPE_CHECKING:
    import pandas as pd


_NAMES = {
    "heading-bias": "Heading, bias",
    "angle-bias": "Tilt angle, bias",
    "rod-error": "Rod, true minus entered",
    "heading-spread": "Heading, scatter (1 sigma)",
    "angle-spread": "Tilt angle, scatter (1 sigma)",
    "angle-spread-v": "Tilt angle, scatter by elevations",
    "plumb-h": "Plumb shot, per axis (1 sigma)",
    "plumb-v": "Plumb shot, elevation (1 sigma)",
    "left-sideways": "Unexplained, sideways",
    "left-along": "Unexplained, along the lean",
    "left-up": "Unexplained, in elevation",
    "seconds-plumb": "Time for a plumb shot",
    "seconds-tilted": "Time for a tilted shot",
}


def table(heads: Iterable[tuple[str, str]], rows: Iterable[str]) -> str:
    """A table of finished rows; heads are (words, class)."""
    head = "".join(f'<th class="{kind}">{escape(said)}</th>' for said, kind in heads)
    body = f"<thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody>"
    return f'<div class="wide" tabindex="0"><table>{body}</table></div>'


def both(value: float, unit: LengthUnit) -> str:
    """A length in the job's unit, and under it in the other one: the head of its column names both.

    Examples
    --------
    >>> from geoqa.model.quantity import FOOT
    >>> both(0.10, FOOT)
    '0.100<br><small>30.5</small>'
    """
    other = other_unit(unit)
    digits = 1 if other.name == "mm" else 3
    small = words.number(value * other.factor, digits)
    return f"{words.quantity(value, 'length', unit.name, bare=True)}<br><small>{small}</small>"


def units(unit: LengthUnit) -> str:
    """Both units of a column, as its head says them.

    Examples
    --------
    >>> from geoqa.model.quantity import FOOT
    >>> units(FOOT)
    'ft / mm'
    """
    return f"{unit.name} / {other_unit(unit).name}"


def limits_table(limits: "pd.DataFrame", unit: LengthUnit) -> str:
    """One row for each tolerance: how far the rod may lean, as it is and once biases are set right."""
    differs = _differs(limits)
    heads = [
        ("Feature", ""),
        ("Check", ""),
        (f"Tolerance, {units(unit)}", "n"),
        ("at zero deviation", "n"),
        ("at half of it", "n"),
    ]
    if differs:
        heads += [("set right: at zero", "n"), ("set right: at half", "n")]
    rows = []
    for (kind, check), mine in limits.groupby(["kind", "check"], sort=True):
        radius = "r ≤ " if check_named(str(check)).radial else "±"
        cells = [f"<td>{escape(str(kind))}</td><td>{escape(str(check))}</td>"]
        cells.append(f'<td class="n">{radius}{both(float(mine["limit"].iloc[0]), unit)}</td>')
        for biases in ("kept", "removed")[: 1 + differs]:
            for row in mine[mine["biases"] == biases].sort_values("deviation").to_dict("records"):
                cells.append(_reach(row))
        rows.append(f"<tr>{''.join(cells)}</tr>")
    return table(heads, rows)


def _differs(limits: "pd.DataFrame") -> bool:
    kept, removed = (limits.loc[limits["biases"] == each, "tilt"].to_numpy(float) for each in ("kept", "removed"))
    return not np.array_equal(kept, removed, equal_nan=True)


def _reach(row: Mapping[Hashable, Any]) -> str:
    if np.isnan(row["tilt"]):
        return f'<td class="n no">{"plumb only" if row["plumb"] else "not provable"}</td>'
    more = "≥ " if row["whole_range"] else ""
    careful = "plumb" if np.isnan(row["cautious"]) else f"{row['cautious']:.1f}°"
    return f'<td class="n"><b>{more}{row["tilt"]:.1f}°</b><br><small>cautious {careful}</small></td>'


def model_table(model: "pd.DataFrame", unit: LengthUnit) -> str:
    """Every number that was learned, with its band and the shots behind it."""
    heads = [("What", ""), ("Value", "n"), ("95 % band", "n"), ("n", "n"), ("What it does", "")]
    rows = []
    for row in model.to_dict("records"):
        name = escape(_NAMES.get(row["quantity"], row["quantity"]))
        name = f"<b>{name}</b>" if row["significant"] else name
        value, low, high = (_value(row[each], row["unit"], unit) for each in ("value", "low", "high"))
        band = "–" if np.isnan(row["low"]) else f"{low} to {high}"
        metric = f"<br><small>{_metric(row['value'], unit)}</small>" if row["unit"] == unit.name else ""
        cells = f'<td class="n">{value}{metric}</td><td class="n">{band}</td><td class="n">{row["shots"]}</td>'
        rows.append(f"<tr><td>{name}</td>{cells}<td>{escape(row['words'])}</td></tr>")
    return table(heads, rows)


def _value(value: float, kind: str, unit: LengthUnit) -> str:
    if kind == unit.name:
        return words.length(value, kind)
    if kind == "deg":
        return words.quantity(value, "angle", kind)
    return f"{words.number(value, 0)} {kind}" if np.isfinite(value) else words.number(value, 0)


def _metric(value: float, unit: LengthUnit) -> str:
    other = other_unit(unit)
    return f"{words.number(value * other.factor, 1 if other.name == 'mm' else 3)} {other.name}"


def class_table(classes: "pd.DataFrame", unit: LengthUnit) -> str:
    """Sizes of the differences by class of tilt: these need no model."""
    heads = [("Tilt", ""), ("n", "n"), (f"in plan, per axis, {units(unit)}", "n"), ("95 % ellipse", "n"),
             ("elevation", "n"), ("largest in plan", "n"), ("in elevation", "n")]  # fmt: skip
    rows = []
    for row in classes.to_dict("records"):
        ellipse = "–"
        if np.isfinite(row["major"]):
            ellipse = _axes(row["major"], row["minor"], unit)
        cells = [both(row["u_h"], unit), ellipse, both(row["u_v"], unit)]
        cells += [both(row["largest_h"], unit), both(row["largest_v"], unit)]
        numbers = "".join(f'<td class="n">{cell}</td>' for cell in cells)
        rows.append(
            f'<tr><td>{row["low"]:.0f}° to {row["high"]:.0f}°</td><td class="n">{row["shots"]}</td>{numbers}</tr>'
        )
    return table(heads, rows)


def _axes(major: float, minor: float, unit: LengthUnit) -> str:
    """Half axes of an ellipse, in both units."""
    other = other_unit(unit)
    digits = 1 if other.name == "mm" else 3
    here = " × ".join(words.number(each, words.decimals("length", unit.name)) for each in (major, minor))
    there = " × ".join(words.number(each * other.factor, digits) for each in (major, minor))
    return f"{here}<br><small>{there}</small>"


def plan_list(plan: "pd.DataFrame") -> str:
    """What to test next."""
    rows = [
        f"<li>{escape(row['words'])} <span class='soft'>({words.many(row['shots'], 'shot')}): "
        f"{escape(row['reason'])}.</span></li>"
        if row["shots"]
        else f"<li>{escape(row['words'])} <span class='soft'>– {escape(row['reason'])}.</span></li>"
        for row in plan.sort_values("order").to_dict("records")
    ]
    return f"<ol>{''.join(rows)}</ol>"
