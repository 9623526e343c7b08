"""The symbol of a shot with its attributes, as it stands in a drawing.

The library makes six objects of a shot and asks each for every property it may have, which is most of what a drawing
costs. Here a shot is one object of the library, which keeps its numbers and its place, and one piece of text.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ezdxf.layouts import Modelspace


@dataclass(frozen=True, kw_only=True)
class Attribute:
    """One line of text beside a symbol."""

    tag: str
    text: str
    easting: float
    northing: float
    hidden: bool


@dataclass(frozen=True, kw_only=True)
class Symbol:
    """A block at a place, what it says, and what only a program reads; every text fits one line of the format."""

    block: str
    layer: str
    place: tuple[float, float, float]
    height: float
    attributes: tuple[Attribute, ...]
    application: str
    extended: tuple[str, ...]


def add_symbol(space: Modelspace, symbol: Symbol) -> None:
    """Draw the symbol of a shot."""
    block: Any = space.add_blockref(symbol.block, symbol.place, dxfattribs={"layer": symbol.layer})
    text = _tags(space.doc, block, symbol)
    block.export_dxf = lambda tags: tags.write_str(text)


def _tags(document: Any, block: Any, symbol: Symbol) -> str:
    """The lines of a block reference and of its attributes: a code, and its value."""
    easting, northing, elevation = symbol.place
    owner, layer = block.dxf.owner, symbol.layer
    common = f"330\n{owner}\n100\nAcDbEntity\n  8\n{layer}\n100\n"
    said = [f"1001\n{symbol.application}\n", *(f"1000\n{text}\n" for text in symbol.extended)]
    lines = [
        f"  0\nINSERT\n  5\n{block.dxf.handle}\n{common}AcDbBlockReference\n 66\n1\n  2\n{symbol.block}\n"
        f" 10\n{easting}\n 20\n{northing}\n 30\n{elevation}\n" + "".join(said if symbol.extended else ())
    ]
    for each in symbol.attributes:
        lines.append(
            f"  0\nATTRIB\n  5\n{document.entitydb.next_handle()}\n{common}AcDbText\n"
            f" 10\n{each.easting}\n 20\n{each.northing}\n 30\n{elevation}\n 40\n{symbol.height}\n"
            f"  1\n{each.text}\n100\nAcDbAttribute\n  2\n{each.tag}\n 70\n{int(each.hidden)}\n"
        )
    end = f"  0\nSEQEND\n  5\n{block.seqend.dxf.handle}\n330\n{block.dxf.handle}\n100\nAcDbEntity\n  8\n{layer}\n"
    return "".join([*lines, end])
