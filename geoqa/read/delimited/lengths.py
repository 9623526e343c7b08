"""Units that headings state: one for the whole file, or nothing is taken on trust."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from geoqa.errors import SourceError
from geoqa.model.quantity import LengthUnit, length_unit
from geoqa.model.source import Evidence

_SAID = {"foot": "ft, which foot is not said"}


def file_unit(
    name: str, units: Mapping[str, str], *, places: Sequence[str], lengths: Sequence[str]
) -> tuple[LengthUnit | None, frozenset[str], list[Evidence]]:
    """Tell the unit of a file from its headings.

    Returns
    -------
    LengthUnit or None
        What easting, northing and elevation state; None where they state nothing, or a foot without its kind.
    frozenset of str
        Other length columns whose stated unit is not that one; they are not to be taken.
    list of Evidence

    Raises
    ------
    SourceError
        Coordinates in two units, or in one that is no length.
    """
    stated = {each: units[each] for each in places if each in units}
    if len(set(stated.values())) > 1:
        listed = ", ".join(f"{each} in {_SAID.get(unit, unit)}" for each, unit in stated.items())
        raise SourceError(
            f"'{name}': its headings state two units for coordinates ({listed}); export it in one unit, "
            "or state columns = in file order and the unit in the job."
        )
    unit = next(iter(stated.values()), None)
    evidence = []
    if unit in ("deg", "gon", "rad", "s", "utc"):
        raise SourceError(
            f"'{name}': its headings say that {', '.join(stated)} are in {unit}; only plane coordinates can be read. "
            'Export it with grid coordinates, or state columns = in file order, with "" for those columns.'
        )
    if unit is not None:
        because = f"heading of {', '.join(stated)}"
        evidence.append(Evidence(what="unit", answer=_SAID.get(unit, unit), because=because))
    foreign = {each: units[each] for each in lengths if each in units and units[each] != unit}
    for each, other in foreign.items():
        because = (
            f"its heading says {_SAID.get(other, other)}, the coordinates {_SAID.get(unit or '', unit or 'no unit')}"
        )
        evidence.append(Evidence(what=each, answer="not taken", because=because))
    return (length_unit(unit) if unit not in (None, "foot") else None), frozenset(foreign), evidence
