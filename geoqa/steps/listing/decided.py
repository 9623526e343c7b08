"""What reviewers decided, laid on the items it still fits."""

import pandas as pd

from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.listing.register import OPEN
from geoqa.steps.shots.flags import noted

NAMED = 8
"""Decisions that a note names; the count is always complete."""


class Decided(Step):
    """Put the decisions of reviewers on the items they were made on.

    A decision fits an item whose findings, verdicts, numbers and limits are those that the reviewer saw. One that
    fits none, although its item is still listed, is told and stands nowhere; so is one on which reviewers disagree. No
    verdict is changed by a decision.
    """

    name = "decided"
    only_with = ("decisions",)
    needs = ("decisions", "items", "findings.item")
    extends = ("items.decision", "items.decided_on", "findings.decision")
    adds = ("notes",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Columns of items and findings, and what does not hold."""
        decisions, items = layers["decisions"], layers["items"]
        still = decisions.assign(now=decisions["seen"].map(_item_of(items)))
        fits, settled = still["now"].notna(), still["settled"].astype(bool)
        holds = still[fits & settled].drop_duplicates("now").set_index("now")
        listed = set(items.loc[items["state"] == OPEN, "item"])
        changed = still[~fits & still["item"].isin(listed) & ~still["item"].isin(still.loc[fits, "item"])]
        decision, on = (items["item"].map(holds[name]).astype("str") for name in ("decision", "decided_on"))
        facts = []
        if len(changed):
            facts.append({"note": "decisions-changed"} | _told(changed, [
                f"item {row['item']} ({row['decision']}, {row['decided_on']})" for row in changed.to_dict("records")
            ]))  # fmt: skip
        apart = still[fits & ~settled].groupby("now", sort=False)["decision"].agg(lambda each: " / ".join(sorted(each)))
        if len(apart):
            facts.append(
                {"note": "decisions-apart"} | _told(apart, [f"item {item} ({said})" for item, said in apart.items()])
            )
        return {
            "items": pd.DataFrame({"decision": decision, "decided_on": on}, index=items.index),
            "findings": pd.DataFrame(
                {"decision": layers["findings"]["item"].map(holds["decision"]).astype("str")},
                index=layers["findings"].index,
            ),
            "notes": noted(self.name, facts),
        }


def _item_of(items: pd.DataFrame) -> dict[str, str]:
    """Number of the listed item by what is seen of it."""
    there = items[(items["state"] == OPEN) & items["seen"].notna()]
    return dict(zip(there["seen"], there["item"], strict=True))


def _told(rows: "pd.DataFrame | pd.Series", names: list[str]) -> dict[str, object]:
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return {"count": len(rows), "written": ", ".join(names[:NAMED]) + more}
