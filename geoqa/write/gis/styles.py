"""Styles that travel inside a GeoPackage: the signs of the verdicts as Styled Layer Descriptors.

Styled Layer Descriptor 1.0.0 is an open standard (OGC 02-070). The table ``layer_styles`` that
carries it is a habit of desktop programs, not part of the GeoPackage standard.
"""

from collections.abc import Collection, Mapping
from typing import Any
from xml.etree import ElementTree

from geoqa.model.signs import SIGNS
from geoqa.model.tables.reported import NOT_CHECKED, UNASKED

_SLD, _OGC = "http://www.opengis.net/sld", "http://www.opengis.net/ogc"
_MARKS = {"triangle": ("triangle", 0), "diamond": ("square", 45), "cross": ("x", 0), "circle": ("circle", 0)}
_SIZES = {"OUT": 12, "UNDECIDED": 10, "NO_DATA": 9, "IN": 7}
_INK, _QUIET, _BUILT = "#374151", "#9CA3AF", "#047857"


def style_of(layer: str, columns: Collection[str] = ()) -> str | None:
    """SLD text for a layer that has these columns, or None where plain drawing does."""
    if layer in _BY_VERDICT and VERDICT in columns:
        absent = "run" if "run" in columns else ""
        rules = [
            _rule(sign.text, _point(sign.shape, sign.colour, _SIZES[verdict]), {VERDICT: verdict}, absent=absent)
            for verdict, sign in reversed(SIGNS.items())
        ]
        if layer == "shots":
            rules.insert(0, _rule(UNASKED, _point("circle", _QUIET, 4), {VERDICT: NOT_CHECKED}))
    elif layer in _BY_VERDICT:
        rules = [
            _rule("judged", _point("circle", _INK, 4), {"use": "1"}),
            _rule("flagged out", _point("cross", _QUIET, 7), {"use": "0"}),
        ]
    elif layer in _LINES:
        rules = [_rule(*_LINES[layer][:1], _line(*_LINES[layer][1:]))]
    elif layer in _AREAS:
        rules = [_rule(_AREAS[layer][0], _area(*_AREAS[layer][1:]))]
    elif layer in ("control", "design_points"):
        rules = [_rule(layer.replace("_", " "), _point("triangle" if layer == "control" else "circle", _INK, 9))]
    else:
        return None
    if _LABELS.get(layer) in columns:
        rules.append(_rule("names", _label(_LABELS[layer])))
    return _document(layer, rules)


VERDICT = "verdict"
_BY_VERDICT = ("items", "findings", "shots")
_LINES: Mapping[str, tuple[str, str, float, str]] = {
    "design_lines": ("design", _INK, 1.0, "6 3"),
    "asbuilt_lines": ("as-built", _BUILT, 1.6, ""),
    "runs": ("run of neighbours that agree", SIGNS["OUT"].colour, 4.0, ""),
    "gaps": ("design without as-built evidence", SIGNS["NO_DATA"].colour, 4.0, "6 4"),
}
_AREAS: Mapping[str, tuple[str, str, float]] = {
    "asbuilt_areas": ("as-built", _BUILT, 0.2),
    "bands": ("tolerance band", SIGNS["IN"].colour, 0.15),
}
_LABELS = {"items": "item", "control": "mark", "design_points": "point"}
"""Columns written beside points that are few."""


def _document(layer: str, rules: list[ElementTree.Element]) -> str:
    ElementTree.register_namespace("", _SLD)
    ElementTree.register_namespace("ogc", _OGC)
    root = ElementTree.Element(f"{{{_SLD}}}StyledLayerDescriptor", version="1.0.0")
    named = _put(root, "NamedLayer")
    _put(named, "Name", layer)
    style = _put(named, "UserStyle")
    _put(style, "Name", layer)
    _put(style, "FeatureTypeStyle").extend(rules)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(root, encoding="unicode")


def _rule(
    name: str, symbol: ElementTree.Element, where: Mapping[str, str] | None = None, *, absent: str = ""
) -> ElementTree.Element:
    """One rule; `absent` names a column that must hold nothing: a member of a run is shown by its run alone."""
    rule = ElementTree.Element(f"{{{_SLD}}}Rule")
    _put(rule, "Name", name)
    _put(rule, "Title", name)
    for column, value in (where or {}).items():
        asked = ElementTree.SubElement(rule, f"{{{_OGC}}}Filter")
        if absent:
            asked = ElementTree.SubElement(asked, f"{{{_OGC}}}And")
            none = ElementTree.SubElement(asked, f"{{{_OGC}}}PropertyIsNull")
            ElementTree.SubElement(none, f"{{{_OGC}}}PropertyName").text = absent
        test = ElementTree.SubElement(asked, f"{{{_OGC}}}PropertyIsEqualTo")
        ElementTree.SubElement(test, f"{{{_OGC}}}PropertyName").text = column
        ElementTree.SubElement(test, f"{{{_OGC}}}Literal").text = value
    rule.append(symbol)
    return rule


def _point(shape: str, colour: str, size: int) -> ElementTree.Element:
    known, turn = _MARKS[shape]
    symbol = ElementTree.Element(f"{{{_SLD}}}PointSymbolizer")
    graphic = _put(symbol, "Graphic")
    mark = _put(graphic, "Mark")
    _put(mark, "WellKnownName", known)
    _put(_put(mark, "Fill"), "CssParameter", colour, name="fill")
    stroke = _put(mark, "Stroke")
    _put(stroke, "CssParameter", colour if shape == "cross" else "#FFFFFF", name="stroke")
    _put(graphic, "Size", str(size))
    if turn:
        _put(graphic, "Rotation", str(turn))
    return symbol


def _label(column: str) -> ElementTree.Element:
    symbol = ElementTree.Element(f"{{{_SLD}}}TextSymbolizer")
    ElementTree.SubElement(_put(symbol, "Label"), f"{{{_OGC}}}PropertyName").text = column
    font = _put(symbol, "Font")
    _put(font, "CssParameter", "Arial", name="font-family")
    _put(font, "CssParameter", "10", name="font-size")
    point = _put(_put(symbol, "LabelPlacement"), "PointPlacement")
    apart = _put(point, "Displacement")
    _put(apart, "DisplacementX", "8")
    _put(apart, "DisplacementY", "4")
    halo = _put(symbol, "Halo")
    _put(halo, "Radius", "1")
    _put(_put(halo, "Fill"), "CssParameter", "#FFFFFF", name="fill")
    _put(_put(symbol, "Fill"), "CssParameter", _INK, name="fill")
    return symbol


def _line(colour: str, width: float, dash: str) -> ElementTree.Element:
    symbol = ElementTree.Element(f"{{{_SLD}}}LineSymbolizer")
    stroke = _put(symbol, "Stroke")
    _put(stroke, "CssParameter", colour, name="stroke")
    _put(stroke, "CssParameter", str(width), name="stroke-width")
    if dash:
        _put(stroke, "CssParameter", dash, name="stroke-dasharray")
    return symbol


def _area(colour: str, opacity: float) -> ElementTree.Element:
    symbol = ElementTree.Element(f"{{{_SLD}}}PolygonSymbolizer")
    fill = _put(symbol, "Fill")
    _put(fill, "CssParameter", colour, name="fill")
    _put(fill, "CssParameter", str(opacity), name="fill-opacity")
    return symbol


def _put(parent: ElementTree.Element, tag: str, text: str | None = None, **attributes: Any) -> ElementTree.Element:
    child = ElementTree.SubElement(parent, f"{{{_SLD}}}{tag}", attributes)
    child.text = text
    return child
