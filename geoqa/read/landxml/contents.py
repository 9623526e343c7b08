"""What a LandXML file holds: its unit and system, and the elements that each reader makes its tables of."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path

from geoqa.model.quantity import LengthUnit
from geoqa.model.source import Evidence
from geoqa.read.delimited.text import existing
from geoqa.read.landxml.places import Places
from geoqa.read.landxml.stream import Account, Node, elements
from geoqa.read.landxml.surface import Surface, Surfaces
from geoqa.read.landxml.units import system_of, unit_of

_WANTED = ("Units", "CoordinateSystem", "CgPoint", "Alignment", "PlanFeature", "PipeNetwork")
_THROUGH = ("CgPoints", "Alignments", "PlanFeatures", "PipeNetworks", "Surfaces", "Surface")
_ABOUT = ("Project", "Application", "Amendment")
"""Elements that say who made the file; nothing of the work is lost with them."""

FIRST = 8 << 20
"""Bytes of a file that a first look takes in."""


@dataclass(kw_only=True)
class Contents:
    """One file, read.

    Attributes
    ----------
    found : mapping of element name to nodes
    surfaces : tuple of Surface
        Those that were asked for.
    listed : tuple of (name, state, line)
        All surfaces.
    places : Places
        Its named points.
    """

    path: Path
    found: dict[str, list[Node]]
    surfaces: tuple[Surface, ...]
    listed: tuple[tuple[str, str, int], ...]
    places: Places
    unit: LengthUnit | None
    diameter: str
    crs: str | None
    evidence: list[Evidence] = field(default_factory=list)

    def of(self, name: str) -> list[Node]:
        """Elements of a name, in file order."""
        return self.found.get(name, [])

    def words(self) -> str:
        """What is in it, counted."""
        counts = [(len(self.of(name)), name) for name in _WANTED[2:]] + [(len(self.listed), "Surface")]
        return ", ".join(f"{count} {name}" for count, name in counts if count) or "nothing that is read"


def contents(path: Path, *, surfaces: Collection[str] | None = (), at_most: int | None = None) -> Contents:
    """Read a whole file; of its surfaces only those that are named, or all with None.

    Parameters
    ----------
    path : Path
    surfaces : collection of str or None
    at_most : int, optional
        Bytes after which to stop, for a first look.

    Raises
    ------
    SourceError
        See `elements`, `unit_of` and `Surfaces`.

    Examples
    --------
    >>> import tempfile
    >>> text = '''<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2">
    ... <Units><Imperial linearUnit="USSurveyFoot"/></Units>
    ... <CgPoints><CgPoint name="CP1">445000.0 2231000.0 1457.2</CgPoint></CgPoints></LandXML>'''
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "a.xml")
    ...     _ = path.write_text(text, encoding="utf-8")
    ...     held = contents(path)
    >>> held.unit.name, held.words(), held.places.place(held.of("CgPoint")[0])
    ('ftUS', '1 CgPoint', (2231000.0, 445000.0, 1457.2))
    """
    path = existing(path)
    bulk = Surfaces(path, surfaces)
    found: dict[str, list[Node]] = {}
    account = Account()
    for each in elements(path, wanted=_WANTED, through=_THROUGH, bulk=bulk, at_most=at_most):
        if isinstance(each, Account):
            account = each
        else:
            found.setdefault(each.name, []).append(each)
    unit, diameter, about_unit = unit_of(found.get("Units", []), path)
    crs, about_system = system_of(found.get("CoordinateSystem", []))
    places = Places(path)
    for point in found.get("CgPoint", []):
        places.add(point)
    return Contents(
        path=path,
        found=found,
        surfaces=tuple(bulk.taken),
        listed=tuple(bulk.listed),
        places=places,
        unit=unit,
        diameter=diameter,
        crs=crs,
        evidence=[about_unit, about_system, *_accounted(account)],
    )


def surfaces_of(path: Path, *, names: Collection[str] | None = None) -> tuple[Surface, ...]:
    """The surfaces of a file as arrays, in its own unit.

    Parameters
    ----------
    path : Path
    names : collection of str, optional
        Only these; each must be there.

    Raises
    ------
    SourceError
        The file cannot be read, or has no surface of a name.

    Examples
    --------
    The arrays are what the kernel of elevations takes.

    >>> import tempfile
    >>> from geoqa.kernels.design.tin_elevation import tin_elevation
    >>> text = '''<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Surfaces>
    ... <Surface name="FG"><Definition surfType="TIN"><Pnts><P id="1">0 0 100</P><P id="2">0 100 101</P>
    ... <P id="3">100 0 102</P></Pnts><Faces><F>1 2 3</F></Faces></Definition></Surface></Surfaces></LandXML>'''
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "a.xml")
    ...     _ = path.write_text(text, encoding="utf-8")
    ...     (ground,) = surfaces_of(path, names=["FG"])
    >>> tin_elevation(ground.points, ground.faces, [50.0], [25.0])[0].tolist()
    [101.0]
    """
    held = contents(path, surfaces=names)
    refuse_unknown_surfaces(held, names or ())
    return held.surfaces


def refuse_unknown_surfaces(held: Contents, names: Collection[str]) -> None:
    """Refuse names of surfaces that the file does not have."""
    from geoqa.errors import SourceError

    there = [name for name, _, _ in held.listed]
    strange = [name for name in names if name not in there]
    if strange:
        listed = ", ".join(there) or "none"
        named = (
            f' State one of them: surfaces = ["{there[0]}"].' if there else " Take surfaces = out of its [[design]]."
        )
        raise SourceError(f"'{held.path.name}' has no surface {', '.join(strange)}; its surfaces are {listed}.{named}")


def by_state(nodes: list[Node], states: Collection[str]) -> tuple[list[Node], Counter[str]]:
    """Elements whose state is wanted, and how many of which state are not."""
    taken, left = [], Counter[str]()
    for node in nodes:
        state = node.get("state") or "unstated"
        if state in states:
            taken.append(node)
        else:
            left[state] += 1
    return taken, left


def _accounted(account: Account) -> list[Evidence]:
    because = "no namespace, by its attribute version" if account.unqualified else "its namespace"
    told = [Evidence(what="LandXML", answer=account.version, because=because)]
    skipped = {name: count for name, count in account.skipped.items() if name not in _ABOUT}
    if skipped:
        listed = ", ".join(f"{name} {count}" for name, count in sorted(skipped.items()))
        told.append(Evidence(what="elements not read", answer=listed, because="no reader takes them"))
    if account.foreign:
        listed = ", ".join(f"{name} {count}" for name, count in sorted(account.foreign.items()))
        told.append(Evidence(what="extensions not read", answer=listed, because="not of the standard's own elements"))
    return told
