"""Results on an ordinary map of the web library, by longitude and latitude, beside what others draw on it.

To look at, never to measure: the places have gone through an operation that is good to metres where it leaves the
job's datum, and the map's own projection keeps no length.
"""

from collections.abc import Iterable, Sequence
from html import escape
from typing import Any

import folium
import numpy as np
import shapely

from geoqa.errors import LayerError
from geoqa.frames.moving.lonlat import to_lonlat
from geoqa.frames.moving.operations import Operation
from geoqa.model.results import Results
from geoqa.model.signs import Sign
from geoqa.present.map.job_map import Plain
from geoqa.present.notebook.markers import (
    DECIMALS,
    NOT_ASKED,
    SIGNS_SHOWN,
    Group,
    groups,
    operation_of,
    refuse_unknown_kinds,
)

DEEPEST = 24
"""Zoom at which a shot and the design beside it come apart."""

_SHAPES = {
    "triangle": '<path d="M7 1 13 12H1Z" {}/>',
    "diamond": '<path d="M7 1 13 7 7 13 1 7Z" {}/>',
    "cross": '<path d="M2 2 12 12M12 2 2 12" stroke="{colour}" stroke-width="3" fill="none"/>',
    "square": '<path d="M4 4h6v6H4Z" {}/>',
}
"""Drawn on 14 by 14; a circle is drawn by the map itself, which is quicker where there are thousands."""
_PAPER = "<style>.leaflet-container{background:#fbfbf9}</style>"
_LINE = {"color": "#374151", "weight": 2, "opacity": 0.8}


def web_map(results: Results, *, tiles: Any = None, attr: str | None = None, kinds: Sequence[str] | None = None) -> Any:
    """Draw results on a map.

    Parameters
    ----------
    results : Results
    tiles : str, provider or folium.TileLayer, optional
        What lies underneath; without, nothing.
    attr : str, optional
        Whose tiles they are, where an address is given.
    kinds : sequence of str, optional
        Only lines, shots and findings of these kinds.

    Returns
    -------
    folium.Map

    Raises
    ------
    FrameError
        There is no known operation to longitude and latitude.
    LayerError
        No such kind; or nothing has a place.
    """
    refuse_unknown_kinds(results, kinds)
    operation = operation_of(results.layers.frame)
    lines = _lines(results, kinds)
    markers, missing = groups(results, kinds)
    bounds = _bounds(lines, markers)
    shown = folium.Map(tiles=None, prefer_canvas=True)
    shown.options.update(max_zoom=DEEPEST)
    if tiles is not None:
        shown.add_child(_underneath(tiles, attr))
    for kind, features in sorted(lines.items()):
        shown.add_child(_line_group(kind, features))
    for group in markers:
        shown.add_child(_marker_group(group))
    folium.LayerControl(collapsed=True).add_to(shown)
    shown.fit_bounds(bounds, padding=(24, 24), max_zoom=20)
    about = _about(results, operation, markers, missing)
    root: Any = shown.get_root()
    root.html.add_child(Plain(about if tiles is not None else _PAPER + about), name="about")
    return shown


def _underneath(tiles: Any, attr: str | None) -> Any:
    if isinstance(tiles, folium.raster_layers.Layer):
        return tiles
    made = folium.TileLayer(tiles, attr=attr)
    made.options["max_zoom"] = DEEPEST  # beyond their own, tiles are enlarged
    return made


def _lines(results: Results, kinds: Sequence[str] | None) -> dict[str, list[dict[str, Any]]]:
    """Design lines as GeoJSON, by kind."""
    made: dict[str, list[dict[str, Any]]] = {}
    if "design_lines" not in results.layers:
        return made
    table = results.layers["design_lines"]
    frame = results.layers.frame
    vertices, row = shapely.get_coordinates(table.geometry.to_numpy(), return_index=True)
    lonlat = np.round(np.column_stack(to_lonlat(frame, vertices[:, 0], vertices[:, 1])), DECIMALS)
    for number, (name, kind) in enumerate(zip(table["line"], table["kind"], strict=True)):
        place = lonlat[row == number]
        if (kinds is not None and kind not in kinds) or not len(place) or not np.isfinite(place).all():
            continue
        text = escape(f"{name}, {kind}: design line")
        made.setdefault(kind, []).append(
            {
                "type": "Feature",
                "geometry": {"type": "LineString", "coordinates": place.tolist()},
                "properties": {"title": text, "card": f"<b>{text}</b>"},
            }
        )
    return made


def _bounds(lines: dict[str, list[dict[str, Any]]], markers: Sequence[Group]) -> list[list[float]]:
    """South-west and north-east corner of all that is drawn, latitude first."""
    features = [each for several in lines.values() for each in several]
    features += [each for group in markers for each in group.features]
    if not features:
        raise LayerError("Nothing of these results has a place that can be shown on a map.")
    place = np.vstack([np.atleast_2d(each["geometry"]["coordinates"]) for each in features])
    return [place.min(axis=0)[::-1].tolist(), place.max(axis=0)[::-1].tolist()]


def _line_group(kind: str, features: Iterable[dict[str, Any]]) -> folium.FeatureGroup:
    group = folium.FeatureGroup(name=f"― {escape(kind)}: design")
    group.add_child(_geojson(features, style_function=lambda feature: _LINE))
    return group


def _marker_group(group: Group) -> folium.FeatureGroup:
    shown = folium.FeatureGroup(name=group.name)
    shown.add_child(_geojson(group.features, marker=_marker(group.sign)))
    return shown


def _marker(sign: Sign) -> Any:
    if sign.shape == "circle":
        return folium.CircleMarker(radius=4, color="#fff", weight=1, fill=True, fill_color=sign.colour, fill_opacity=1)
    drawing = f'<svg width="14" height="14" viewBox="0 0 14 14" aria-label="{sign.text}">{shape(sign)}</svg>'
    return folium.Marker(
        z_index_offset=-10_000 * sign.order,  # the worst lies on top
        icon=folium.DivIcon(html=drawing, icon_size=(14, 14), icon_anchor=(7, 7), class_name="geoqa-sign"),
    )


def shape(sign: Sign) -> str:
    """SVG of a sign, 14 by 14.

    Examples
    --------
    >>> from geoqa.model.signs import SIGNS
    >>> shape(SIGNS["UNDECIDED"])
    '<path d="M7 1 13 7 7 13 1 7Z" fill="#C27400" stroke="#fff"/>'
    """
    drawing = _SHAPES.get(sign.shape, '<circle cx="7" cy="7" r="5" {}/>')
    return drawing.format(f'fill="{sign.colour}" stroke="#fff"', colour=sign.colour)


def _geojson(features: Iterable[dict[str, Any]], **how: Any) -> folium.GeoJson:
    """Features with the card that opens on a click and the title under the pointer; both are escaped already."""
    return folium.GeoJson(
        {"type": "FeatureCollection", "features": list(features)},
        popup=folium.GeoJsonPopup(fields=["card"], labels=False, max_width=640),
        tooltip=folium.GeoJsonTooltip(fields=["title"], labels=False),
        **how,
    )


def _about(results: Results, operation: Operation, markers: Sequence[Group], missing: int) -> str:
    """What the signs mean, with their counts, and how the places came here."""
    counts = {sign.order: 0 for sign in SIGNS_SHOWN}
    for group in markers:
        counts[group.sign.order] += len(group.features)
    rows = "".join(
        f'<div><svg width="14" height="14">{shape(sign)}</svg> {counts[sign.order]} {sign.text}</div>'
        for sign in SIGNS_SHOWN
        if sign is not NOT_ASKED or counts[sign.order]
    )
    lost = f"<div>{missing} have no place and are not shown.</div>" if missing else ""
    way = f"{operation.source} to {operation.target} by {operation.description}, good to {operation.accuracy:g} m"
    return (
        '<div style="position:absolute;left:10px;bottom:24px;z-index:1000;max-width:300px;padding:6px 8px;'
        'background:#fff;border:1px solid #999;font:12px/1.4 sans-serif;pointer-events:none">'
        f"<b>{escape(results.title.name)}</b>{rows}{lost}"
        f'<div style="color:#4B5563">To look at, never to measure: {escape(way)}.</div></div>'
    )
