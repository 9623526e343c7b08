"""Walks that a crew shot again: whole, in part, the other way round, at single places, or carried on the next day."""

import numpy as np
import pandas as pd

from bench.walk_shots import walk_rows

STATIONS = np.arange(0.0, 161.0, 20.0)


def scattered(rng, stations, *, u=0.02, high=0.01, **walk):
    """Rows of both edges of a walk with errors of their own."""
    count = len(stations)
    errors = tuple(rng.normal(0, high, count) for _ in range(2))
    plan = tuple(rng.normal(0, u, (count, 2)) for _ in range(2))
    return walk_rows(stations, errors=errors, plan=plan, **walk)


def later(rows, *, hours=0.0, session=None, sequence=None, source=None):
    """Rows shot later; `sequence` is added to theirs, or "none" for no number."""
    made = []
    for row in rows:
        row = row | {"time": row["time"] + pd.Timedelta(hours=hours)}
        if session is not None:
            row |= {"session": session, "initialization": session + "1"}
        if source is not None:
            row |= {"source": source}
        if sequence is not None:
            row |= {"sequence": None if sequence == "none" else row["sequence"] + sequence}
        made.append(row)
    return made


def reversed_way(rows):
    """Each edge walked from its other end, in the same minutes."""
    made = []
    for code in dict.fromkeys(row["code"] for row in rows):
        mine = [row for row in rows if row["code"] == code]
        asked = ("time", "sequence")
        made += [back | {name: row[name] for name in asked} for row, back in zip(mine, mine[::-1], strict=True)]
    return made


def numbered(rows):
    """The rows with names in their order."""
    return [row | {"shot": str(100 + number)} for number, row in enumerate(rows)]


def cases(seed=1):
    """Name of each case: rows of the first pass, and rows that were shot again or farther on."""
    rng = np.random.default_rng(seed)
    half, over = STATIONS[4:], np.arange(163.0, 290.0, 20.0)

    def again(stations=STATIONS + 7.0, **walk):
        return scattered(rng, stations, **walk)

    first = scattered(rng, STATIONS)
    none = later(first, sequence="none")
    return {
        "another day": (first, later(again(), hours=24, session="B")),
        "another day, same places": (first, later(again(STATIONS), hours=24, session="B")),
        "the same session": (first, later(again(), hours=0.4)),
        "sequence goes on": (first, later(again(), hours=24, session="B", sequence=50)),
        "without sequence": (none, later(again(), hours=24, session="B", sequence="none")),
        "without sequence, same session": (none, later(again(), hours=0.4, sequence="none")),
        "half": (none, later(again(half), hours=24, session="B", sequence="none")),
        "half, numbered": (first, later(again(half), hours=24, session="B")),
        "the other way": (none, later(reversed_way(again()), hours=24, session="B", sequence="none")),
        "the other way, same session": (none, later(reversed_way(again()), hours=0.4, sequence="none")),
        "without a session": (
            later(none, session=None),
            later(again(), hours=24, session=None, sequence="none"),
        ),
        "another file": (
            [row | {"time": None} for row in first],
            [row | {"time": None, "source": "z.csv"} for row in later(again(), hours=24)],
        ),
        "five places": (
            none,
            later(again(STATIONS[[1, 2, 4, 5, 7]] + 1.0), hours=24, session="B", sequence="none"),
        ),
        "two places": (none, later(again(STATIONS[[3, 5]]), hours=24, session="B", sequence="none")),
        "carried on": (none, later(again(over), hours=24, session="B", sequence="none")),
        "carried on over three": (
            none,
            later(again(np.append([121.0, 139.0, 158.0], over + 12.0)), hours=24, session="B", sequence="none"),
        ),
    }  # fmt: skip
