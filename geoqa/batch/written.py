"""A season on disk: its page, and its tables as delimited text."""

import csv
import io
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa.errors import OutputError
from geoqa.job.decided import put_whole
from geoqa.model.season import Season
from geoqa.present.season.page import page

if TYPE_CHECKING:
    import pandas as pd

PAGE = "season.html"
TABLES = {
    "jobs.csv": "jobs", "shares.csv": "shares", "achieved.csv": "achieved", "marks.csv": "marks",
    "mark_values.csv": "mark_values", "receivers.csv": "receivers", "causes.csv": "causes",
}  # fmt: skip
_LIKE_A_FORMULA = re.compile(r"^\s*[=+\-@\t\r＝＋－＠]")
_DECIMALS, _SMALL = 6, 1e-3
"""Digits behind the point; below the second four digits are kept, so that a small chance stays what it is."""


def write_season(season: Season, folder: Path) -> tuple[Path, ...]:
    """Write page and tables into a folder that is there; the page last.

    Raises
    ------
    OutputError
        A file cannot be written.
    """
    made = {name: delimited(getattr(season, table)) for name, table in TABLES.items()} | {PAGE: page(season)}
    for name, text in made.items():
        try:
            put_whole(folder / name, text)
        except OSError as error:
            raise OutputError(
                f"{name} of {folder.name} cannot be written: {error.strerror or error}. The jobs are done; run the "
                "batch again, which runs none of them twice."
            ) from error
    return tuple(folder / name for name in made)


def delimited(table: "pd.DataFrame") -> str:
    """A table as delimited text: numbers at six decimals, texts in quotes, missing is an empty text.

    What a spreadsheet would take for a formula begins with an apostrophe.

    Examples
    --------
    >>> import pandas as pd
    >>> print(delimited(pd.DataFrame({"job": ["=1+1"], "size": [-0.05], "p": [float("nan")]})), end="")
    "job","size","p"
    "'=1+1",-0.05,""
    """
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n", quoting=csv.QUOTE_NONNUMERIC)
    out.writerow(list(table.columns))
    out.writerows([_cell(value) for value in row] for row in table.itertuples(index=False))
    return text.getvalue()


def _cell(value: Any) -> Any:
    if value is None or value != value:
        return None
    if hasattr(value, "isoformat"):
        return value.isoformat()
    if isinstance(value, str):
        shown = "".join(mark if mark.isprintable() else "\N{REPLACEMENT CHARACTER}" for mark in value)
        return f"'{shown}" if _LIKE_A_FORMULA.match(shown) else shown
    if not isinstance(value, float):
        return int(value)
    return float(f"{value:.4g}") if abs(value) < _SMALL else round(float(value), _DECIMALS) + 0.0
