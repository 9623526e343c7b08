"""Where the uncertainty of one shot comes from, and what that lets one shot prove."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.model.results import Results
from geoqa.present.report.markup import Column, Html, Row, joined, table, tag

if TYPE_CHECKING:
    import pandas as pd

_PARTS = ("random", "common", "tilt", "mark", "all")
_AXES = {"h": "in plan", "v": "in elevation"}


def budget(results: Results) -> Iterator[Html]:
    """Give the parts by kind and axis, and what one shot of each kind can prove."""
    layers, unit = results.layers, results.layers.frame.unit.name
    if "budget" not in layers or not len(layers["budget"]):
        yield tag("p", "No uncertainty of a shot is known, so no verdict rests on one.")
        return
    yield tag(
        "p",
        f"1 sigma of one shot, {unit}: the median of the kind. Own: of this shot alone. Session: shared by "
        "all shots of a session; it does not shrink when shots are averaged. All: root of the sum of squares.",
    )
    yield _parts(layers["budget"], unit)
    for name in ("reported_scale", "crew_precision"):
        if name in layers and len(layers[name]):
            yield from _said(layers[name])
    if "capability" in layers and len(layers["capability"]):
        yield _capability(layers["capability"], unit)


def _parts(parts: "pd.DataFrame", unit: str) -> Html:
    """One row for all kinds of one budget."""
    digits = words.decimals("length", unit)
    letters: dict[str, str] = {}
    alike: dict[tuple[object, ...], list[str]] = {}
    for (kind, axis), mine in parts.fillna({"kind": "unknown code"}).groupby(["kind", "axis"], sort=True):
        held = dict(zip(mine["part"], mine["u"], strict=True))
        sources = list(dict.fromkeys(mine.loc[mine["part"] != "all", "source"]))
        marks = "".join(sorted(letters.setdefault(each, _letter(len(letters))) for each in sources))
        numbers = tuple(words.number(held[part], digits) if part in held else "" for part in _PARTS)
        alike.setdefault((axis, *numbers, marks), []).append(str(kind))
    rows = [
        Row((", ".join(kinds), _AXES.get(str(axis), axis), *numbers, marks), key=f"{axis} {kinds[0]}")
        for (axis, *numbers, marks), kinds in sorted(alike.items(), key=lambda pair: (str(pair[0][0]), pair[1]))
    ]
    heads = (
        Column("Kinds", "w"),
        Column("Axis", "k"),
        Column("Own", "n"),
        Column("Session", "n"),
        Column("Lean", "n"),
        Column("Mark", "n"),
        Column("All", "n"),
        Column("Source", "k"),
    )
    notes = tag("p", "; ".join(f"{letter}: {source}" for source, letter in letters.items()) + ".", kind="quiet")
    return joined(table("budget", heads, rows), notes)


def _letter(number: int) -> str:
    return "abcdefghijklmnopqrstuvwxyz"[number] if number < 26 else f"({number})"


def _said(rows: "pd.DataFrame") -> Iterator[Html]:
    """Sentences of a table about plan and elevation, without those that only name a setting."""
    told = []
    for row in rows.to_dict("records"):
        if row.get("part", "absolute") in ("absolute", "reported") and isinstance(row["words"], str) and row["words"]:
            told.append(tag("li", f"{_AXES.get(row['axis'], '').capitalize()}: ", _number(row), row["words"], "."))
    if told:
        yield tag("ul", *told)


def _number(row: "dict[Any, Any]") -> str:
    """The value of a row whose words do not say it, with its band."""
    if "value" not in row or row["value"] != row["value"]:
        return ""
    unit = "" if row["unit"] == "1" else f" {row['unit']}"
    digits = 2 if row["unit"] == "1" else words.decimals("length", row["unit"])
    value, low, high = (words.number(row[name], digits) for name in ("value", "low", "high"))
    return f"{value}{unit} (95 %: {low} to {high}), "


def _capability(rows: "pd.DataFrame", unit: str) -> Html:
    digits, made = words.decimals("length", unit), []
    for row in rows.to_dict("records"):
        check = check_named(row["check"])
        proves = "nothing" if not row["provable"] else _within(row, digits)
        beyond = [each for each in (row["out_below"], row["out_above"]) if each == each]
        out = " or ".join(words.number(each, digits, signed=len(beyond) > 1) for each in beyond) or words.MISSING
        made.append(
            Row(
                (
                    row["kind"],
                    check.title,
                    words.limits(row["lower"], row["upper"], check, "length", unit),
                    words.number(row["u"], digits),
                    proves,
                    out,
                    "yes" if row["one_third"] else "no",
                ),
                key=f"{row['kind']} {row['check']}",
                kind="" if row["provable"] else "lacks",
            )
        )
    heads = (
        Column("Kind", "k"),
        Column("Check"),
        Column("Allowed"),
        Column("1 sigma", "n"),
        Column("Proves in within", "n"),
        Column("Proves out beyond", "n"),
        Column("U below a third", "k"),
    )
    caption = f"What one shot can prove ({unit}); what lies between the two is undecided, however good the work is"
    return table("capability", heads, made, caption=caption)


def _within(row: "dict[Any, Any]", digits: int) -> str:
    low, high = row["in_from"], row["in_to"]
    if low == -high or low == 0.0:
        return words.number(high, digits)
    return f"{words.number(low, digits, signed=True)} to {words.number(high, digits, signed=True)}"
