"""The list of items: one row a place of the work, a reach without evidence or a matter of the survey that is open."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from geoqa.contract.chapters import CHAPTERS, in_chapters
from geoqa.contract.checks import check_named
from geoqa.contract.items import MAY_BE_CHANCE, by_chance
from geoqa.contract.odds_sentences import odds_of
from geoqa.contract.shown_by import cause_of_checks
from geoqa.contract.spoken import allowed_of, found_of, head_of
from geoqa.contract.what_next import chances, meaning, what_next
from geoqa.model.results import Results
from geoqa.model.signs import ranks
from geoqa.model.tables.direction import ways
from geoqa.model.tables.in_rows import in_rows
from geoqa.model.tables.order import worst_first

if TYPE_CHECKING:
    import pandas as pd

HEADS = {chapter.subject: chapter.head for chapter in CHAPTERS}


def items_list(results: Results) -> pd.DataFrame:
    """Items that are open, the work first, each with the finding that speaks for it.

    Returns
    -------
    DataFrame
        Everything that is not within tolerance, once a place: `numbers` says how many findings an item holds. A finding
        that belongs to no item is a row of its own. `done_by` and `done_on` are left empty for people.
    """
    import pandas as pd

    unit = results.layers.frame.unit.name
    leads = _leads(results)
    rows = in_rows(leads)
    chance, odds = by_chance(results.layers), chances(results.layers)
    table = pd.DataFrame(
        {
            "item": leads["item"],
            "verdict": leads["verdict"],
            "chapter": [HEADS[check_named(row["check"]).subject] for row in rows],
            "what_and_where": [head_of(row, unit) for row in rows],
            "found": [found_of(row, unit, toward=row["toward"]) or check_named(row["check"]).title for row in rows],
            "allowed": [_allowed(row, unit) for row in rows],
            "why": [check_named(row["check"]).reason(row["why"]).text for row in rows],
            "how_sure": [_sure(row, chance) for row in rows],
            "means": [meaning(row) or None for row in rows],
            "what_next": [
                what_next(row, odds.get(row["finding"]), unit, loose=row["item"] in chance) or None for row in rows
            ],
            "numbers": leads["numbers"],
            **{name: leads[name] for name in ("check", "kind", "subject", "label")},
            **{name: leads[name] for name in ("baseline_station", "baseline_offset") if name in leads},
            **{name: leads[name] for name in ("easting", "northing", "elevation", "finding")},
            **({"decision": leads["decision"]} if "decision" in leads else {}),
            "done_by": None,
            "done_on": None,
        }
    )
    texts = [name for name in table.columns if pd.api.types.is_object_dtype(table[name].dtype)]
    return table.astype(dict.fromkeys(texts, "str")).reset_index(drop=True)


def _leads(results: Results) -> pd.DataFrame:
    """The finding that speaks for each item, in the order in which items are listed."""
    import pandas as pd

    reported = pd.DataFrame(results.reported.drop(columns="geometry", errors="ignore"))
    loud = reported[reported["verdict"] != "IN"]
    loud = loud.iloc[worst_first(loud["excess"], loud["finding"], ranks(loud["verdict"]))]
    item = loud["item"] if "item" in loud else pd.Series(None, index=loud.index, dtype="str")
    loud = loud.assign(item=item, numbers=item.map(item.value_counts()).fillna(1).astype("int64"))
    loud = loud[cause_of_checks(results.layers, loud).isna().to_numpy(bool)] if len(loud) else loud
    parts = [mine for _, mine in in_chapters(loud)] if len(loud) else []
    listed = pd.concat(parts) if parts else loud
    leads = listed[~(listed["item"].notna() & listed["item"].duplicated())]
    return leads.assign(toward=ways(results.layers, leads), odds=odds_of(results.layers, leads["finding"]))


def _allowed(row: dict[Any, Any], unit: str) -> str | None:
    told = allowed_of(row, unit) if row["quantity"] != "count" else ""
    return told.removeprefix("allowed ") or None


def _sure(row: dict[Any, Any], chance: set[str]) -> str | None:
    loose = MAY_BE_CHANCE if row["verdict"] == "OUT" and row["item"] in chance else ""
    odds = row["odds"] if isinstance(row["odds"], str) else ""
    return "; ".join(part for part in (loose, odds) if part) or None
