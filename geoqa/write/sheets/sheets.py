"""Lists for desk and field: items, findings, places to go back to, and the small tables, as text and as a workbook."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from geoqa.errors import OutputError
from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.model.words import CERTIFICATION
from geoqa.write.about import about, review
from geoqa.write.control_checks import control_checks
from geoqa.write.dates import job_day
from geoqa.write.readback import compare_columns, opening_again
from geoqa.write.rows import FEW, arranged, on_disk, plain_columns
from geoqa.write.sheets import opened_book, workbook
from geoqa.write.sheets.items_list import items_list
from geoqa.write.sheets.lists import FIELD_CAUTION, findings_list, return_list
from geoqa.write.sheets.resolution import rounded
from geoqa.write.sheets.workbook import Page, cell_text
from geoqa.write.tables import opened, save, text_of

if TYPE_CHECKING:
    import pandas as pd

FILE = "checked.xlsx"
LISTS = {"Findings": "findings_list.csv", "Return list": "return_list.csv"}
TABLES = {
    "Runs": "runs",
    "Gaps": "gaps",
    "Quantities": "quantities",
    "Control residuals": "control_residuals",
    "Grid and ground": "ground_distances",
    "Limits": "limits",
    "Flags": "flags",
    "Sources": "sources",
}
SHOWN = {"flags": ["shot_key", "flag", "reject", "reason", "step"]}
"""Columns of a worksheet that shows less than its layer holds: a reason is read, its facts are not."""


class Sheets(Output):
    """``findings_list.csv``, ``return_list.csv`` and ``checked.xlsx``."""

    name: ClassVar[str] = "sheets"
    effort: ClassVar[int] = 8
    imports: ClassVar[tuple[str, ...]] = ("openpyxl.styles", "openpyxl.writer.excel")
    files: ClassVar[Mapping[str, str]] = {
        FILE: "workbook: items first, then every finding, places to go back to, control, limits",
        "findings_list.csv": "every finding with words beside its numbers, worst first",
        "return_list.csv": "places to go back to with the rod, in the columns of a file of shots",
    }
    format: ClassVar[Format | None] = Format(
        title="lists as text and a workbook",
        keeps="items, findings and places to go back to, with limits, uncertainty, source and remedy",
        loses="shapes; cells that begin like a formula are quoted",
    )

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write the three files into `folder`."""
        tables = _tables(results)
        for sheet, file in LISTS.items():
            save(Path(folder, file), on_disk(sheet, tables[sheet], ordered=True))
        pages = {"About": Page(table=_about(results), wrapped=True)}
        for sheet, table in tables.items():
            above = (
                [CERTIFICATION] if sheet in ("Items", "Findings") else [FIELD_CAUTION] if sheet == "Return list" else []
            )
            if len(table) > workbook.MOST_ROWS:
                above.append(f"The first {workbook.MOST_ROWS} of {len(table)} rows; the text files hold all of them.")
            wrapped = sheet in ("Items", "Return list")
            pages[sheet] = Page(table=on_disk(sheet, table, ordered=True), above=tuple(above), wrapped=wrapped)
        title = f"{results.title.name} {results.title.revision}".strip()
        footer = f"{review(results.title)} · {results.layers.frame.describe()}"
        workbook.write(Path(folder, FILE), pages, title=title, footer=footer, day=job_day(results), opened="Items")
        return (*LISTS.values(), FILE)

    @opening_again
    def read_back(self, results: Results, folder: Path) -> dict[str, Any]:
        """Open the files again and compare every cell."""
        tables = _tables(results)
        book = {}
        found = opened_book.opened(Path(folder, FILE))
        for sheet, table in tables.items():
            if sheet not in found:
                raise OutputError(f"{FILE} gives back no worksheet '{sheet}'; it has {', '.join(found)}.")
            whole = table.iloc[: workbook.MOST_ROWS]
            book[sheet] = {"values": compare_columns(f"{FILE}, {sheet},", whole, found[sheet], text=_cell_texts)}
        said: dict[str, Any] = {FILE: book}
        for sheet, file in LISTS.items():
            table = tables[sheet]
            said[file] = {"values": compare_columns(file, table, opened(Path(folder, file), table), text=text_of)}
        return said


def _tables(results: Results) -> dict[str, pd.DataFrame]:
    """Tables of the workbook by the name of their sheet: those of few rows are made once, to write and to compare."""
    layers = results.layers
    if len(layers["findings"]) >= FEW:
        return _made(results)
    return layers.derived("tables of the workbook", tuple(layers), lambda: _made(results))


def _made(results: Results) -> dict[str, pd.DataFrame]:
    unit = results.layers.frame.unit.name
    made = {"Items": rounded("findings", items_list(results), unit)}
    made["Findings"] = rounded("findings", findings_list(results), unit)
    made["Return list"] = rounded("shots", return_list(results), unit)
    if "control" in results.layers:
        made["Control checks"] = rounded("control_table", control_checks(results), unit)
    for sheet, name in TABLES.items():
        if name in results.layers:
            table = arranged(results, name)
            made[sheet] = rounded(name, table[SHOWN.get(name, plain_columns(table))], unit)
    return {sheet: _open_ended(table) for sheet, table in made.items()}


def _open_ended(table: pd.DataFrame) -> pd.DataFrame:
    """A table for people: where there is no limit to one side the cell is empty, and nobody reads of infinity."""
    import numpy as np
    import pandas as pd

    columns = [name for name in table.columns if pd.api.types.is_float_dtype(table[name].dtype)]
    return table.assign(**{name: table[name].mask(np.isinf(table[name].astype("float64"))) for name in columns})


def _about(results: Results) -> pd.DataFrame:
    import pandas as pd

    said = about(results)
    said.pop("record", None)
    return pd.DataFrame({"item": list(said), "text": list(said.values())}, dtype="str")


def _cell_texts(column: pd.Series) -> pd.Series:
    import pandas as pd

    values = column.tolist()
    texts = {value: cell_text(str(value)) for value in dict.fromkeys(values)}
    return pd.Series([texts[value] for value in values], index=column.index, dtype="str")
