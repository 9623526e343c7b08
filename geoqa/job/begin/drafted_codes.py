"""Codes of a folder's shots with their likely kinds: in the frame that is told, else by the numbers as they stand."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from geoqa.frames.files.places import positions
from geoqa.frames.files.reading import FileAsRead, FileReading, Placement, as_stated
from geoqa.job.begin.design_kinds import KindGuess
from geoqa.job.begin.seen_codes import SeenCode, seen_codes, with_proposals
from geoqa.job.begin.where import OpenUnit, in_frame, told_frame
from geoqa.model.frame import Frame

DEGREES = 400.0
"""A plan coordinate below it may be an angle, which is no distance."""


def codes_of_shots(
    files: list[FileAsRead], guesses: Mapping[str, KindGuess], placement: Placement, units: Mapping[str, OpenUnit]
) -> tuple[SeenCode, ...]:
    """Codes of the shots with their likely kinds, in the frame that is given or that the files name."""
    told = told_frame(placement)
    there = placement.frame or (None if told is None else told[0])
    guessed = []
    for file in files:
        guess, unit = guesses.get(file.name), units.get(file.name)
        source = file.source if guess is None or guess.source is None else guess.source
        guessed.append(replace(file, source=source, unit=file.unit if unit is None else unit.best))
    carried = () if there is None else in_frame(guessed, there)
    found = _seen(carried, guesses, there)
    in_numbers = tuple(replace(as_stated(file), layers=file.source.layers) for file in guessed)
    lost = {each.name for each in in_numbers if each.role in ("shots", "design")} - {each.name for each in carried}
    if lost and _in_lengths(in_numbers):  # what no frame takes in yet is told by its numbers as they stand
        found = _filled(found, _seen(in_numbers, guesses, None))
    kinds = {kind: form for each in in_numbers if each.role == "design" for kind, form in _drawn_kinds(each, guesses)}
    return with_proposals(found, kinds)


def _seen(
    readings: Sequence[FileReading], guesses: Mapping[str, KindGuess], frame: Frame | None
) -> tuple[SeenCode, ...]:
    return seen_codes(
        [each.layers["shots"] for each in readings if each.role == "shots"],
        [_renamed(each, guesses) for each in readings if each.role == "design"],
        next((each.layers["control"] for each in readings if each.role == "control"), None),
        frame,
    )


def _filled(codes: tuple[SeenCode, ...], by_numbers: tuple[SeenCode, ...]) -> tuple[SeenCode, ...]:
    """Every code of the shots; where no frame tells its kind, by the numbers of the files as they stand."""
    known = {each.code: each for each in codes if each.kind}
    why = "by the numbers as they stand, in no frame yet"
    return tuple(
        known.get(each.code)
        or (replace(each, because=f"{each.because}, {why}") if each.kind and each.role == "feature" else each)
        for each in by_numbers
    )


def _drawn_kinds(reading: FileReading, guesses: Mapping[str, KindGuess]) -> Iterator[tuple[str, str]]:
    tables = _renamed(reading, guesses)
    for name, form in (("design_lines", "line"), ("design_points", "point")):
        if name in tables:
            yield from ((str(kind), form) for kind in tables[name]["kind"].dropna().unique() if kind)


def _renamed(reading: FileReading, guesses: Mapping[str, KindGuess]) -> dict:
    """Tables of a design file under its guessed kinds, where its reader could not be told them."""
    guess = guesses.get(reading.name)
    tables = dict(reading.layers)
    if guess is None or guess.source is not None or not guess.options:
        return tables
    kinds = {value: kind for table in guess.options.values() for value, kind in table.items()}
    for name in ("design_lines", "design_points"):
        if name in tables:
            table = tables[name]
            tables[name] = table.assign(kind=table["kind"].map(lambda kind: kinds.get(str(kind), kind)))
    return tables


def _in_lengths(readings: Sequence[FileReading]) -> bool:
    """Whether the numbers of the shots can be lengths; latitudes and longitudes lie near everything."""
    for each in readings:
        if each.role == "shots":
            places = np.abs(positions(each.tables)[:, :2])
            if places.size and np.nanmax(places, initial=0.0) < DEGREES:
                return False
    return True
