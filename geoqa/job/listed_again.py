"""What a look at the files shows: which hold the same measurements, and precisions whose meaning nobody says."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from geoqa.contract.file_sentences import listed_twice
from geoqa.frames.files.reading import FileReading
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT
from geoqa.model.tables.fact import Fact
from geoqa.model.tables.listings import listings

if TYPE_CHECKING:
    import pandas as pd

_PLACE = ("easting", "northing", "elevation")
_PRECISIONS = ("reported_h", "reported_v")


def listed_again(files: Iterable[FileReading], frame: Frame | None) -> dict[str, str]:
    """Files of shots that repeat one before them, by what they hold, as a run tells them.

    Parameters
    ----------
    files : iterable of FileReading
        In the order of the job.
    frame : Frame or None
        The job's; where it has none, files are compared in the units they state.

    Returns
    -------
    dict
        What is to be said, by the name of the later file. Bytes, names of points and layout do not count: two exports
        of one day are the same measurements, with other decimals or in another unit too.
    """
    tables = [table for file in files if (table := _in_feet(file, frame)) is not None]
    if len(tables) < 2:
        return {}
    import pandas as pd

    told: dict[str, str] = {}
    for each in listings(pd.concat(tables, ignore_index=True)).copies:
        fact = Fact(subject=each.source, other=each.of, variant=each.variant, count=each.rows, total=each.total)
        told.setdefault(each.source, listed_twice(fact, ""))
    return told


def _in_feet(file: FileReading, frame: Frame | None) -> "pd.DataFrame | None":
    """Shots of a file in the job's frame, or as read where it has none; in feet where a unit is known."""
    framed = frame is not None and "shots" in file.layers
    tables = file.layers if framed else file.tables
    if file.role != "shots" or "shots" not in tables:
        return None
    unit = frame.unit if frame is not None and framed else file.file.unit or file.file.source.unit
    feet = 1.0 if unit is None else unit.metres / FOOT.metres
    table = tables["shots"]
    return table.assign(source=file.name, **{name: table[name] * feet for name in _PLACE})


def asks_what_precisions_mean(
    columns: Iterable[str], table: Any = None, declared: Mapping[str, Any] | None = None
) -> str:
    """The question a log with precisions puts, where nobody says what they mean; empty where there is none to ask.

    Parameters
    ----------
    columns : iterable of str
        What the head of the file holds.
    table : object, optional
        Table of the job file, whose `confidence` may say it.
    declared : mapping, optional
        Uncertainties the job declares by kind: where those of every shot are declared, the log is not asked.

    Examples
    --------
    >>> asks_what_precisions_mean(["shot", "reported_h"])
    'do its precisions (reported_h) mean 1 sigma or 95 %? State confidence = "1 sigma" or "95 %" in its [[shots]]; \
until then 1 sigma is taken, the larger uncertainty'
    >>> asks_what_precisions_mean(["shot", "easting"])
    ''
    """
    there = [name for name in _PRECISIONS if name in columns]
    default = (declared or {}).get("default")
    known = default is not None and None not in (default.horizontal_random, default.vertical_random)
    if not there or known or getattr(table, "confidence", None) is not None:
        return ""
    return (
        f'do its precisions ({", ".join(there)}) mean 1 sigma or 95 %? State confidence = "1 sigma" or "95 %" in its '
        "[[shots]]; until then 1 sigma is taken, the larger uncertainty"
    )
