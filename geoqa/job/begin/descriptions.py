"""Which files of shots write code, line and note into one field, and what their codes would be."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from geoqa.frames.files.reading import FileAsRead
from geoqa.job.begin.seen_codes import SeenCode
from geoqa.job.inputs.descriptions import USUAL, Patterns, Splitter, previews, splitter, with_descriptions
from geoqa.model.words import many

if TYPE_CHECKING:
    import pandas as pd

LEAST = 0.1
"""Share of a file's shots that must hold more than a code."""


def described(files: Sequence[FileAsRead]) -> dict[str, str]:
    """Files, by name, in which the usual order of code, line and note makes fewer codes of many, each with why."""
    by = splitter(_table(files, "codes"), _table(files, "control"))
    written = {
        file.name: file.source.layers["shots"]["code"].dropna().astype("str").str.strip()
        for file in files
        if file.role == "shots" and "shots" in file.source.layers
    }
    # a crew numbers its lines through: CTB1 of one day and CTB2 of the next are one code
    together = _fewer((each for codes in written.values() for each in codes.unique()), by)
    return {
        name: why
        for name, codes in written.items()
        if (together or _fewer(codes.unique(), by)) and (why := _helps(codes, by))
    }


def taken_apart(files: Sequence[FileAsRead], named: dict[str, str]) -> list[FileAsRead]:
    """The files with code, line and note apart, where that helps, and check shots found in all."""
    patterns: Patterns = {file.key: (USUAL, ()) for file in files if file.name in named}
    return with_descriptions(files, patterns)


def numbered_points(files: Sequence[FileAsRead], named: Mapping[str, str], codes: Iterable[SeenCode]) -> dict[str, str]:
    """Files whose codes of points bear a number, with what it becomes: the name of a thing, and no line."""
    points = {each.code for each in codes if each.geometry == "point" and each.role == "feature"}
    found = {}
    for file in files:
        if file.name not in named:
            continue
        shots = file.source.layers["shots"]
        there = shots["line_id"].notna() & shots["code"].isin(points)
        if count := int(there.sum()):
            code, number = shots.loc[there, ["code", "line_id"]].iloc[0]
            found[file.name] = (
                f"{many(count, 'shot')} of codes of points bear a number: {code}{number} is {code} number {number}, "
                "the name of the thing; it makes no line"
            )
    return found


def _fewer(written: Iterable[str], by: Splitter) -> bool:
    """Whether taken apart there are fewer codes of those of all files."""
    splits = {each: by.split(each) for each in written}
    before = {each for each, one in splits.items() if not one.check}
    after = {one.code for one in splits.values() if not one.check}
    return len(after) <= (1.0 - LEAST) * len(before)


def _helps(written: "pd.Series", by: Splitter) -> str:
    """How many shots of a file hold more than a code, where they are many."""
    counts = Counter(written)
    splits = {each: by.split(each) for each in counts}
    more = [each for each, one in splits.items() if not one.check and one.code != each and (one.known or not by.codes)]
    shots = sum(counts[each] for each in more)
    if not shots or shots < LEAST * len(written):
        return ""
    example = next(each for each in previews(more, by) if each.examples).examples[-1]
    return f"{many(shots, 'shot')} of {len(written)} hold more than a code, e.g. {example}"


def _table(files: Sequence[FileAsRead], role: str) -> "pd.DataFrame | None":
    return next((file.source.layers[role] for file in files if role in file.source.layers), None)
