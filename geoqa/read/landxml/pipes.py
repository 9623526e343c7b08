"""Pipe networks of LandXML: structures and inverts as points, pipes as lines from invert to invert."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geoqa.read.landxml.coordgeom import APART
from geoqa.read.landxml.places import Place, Places
from geoqa.read.landxml.stream import Node

_SECTIONS = ("CircPipe", "EggPipe", "ElliPipe", "RectPipe", "Channel")


@dataclass(frozen=True, kw_only=True)
class NetworkPoint:
    """A structure at its rim, or one invert of it."""

    name: str
    kind: str
    place: Place
    node: Node


@dataclass(frozen=True, kw_only=True)
class NetworkLine:
    """A pipe between two structures, at its inverts; and in words what it is made of."""

    name: str
    start: Place
    end: Place
    attributes: str
    node: Node


def network(node: Node, places: Places, *, diameter: str) -> tuple[list[NetworkPoint], list[NetworkLine]]:
    """Structures, inverts and pipes of one network.

    Parameters
    ----------
    node : Node
        The element PipeNetwork.
    places : Places
    diameter : str
        Word of the unit of diameters.

    Raises
    ------
    SourceError
        Two structures of one name, a structure without a centre, a pipe whose structure is not there.
    """
    structures: dict[str, tuple[Node, Place]] = {}
    points: list[NetworkPoint] = []
    for each in [struct for group in node.all("Structs") for struct in group.all("Struct")]:
        name, centre = each.get("name"), each.find("Center")
        if centre is None:
            raise places.refused(each, "has no Center; it needs one")
        if name in structures:
            raise places.refused(
                each, f"has the name of another in line {structures[name][0].line}; each needs its own"
            )
        place = places.place(centre)
        structures[name] = each, place
        rim = places.number(each, "elevRim")
        points.append(
            NetworkPoint(
                name=name, kind="structure", place=(*place[:2], rim if math.isfinite(rim) else place[2]), node=each
            )
        )
        points += _inverts(each, place, places)
    pipes = [pipe for group in node.all("Pipes") for pipe in group.all("Pipe")]
    return points, [_pipe(each, structures, places, diameter) for each in pipes]


def _inverts(struct: Node, place: Place, places: Places) -> list[NetworkPoint]:
    made = []
    for each in struct.all("Invert"):
        name = " ".join(filter(None, (struct.get("name"), "invert", each.get("refPipe"), each.get("flowDir"))))
        made.append(NetworkPoint(name=name, kind="invert", place=(*place[:2], places.number(each, "elev")), node=each))
    return made


def _pipe(node: Node, structures: dict[str, tuple[Node, Place]], places: Places, diameter: str) -> NetworkLine:
    ends = []
    for key, way in (("refStart", "out"), ("refEnd", "in")):
        name = node.get(key)
        if name not in structures:
            raise places.refused(node, f'has {key}="{name[:40]}", and no structure of the network is called so')
        struct, place = structures[name]
        ends.append((*place[:2], _invert(struct, node.get("name"), way, places)))
    section = next(iter(node.all(*_SECTIONS)), None)
    said = [] if section is None else [section.name, *(f"{key} {value}" for key, value in section.attributes.items())]
    if diameter and section is not None and "diameter" in section.attributes:
        said.append(f"({diameter})")
    said += [f"{key} {node.get(key)}" for key in ("slope", "material", "desc") if node.get(key)]
    start, end = ends
    if math.dist(start[:2], end[:2]) <= APART:
        raise places.refused(node, "begins and ends at one place")
    return NetworkLine(name=node.get("name"), start=start, end=end, attributes=" ".join(said), node=node)


def _invert(struct: Node, pipe: str, way: str, places: Places) -> float:
    """Elevation of a pipe's end in a structure; of several, that of its flow."""
    mine = [each for each in struct.all("Invert") if each.get("refPipe") == pipe]
    flowing = [each for each in mine if each.get("flowDir") == way] or mine
    return places.number(flowing[0], "elev") if len(flowing) == 1 else math.nan
