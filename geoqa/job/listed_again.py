"""What a look at the files shows: which hold the same measurements, and precisions whose meaning nobody says."""

from collections.abc import Iterable, Mapping
from typing import Any

from geoqa.contract.file_sentences import listed_twice
from geoqa.frames.files.reading import FileAsRead
from geoqa.model.tables.fact import Fact

SHARE, FEWEST = 0.8, 3
"""Of the shorter file, and in all: what two files must have in common to be called one."""
_PRECISIONS = ("reported_h", "reported_v")


def listed_again(files: Iterable[FileAsRead]) -> dict[str, str]:
    """Files of shots that repeat one before them, by what they hold.

    Parameters
    ----------
    files : iterable of FileAsRead
        In the order of the job.

    Returns
    -------
    dict
        What is to be said, by the name of the later file. Bytes, names of points and layout do not count: two exports
        of one day are the same measurements.
    """
    before: dict[str, list[tuple[Any, ...]]] = {}
    told: dict[str, str] = {}
    for file in files:
        if file.role != "shots" or "shots" not in file.source.layers:
            continue
        mine = _measurements(file.source.layers["shots"])
        for name, theirs in before.items():
            there = set(theirs)
            again = sum(each in there for each in mine)
            if again >= max(FEWEST, SHARE * min(len(mine), len(there))):
                told[file.name] = listed_twice(Fact(subject=file.name, other=name, count=again, total=len(mine)), "")
                break
        before[file.name] = mine
    return told


def _measurements(shots: Any) -> list[tuple[Any, ...]]:
    """Time and place of each row with a place."""
    place = [shots[name].round(6).tolist() for name in ("easting", "northing")]
    time = shots["time"].astype("str").tolist() if "time" in shots else [""] * len(shots)
    return [row for row in zip(*place, time, strict=True) if row[0] == row[0] and row[1] == row[1]]


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
