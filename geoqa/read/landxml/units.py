"""What the numbers of a LandXML file are in, and what it says of its coordinate system."""

from __future__ import annotations

import re
from pathlib import Path

from geoqa.model.quantity import FOOT, INCH, METRE, MILLIMETRE, US_SURVEY_FOOT, LengthUnit
from geoqa.model.source import Evidence
from geoqa.read.landxml.stream import Node, refusal

LINEAR: dict[str, dict[str, LengthUnit]] = {
    "Imperial": {"foot": FOOT, "USSurveyFoot": US_SURVEY_FOOT},
    "Metric": {"meter": METRE},
}
"""Words of the schema, by the element they stand in, for the units a job can have."""
DIAMETER = {"inch": INCH, "foot": FOOT, "USSurveyFoot": US_SURVEY_FOOT, "meter": METRE, "millimeter": MILLIMETRE}
_SAME_ELEVATION = {"Imperial": ("", "feet", "foot", "USSurveyFoot"), "Metric": ("", "meter")}
_CODE = re.compile(r"(?:EPSG\s*:+\s*)?([0-9]{4,6})$", re.IGNORECASE)


def unit_of(nodes: list[Node], path: Path) -> tuple[LengthUnit | None, str, Evidence]:
    """Unit of lengths and elevations, word of the unit of diameters, and how that is known.

    Raises
    ------
    SourceError
        A word that is not read, elevations in another unit, or two `Units` that differ.
    """
    kinds = [each for node in nodes for each in node.all("Imperial", "Metric")]
    if not kinds:
        because = "the file has no Units; state unit in the job"
        return None, "", Evidence(what="unit", answer="not stated", because=because)
    read = {(_linear(each, path), each.get("diameterUnit")) for each in kinds}
    if len(read) > 1:
        raise refusal(path, kinds[1].line, "a second Units that differs from the first; a file has one.")
    (unit, diameter) = read.pop()
    because = f'{kinds[0].name} linearUnit="{kinds[0].get("linearUnit")}"'
    return unit, diameter, Evidence(what="unit", answer=unit.name, because=because)


def _linear(node: Node, path: Path) -> LengthUnit:
    word, elevation = node.get("linearUnit"), node.get("elevationUnit")
    allowed = LINEAR[node.name]
    if word not in allowed:
        words = " or ".join(f'"{each}"' for each in allowed)
        raise refusal(
            path,
            node.line,
            f'{node.name} linearUnit="{word[:40]}"; {words} can be read, and Metric "meter" or Imperial "foot" or '
            '"USSurveyFoot" are what a job may be in. Export it again in one of them.',
        )
    if elevation not in _SAME_ELEVATION[node.name]:
        raise refusal(
            path,
            node.line,
            f'elevationUnit="{elevation[:40]}" beside linearUnit="{word}"; elevations must be in the unit of the '
            "coordinates. Export it again.",
        )
    return allowed[word]


def system_of(nodes: list[Node]) -> tuple[str | None, Evidence]:
    """Coordinate system by its code, where the file has one, and what else it says of it."""
    said: dict[str, str] = {}
    for node in nodes:
        for key in ("epsgCode", "name", "desc", "horizontalCoordinateSystemName", "horizontalDatum", "verticalDatum"):
            if value := node.get(key):
                said.setdefault(key, value[:80])
    code = _CODE.match(said.pop("epsgCode", ""))
    rest = ", ".join(f"{key} {value!r}" for key, value in said.items())
    if code:
        return f"EPSG:{code[1]}", Evidence(what="coordinate system", answer=f"EPSG:{code[1]}", because=_because(rest))
    because = f"no epsgCode; the file says {rest}" if rest else "the file does not say"
    return None, Evidence(what="coordinate system", answer="not stated", because=because)


def _because(rest: str) -> str:
    return f"CoordinateSystem epsgCode; beside it {rest}" if rest else "CoordinateSystem epsgCode"
