"""The uncertainty budget of a run, for the summary and in sentences that go with every output."""

from collections.abc import Iterable
from typing import Any

from geoqa.model import words
from geoqa.model.layer import Layers


def budget_rows(layers: Layers) -> list[dict[str, Any]]:
    """Rows of the layer `budget`, JSON-ready; none where no step made it."""
    if "budget" not in layers:
        return []
    budget = layers["budget"].astype({"kind": object})
    return [
        {name: (None if value != value else value) for name, value in row.items()} for row in budget.to_dict("records")
    ]


def budget_notes(layers: Layers) -> Iterable[str]:
    """One sentence for all kinds of features with the same uncertainty from the same sources."""
    if "budget" not in layers or "limits" not in layers:
        return
    budget, unit = layers["budget"], layers.frame.unit.name
    judged = set(layers["limits"]["kind"])
    alike: dict[tuple[str, ...], list[str]] = {}
    for kind, mine in budget[budget["kind"].isin(judged)].groupby("kind", sort=True):
        said = tuple(_axis(mine[mine["axis"] == axis], unit) for axis in ("h", "v"))
        sources = mine.loc[mine["part"] != "all", "source"].drop_duplicates().sort_values()
        alike.setdefault((*said, "; ".join(sources)), []).append(str(kind))
    for (plan, level, sources), kinds in alike.items():
        yield f"Uncertainty of one shot, 1 sigma ({', '.join(kinds)}): in plan {plan}; in elevation {level}. {sources}."


def _axis(rows: Any, unit: str) -> str:
    """Parts of one axis, the whole first; a median of several sources gives way to the largest."""
    parts = rows.groupby("part", sort=False)["u"].max()
    whole = words.quantity(float(parts["all"]), "length", unit)
    named = ", ".join(
        f"{part} {words.quantity(float(parts[part]), 'length', unit) if parts[part] == parts[part] else 'not claimed'}"
        for part in ("random", "common", "tilt")
        if part in parts.index and parts[part] != 0
    )
    return f"{whole} ({named})" if named else whole
