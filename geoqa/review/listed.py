"""What the newest run of a job lists, and the runs before it: against these a decision is held."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from geoqa.errors import OutputError
from geoqa.job.decided import Opinion
from geoqa.job.document.load import LoadedJob
from geoqa.job.earlier import RECORD
from geoqa.job.runs import runs_of
from geoqa.review.recorded import recorded


@dataclass(frozen=True, kw_only=True)
class Listed:
    """The register of items in an output folder.

    Attributes
    ----------
    folder : str
        Name of the output folder.
    runs : frozenset of str
        Names of the runs it knows.
    items : mapping
        Row of the register by the number of its item.
    """

    folder: str
    runs: frozenset[str]
    items: Mapping[str, Mapping[str, Any]]

    def holds(self, item: str, seen: str) -> bool:
        """Whether an item is still what somebody saw of it."""
        row = self.items.get(item, {})
        return row.get("state") == "open" and row.get("seen") == seen

    def told(self, item: str) -> str:
        """What an item is about, in words."""
        row = self.items.get(item, {})
        return f"{row.get('verdict', '')} {row.get('told', '')}".strip()

    def why_not(self, opinion: Opinion) -> str:
        """Why an opinion cannot be kept; empty where it can."""
        row = self.items.get(opinion.item)
        if row is None:
            return f"there is no item {opinion.item} in {self.folder}"
        if row.get("state") != "open":
            return f"item {opinion.item} is not listed any more: what was seen ({opinion.told or 'not said'}) is gone"
        if row.get("seen") != opinion.seen:
            return (
                f"item {opinion.item} has changed since it was seen: seen was {opinion.told or 'something else'}; "
                f"it is now {self.told(opinion.item)}. Look at the newest map and decide again"
            )
        return ""


def listed(loaded: LoadedJob) -> Listed:
    """Read what the newest run of a job lists.

    Raises
    ------
    OutputError
        It has not been run, or by a geoqa that kept no such list.
    """
    folder = loaded.resolve(loaded.job.outputs.folder)
    record = recorded(folder)
    runs = runs_of(folder)
    if record.job != loaded.name or not runs:
        raise OutputError(
            f"{folder.name}/{RECORD} "
            + (f"is of {record.job}" if record.job != loaded.name else "was written by an earlier geoqa")
            + f": run the job anew (geoqa run {loaded.name}), and decide on the map it makes."
        )
    rows = json.loads((folder / RECORD).read_text(encoding="utf-8")).get("items", [])
    return Listed(folder=folder.name, runs=frozenset(runs), items={str(row["item"]): row for row in rows})
