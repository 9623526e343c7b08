"""The drawing for very many shots: points, lines and text in the plainest form of the format.

No blocks, no attributes, six decimals; the verdict is in the layer name, and every shot is in the GeoPackage.
"""

from collections.abc import Mapping
from pathlib import Path as File

from geoqa.write.cad.cad_text import cad_text
from geoqa.write.cad.sheet import NOTE, Sheet

_HEADER = "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1009\n9\n$INSUNITS\n70\n{unit}\n0\nENDSEC\n"
_LAYERS = "0\nSECTION\n2\nTABLES\n0\nTABLE\n2\nLAYER\n70\n{count}\n"
_LAYER = "0\nLAYER\n2\n{name}\n70\n0\n62\n{colour}\n6\nCONTINUOUS\n"
"""A negative colour is a layer that is off."""
_END = "0\nENDTAB\n0\nENDSEC\n"


def write(path: File, sheet: Sheet, *, insunits: int, height: float, layers: Mapping[str, tuple[int, bool]]) -> None:
    """Write `sheet` as points and polylines.

    Parameters
    ----------
    path : Path
    sheet : Sheet
    insunits : int
        Unit code of the header.
    height : float
        Height of text, in the drawing's unit.
    layers : mapping of name to (colour, off)
    """
    from ezdxf.addons import r12writer

    with path.open("w", encoding="cp1252", errors="dxfreplace", newline="\n") as file:
        file.write(_HEADER.format(unit=insunits))
        file.write(_LAYERS.format(count=len(layers)))
        for name, (colour, off) in layers.items():
            file.write(_LAYER.format(name=name, colour=-colour if off else colour))
        file.write(_END)
        with r12writer(file, fixed_tables=False) as drawing:
            for each in sheet.paths:
                drawing.add_polyline_2d(each.vertices, format="xyb", closed=each.closed, layer=each.layer)
            for raised in sheet.raised:
                drawing.add_polyline(raised.vertices, layer=raised.layer)
            for mark in (*sheet.design, *sheet.marks):
                if mark.elevation is None:  # a circle of the plan, not a point at 0
                    drawing.add_circle((mark.easting, mark.northing), radius=height, layer=mark.layer)
                else:
                    drawing.add_point((mark.easting, mark.northing, mark.elevation), layer=mark.layer)
            for label in sheet.labels:
                place = label.easting, label.northing
                drawing.add_text(
                    cad_text(label.text), insert=place, height=height, rotation=label.turn, layer=label.layer
                )
            west, south, *_ = sheet.corners()
            for row, line in enumerate(sheet.note):
                place = west, south - height * (10 + 3 * row)
                drawing.add_text(cad_text(line), insert=place, height=2 * height, layer=NOTE)
