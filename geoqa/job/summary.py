"""Counts and the headline of a run."""

from typing import TYPE_CHECKING, Any

from geoqa.contract.checks import check_named
from geoqa.contract.items import headline
from geoqa.model import words
from geoqa.model.results import Title
from geoqa.model.signs import SIGNS
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.reported import shots_by_sign
from geoqa.model.tables.shot_flags import once

if TYPE_CHECKING:
    import pandas as pd

WORST_LISTED = 20


def summarise(title: Title, layers: Layers) -> dict[str, Any]:
    """Plain numbers and text, JSON-ready: counts by verdict, by check and kind, and the worst items."""
    import pandas as pd

    findings = layers["findings"]
    reported = pd.DataFrame(findings[_TOLD])[findings["run"].isna()]
    shots = once(layers["shots"])
    return {
        "name": title.name,
        "revision": title.revision,
        "date": title.date,
        "preliminary": title.preliminary,
        "headline": headline(layers),
        "frame": layers.frame.describe(),
        "grid_ground": _grid_ground(layers),
        "unit": layers.frame.unit.name,
        "shots": len(shots),
        "listed_twice": len(layers["shots"]) - len(shots),
        "shots_rejected": int((~shots["use"]).sum()) if "use" in shots else 0,
        "reported": _counts(reported),
        "every_number": _counts(findings),
        "shots_by_sign": shots_by_sign(layers),
        "by_check": _tally(reported, ["check"]),
        "by_kind": _tally(reported, ["kind", "check"]),
        "budget": _budget(layers),
        "why_not_judged": _tally(reported[reported["verdict"] == "NO_DATA"], ["why"]),
        "worst": [_row(row, layers.frame.unit.name) for row in reported.head(WORST_LISTED).to_dict("records")],
    }


_TOLD = ["finding", "verdict", "check", "kind", "subject", "label", "deviation", "quantity", "why", "reference"]
"""Columns of findings that the summary tells of."""


def _budget(layers: Layers) -> list[dict[str, Any]]:
    """Rows of the layer `budget`, JSON-ready; none where no step made it."""
    if "budget" not in layers:
        return []
    budget = layers["budget"].astype({"kind": object})
    return [
        {name: (None if value != value else value) for name, value in row.items()} for row in budget.to_dict("records")
    ]


def _grid_ground(layers: Layers) -> str:
    """What lies between grid and ground, in a sentence; nothing where it is not known."""
    if "grid_ground" not in layers or not len(layers["grid_ground"]):
        return ""
    return str(layers["grid_ground"]["words"].iloc[0])


def _counts(findings: "pd.DataFrame") -> dict[str, int]:
    found = findings["verdict"].value_counts()
    return {verdict: int(found.get(verdict, 0)) for verdict in SIGNS}


def _tally(findings: "pd.DataFrame", by: list[str]) -> list[dict[str, Any]]:
    if not len(findings):
        return []
    table = findings.groupby([*by, "verdict"], sort=True, dropna=False).size().unstack("verdict", fill_value=0)
    return [
        dict(zip(by, key if isinstance(key, tuple) else (key,), strict=True))
        | {verdict: int(row.get(verdict, 0)) for verdict in SIGNS}
        for key, row in table.iterrows()
    ]


def _row(finding: dict[str, Any], unit: str) -> dict[str, Any]:
    return {
        "finding": finding["finding"],
        "verdict": finding["verdict"],
        "check": finding["check"],
        "subject": finding["subject"],
        "label": finding["label"],
        "deviation": words.judged(finding, check_named(finding["check"]), unit),
        "why": finding["why"],
        "reference": finding["reference"],
    }
