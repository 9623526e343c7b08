"""What the page needs so that a reviewer can decide on an item, and what was decided before."""

from typing import TYPE_CHECKING, Any

from geoqa.contract.decisions import DECISIONS, FILE_FORMAT, VERSION
from geoqa.model.results import Results

if TYPE_CHECKING:
    import pandas as pd

ASIDE = ("offset", "elevation")
"""Checks of a design line whose reach an approved change may move."""


def review(results: Results) -> dict[str, Any]:
    """Facts under the name ``review``: what names the job and the run, and what is seen of each item.

    Parameters
    ----------
    results : Results

    Returns
    -------
    dict
        Empty where the run has no name or no items, as where tables in memory are judged: nobody could apply a
        decision. Else ``{"review": {"format", "version", "job", "run", "words", "seen", "decided", "reaches"}}``:
        `seen` holds a hash by the number of an item, `decided` the decision and its date, `reaches` the design line
        that an item is about, and from where to where. No name of a person is among them.
    """
    layers, run = results.layers, results.record.get("run")
    if not run or "items" not in layers:
        return {}
    items = layers["items"]
    items = items[(items["state"] == "open") & items["seen"].notna()]
    decided = items[items["decision"].notna()] if "decision" in items else items.head(0)
    facts = {
        "format": FILE_FORMAT,
        "version": VERSION,
        "job": {"name": results.title.name, "file": results.record["job"]["file"]},
        "run": run,
        "words": DECISIONS,
        "seen": dict(zip(items["item"], items["seen"], strict=True)),
        "decided": {row["item"]: [row["decision"], row["decided_on"]] for row in decided.to_dict("records")},
        "reaches": _reaches(results, items),
    }
    return {"review": facts}


def _reaches(results: Results, items: "pd.DataFrame") -> dict[str, list[str]]:
    """Line and first and last station of items that lead with a number beside a design line and are out by it."""
    layers, findings = results.layers, results.findings
    if "design_lines" not in layers:
        return {}
    led = items[items["check"].isin(ASIDE) & items["subject"].isin(layers["design_lines"]["line"])]
    mine = findings[findings["check"].isin(ASIDE) & (findings["verdict"] == "OUT") & findings["station"].notna()]
    mine = mine.merge(led[["item", "subject"]], on=["item", "subject"])
    if not len(mine):
        return {}
    last = mine["station_end"].fillna(mine["station"])
    held = mine.assign(last=last).groupby(["item", "subject"], sort=True).agg({"station": "min", "last": "max"})
    return {
        str(item): [str(line), f"{row['station']:.2f}", f"{row['last']:.2f}"]
        for (item, line), row in held.to_dict("index").items()
    }
