"""The text of a symbol against what the drawing library itself writes of the same shot."""

import io

import ezdxf
import pytest

from geoqa.write.cad.symbols import Attribute, Symbol, add_symbol

PLACE = (2_228_515.737, 445_968.24, 1461.659)


def _drawn(draw):
    document = ezdxf.new("R2010")
    document.layers.add("CURB-TOP_OUT")
    document.appids.add("GEOQA")
    document.blocks.new("SHOT_OUT")
    draw(document.modelspace())
    document.modelspace().add_line((0, 0), (1, 1))  # its handle is the next one
    text = io.StringIO()
    document.write(text)
    return text.getvalue().partition("ENTITIES")[2].partition("ENDSEC")[0]


def _symbol(attributes):
    return Symbol(
        block="SHOT_OUT",
        layer="CURB-TOP_OUT",
        place=PLACE,
        height=0.4,
        attributes=attributes,
        application="GEOQA",
        extended=("KEY=day1/1", "FINDINGS=F1;F2"),
    )


def _by_the_library(symbol):
    def draw(space):
        for _ in range(2):
            block = space.add_blockref(symbol.block, symbol.place, dxfattribs={"layer": symbol.layer})
            for each in symbol.attributes:
                look = {"layer": symbol.layer, "height": symbol.height, "flags": int(each.hidden)}
                block.add_attrib(each.tag, each.text, (each.easting, each.northing, symbol.place[2]), look)
            block.set_xdata(symbol.application, [(1000, text) for text in symbol.extended])

    return _drawn(draw)


@pytest.mark.parametrize("text", ["1001", "▲ offset 0.30 ft right ± 0.02; 1:48", "", " spaced ", "% %c é"])
def test_a_symbol_is_written_as_the_library_writes_it(text):
    symbol = _symbol(
        (
            Attribute(tag="POINT", text=text, easting=PLACE[0] + 0.56, northing=PLACE[1], hidden=False),
            Attribute(tag="SAYS", text=text, easting=PLACE[0] + 0.56, northing=PLACE[1] - 0.6, hidden=True),
        )
    )

    def draw(space):
        add_symbol(space, symbol)
        add_symbol(space, symbol)

    assert _drawn(draw) == _by_the_library(symbol)
