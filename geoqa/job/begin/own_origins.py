"""Designs of a folder about an origin of their own: the line that puts each on the grid, proposed as a comment."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from geoqa.frames.files.own_origin import own_origin
from geoqa.frames.files.reading import FileAsRead
from geoqa.frames.moving.local_origin import LocalOrigin, on_the_grid
from geoqa.job.begin.design_kinds import KindGuess
from geoqa.job.document.quoted import quoted


def own_origins(files: Sequence[FileAsRead], guesses: Mapping[str, KindGuess]) -> dict[str, LocalOrigin]:
    """The origin of each design whose named marks and the shots tell one, by the name of the file.

    What a design draws is named as it is once its guessed kinds are taken.
    """
    control = next((each.source.layers["control"] for each in files if "control" in each.source.layers), None)
    shots = [each.source.layers["shots"] for each in files if each.role == "shots" and "shots" in each.source.layers]
    found = {}
    for each in files:
        if each.role == "design":
            guess = guesses.get(each.name)
            drawn = each.source if guess is None or guess.source is None else guess.source
            found[each.name] = own_origin(drawn.layers, control, shots, each.source.unit)
    return {name: local for name, local in found.items() if local is not None}


def on_their_grid(
    guesses: Mapping[str, KindGuess], origins: Mapping[str, LocalOrigin], files: Sequence[FileAsRead]
) -> dict[str, KindGuess]:
    """The guesses, with what each file draws on the grid: by where shots lie on it, codes are told."""
    as_read = {each.name: each.source for each in files}
    put = dict(guesses)
    for name, local in origins.items():
        guess = guesses.get(name)
        if guess is not None and (guess.source is not None or not guess.options):
            put[name] = replace(guess, source=on_the_grid(guess.source or as_read[name], local))
    return put


def origin_lines(local: LocalOrigin | None) -> list[str]:
    """The line of the draft, as a comment: a person knows whether it is so."""
    if local is None:
        return []
    point, at = ([float(each) for each in place] for place in (local.point, local.at))
    stated = f"point = {point}, at = {at}, turn_deg = {local.turn_deg}, reference = {quoted(local.reference)}"
    return [
        "# Was its origin moved? The control marks it names lie elsewhere in it; most shots lie near it by this line:",
        f"# local = {{ {stated} }}",
    ]
