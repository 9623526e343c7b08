"""What one round delivered, as its output folder holds it: the register of items, the numbers, and the shots."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa.errors import OutputError
from geoqa.job.earlier import RECORD
from geoqa.model.tables.seen import measurements
from geoqa.review.recorded import Recorded, recorded

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

NUMBERS = ("station", "station_end", "offset", "easting", "northing", "deviation", "lower", "upper", "u", "measured")
OTHER_TEXTS = ("item", "run", "shot", "kind", "baseline_place", "decision")
PACKAGE, OLDER = "audit.gpkg", "checked.gpkg"
"""GeoPackage of every table; what an older geoqa called it, which had no other."""
ONLY_OF_OLDER = "evidence"
"""Layer that tells it from the one of the same name that a desk gets now."""


@dataclass(frozen=True, kw_only=True)
class Delivered:
    """One round.

    Attributes
    ----------
    name : str
        Of its output folder.
    record : Recorded
    run : str
        Name of its run; empty of an older geoqa.
    runs : tuple of str
        Runs that the folder knows, its own among them.
    frame : str
        Horizontal and vertical system with their unit.
    unit : str
    items : mapping
        Row of the register by its number.
    findings, shots : DataFrame
        As the folder's tables hold them; what a table lacks is missing.
    facts : mapping
        The whole record.
    """

    name: str
    record: Recorded
    run: str
    runs: tuple[str, ...]
    frame: str
    unit: str
    items: Mapping[str, Mapping[str, Any]]
    findings: "pd.DataFrame"
    shots: "pd.DataFrame"
    facts: Mapping[str, Any] = field(default_factory=dict, repr=False)

    @cached_property
    def places(self) -> "np.ndarray":
        """Easting and northing of the findings, (n, 2); NaN where there is none."""
        found: np.ndarray = self.findings[["easting", "northing"]].to_numpy(float)
        return found

    @cached_property
    def verdicts(self) -> "pd.Series":
        """Verdict of each finding; of one that a run or a place speaks for, that one's."""
        by_id = self.findings.set_index("finding")["verdict"]
        return self.findings["run"].map(by_id).fillna(self.findings["verdict"])

    @cached_property
    def measured(self) -> tuple[str, ...]:
        """Every shot as the measurement it is, in the order of the shots."""
        return tuple(measurements(self.shots))

    def open_items(self) -> dict[str, Mapping[str, Any]]:
        """Items that are listed, not those that were."""
        return {number: row for number, row in self.items.items() if row.get("state") == "open"}


def delivered(folder: str | Path) -> Delivered:
    """Read the output folder of a round; it may come from anybody.

    Raises
    ------
    OutputError
        It holds no record, no numbered items, or no table of findings and shots.
    """
    place = Path(folder)
    record = recorded(place)
    facts = json.loads((place / RECORD).read_text(encoding="utf-8"))
    try:
        items = {str(row["item"]): {str(key): str(value) for key, value in row.items()} for row in facts["items"]}
        frame = facts["frame"]
        unit = str(frame["unit"])
        systems = " / ".join(str(frame.get(name)) for name in ("horizontal_name", "unit", "vertical_name"))
        runs = tuple(map(str, facts.get("runs", ())))
    except (LookupError, TypeError, AttributeError) as error:
        raise OutputError(f"{place.name}/{RECORD} holds no register of items: run its job anew.") from error
    return Delivered(
        name=place.name,
        record=record,
        run=str(facts.get("run", "")),
        runs=runs,
        frame=systems,
        unit=unit,
        items=items,
        findings=_findings(place),
        shots=_table(place, "shots"),
        facts=facts,
    )


def _findings(place: Path) -> "pd.DataFrame":
    import pandas as pd

    table = _table(place, "findings")
    missing = [name for name in (*NUMBERS, *OTHER_TEXTS) if name not in table]
    table = table.assign(**dict.fromkeys(missing))
    for name in NUMBERS:
        table[name] = pd.to_numeric(table[name], errors="coerce").astype(float)
    limits = {"lower": float("-inf"), "upper": float("inf")}
    for name, open_end in limits.items():  # a table that cannot hold them has them in a column beside
        if f"{name}_text" in table:
            table[name] = table[name].mask(table[f"{name}_text"].fillna("").str.contains("inf"), open_end)
    return table


def _table(place: Path, name: str) -> "pd.DataFrame":
    """A table as delimited text, else from the package; texts as they are, missing is missing."""
    import pandas as pd

    try:
        if (file := place / f"{name}.csv").is_file():
            return pd.read_csv(file, dtype="str", keep_default_na=False, na_values=[""], encoding="utf-8")
        for file in (place / PACKAGE, place / OLDER):
            if file.is_file() and (file.name == PACKAGE or _holds(file, ONLY_OF_OLDER)):
                import pyogrio

                found: pd.DataFrame = pyogrio.read_dataframe(file, layer=name, read_geometry=False)
                return found
    except Exception as error:  # of a format library, over a file that anybody may have changed
        raise OutputError(f"{place.name}/{file.name} cannot be read: {type(error).__name__}.") from error
    raise OutputError(
        f'{place.name} holds neither {name}.csv nor {PACKAGE}: add "csv" or "gpkg" to layers in [outputs] of its job, '
        "and run it again."
    )


def _holds(file: Path, layer: str) -> bool:
    import pyogrio

    return layer in {str(name) for name, _ in pyogrio.list_layers(file)}
