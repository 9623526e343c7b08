"""Readings beside the shots that no verdict will be of: which, how many, and what they would need."""

from collections.abc import Iterator
from typing import Any

from geoqa.contract.checks import check_named
from geoqa.model.tables.layer import Layers


def idle_readings(layers: Layers, *, judged: bool) -> Iterator[dict[str, Any]]:
    """Rows of the note `readings-idle`, a file and reason each.

    Parameters
    ----------
    layers : Layers
        As taken in, or as judged.
    judged : bool
        Whether findings are made already, so that a check without one says that the shots made no such number.
    """
    if "readings" not in layers or "reading_rules" not in layers:
        return
    limited = set(layers["limits"]["check"])
    numbers = set(layers["findings"]["check"]) if judged else limited
    for rule in layers["reading_rules"].itertuples(index=False):
        check = check_named(str(rule.what))
        mine = layers["readings"]
        mine = mine[mine["source"] == rule.source]
        about = {"note": "readings-idle", "subject": str(rule.source), "place": check.name}
        key = check.tolerance.name if check.tolerance is not None else ""
        strange = int((mine["quantity"] != check.quantity).sum())
        if strange:
            yield {**about, "variant": "quantity", "written": check.quantity, "count": strange}
        if not (fit := len(mine) - strange):
            continue
        if check.name not in limited:
            yield {**about, "variant": "limit", "written": key, "count": fit}
        elif check.name not in numbers:
            yield {**about, "variant": "number", "count": fit}
