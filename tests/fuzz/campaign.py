"""The whole campaign: how many cases of what, in shares that any process can do."""

from collections import Counter
from collections.abc import Iterable

from bench.extent import extent
from fuzz import seeds
from fuzz.outcome import End, Outcome

FILES = {
    **dict.fromkeys(seeds.TEXTS, 300),
    **dict.fromkeys(seeds.BOOKS, 150),
    **dict.fromkeys(seeds.VECTORS, 200),
    "design.geojson": 400,
    "right_of_way.geojson": 400,
    **dict.fromkeys(seeds.DRAWINGS, 200),
    **dict.fromkeys(seeds.XMLS, 400),
    **dict.fromkeys(seeds.PICTURES, 200),
}
OTHERS = {"job files": 900, "decisions": 300, "arguments": 150, "output folders": 40, "whole jobs": 60}
SHARE = 50
"""Cases that a process does at once."""
OF_A_CHANGE = 0.06
"""Part of the campaign by which a change is judged."""


def parts() -> list[tuple[str, int, int]]:
    """What to do, from which number on, and how many; of a change the first of each."""
    made = []
    for name, whole in {**FILES, **OTHERS}.items():
        count = extent(whole, of_a_change=max(3, round(whole * OF_A_CHANGE)))
        made += [(name, first, min(SHARE, count - first)) for first in range(0, count, SHARE)]
    return made


def outcomes(name: str, first: int, count: int) -> list[Outcome]:
    """Outcomes of one part."""
    import logging

    logging.disable(logging.CRITICAL)  # what libraries log quotes bytes that are no text
    try:
        if name in FILES:
            from fuzz.files import damaged_files

            return damaged_files(name, first, count)
        if name == "job files":
            from fuzz.jobs import damaged_jobs

            return damaged_jobs(first, count)
        if name == "whole jobs":
            from fuzz.whole_jobs import damaged_whole

            return damaged_whole(first, count)
        from fuzz import afterwards

        made = {
            "decisions": afterwards.damaged_decisions,
            "arguments": afterwards.odd_arguments,
            "output folders": afterwards.damaged_outputs,
        }[name]
        return made(first, count)
    finally:
        logging.disable(logging.NOTSET)


def counted(found: Iterable[tuple[str, list[Outcome]]]) -> dict[str, Counter[End]]:
    """Endings by what was damaged."""
    counts: dict[str, Counter[End]] = {}
    for name, ends in found:
        counts.setdefault(name, Counter()).update(each.end for each in ends)
    return counts
