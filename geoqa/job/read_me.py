"""The text beside the files of a run: what each of them is, and which to open first."""

from collections.abc import Iterable, Mapping
from pathlib import Path

from geoqa.model import words
from geoqa.model.results import Results

READ_ME = "README.txt"
_HEAD = "What geoqa put into this folder"
_FIRST = ("map.html", "report.html", "checked.xlsx", "tilt.html", "day.html")
"""Files that a person opens first, in this order."""
_WIDE = 22
RECORD_SAYS = "record of the run: inputs, settings and versions, and the hash of every file here"


def read_me(results: Results, made: Mapping[str, str]) -> str:
    """Write the text.

    Parameters
    ----------
    results : Results
    made : mapping of str
        What each file is, by its name.

    Returns
    -------
    str
        The same for the same run.
    """
    title = results.title
    state = words.PRELIMINARY if title.preliminary else f"Reviewed by {title.reviewed_by} on {title.reviewed_on}"
    first = [name for name in _FIRST if name in made]
    rest = sorted(set(made) - set(first))
    parts = [
        _HEAD,
        " - ".join(_line(part) for part in (title.name, title.revision, title.date) if part),
        state,
        f"Coordinates and elevations: {_line(results.layers.frame.describe())}",
        _line(str(results.summary.get("headline", ""))),
        "",
        *(["Open first:", *_listed(first, made), ""] if first else []),
        *([f"{'Also here' if first else 'Files'}:", *_listed(rest, made), ""] if rest else []),
        words.CERTIFICATION,
    ]
    return "\n".join(part for place, part in enumerate(parts) if part or parts[place - 1]) + "\n"


def may_be_written(folder: Path) -> bool:
    """Whether the folder holds no file of that name that somebody else wrote."""
    place = folder / READ_ME
    if not place.exists():
        return True
    try:
        return place.read_text(encoding="utf-8").startswith(_HEAD)
    except (OSError, ValueError):
        return False


def _listed(names: Iterable[str], made: Mapping[str, str]) -> list[str]:
    return [f"  {name:<{_WIDE}} {made[name]}".rstrip() for name in names]


def _line(text: str) -> str:
    """Text in one line, without marks that turn or hide others."""
    return " ".join("".join(mark if mark.isprintable() else " " for mark in text).split())
