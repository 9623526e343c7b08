"""What the page needs so that a reviewer can decide on an item, and what was decided before."""

from typing import Any

from geoqa.contract.decisions import DECISIONS, FILE_FORMAT, VERSION
from geoqa.model.results import Results


def review(results: Results) -> dict[str, Any]:
    """Facts under the name ``review``: what names the job and the run, and what is seen of each item.

    Parameters
    ----------
    results : Results

    Returns
    -------
    dict
        Empty where the run has no name or no items, as where tables in memory are judged: nobody could apply a
        decision. Else ``{"review": {"format", "version", "job", "run", "words", "seen", "decided"}}``: `seen` holds a
        hash by the number of an item, `decided` the decision and its date. No name of a person is among them.
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
    }
    return {"review": facts}
