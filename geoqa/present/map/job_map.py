"""The job's map as folium writes it: our page body, and Leaflet started in the job's grid."""

from collections.abc import Iterable

import folium
from branca.element import Element, Figure
from folium.template import Template


def rendered(*, title: str, body: str, head: Iterable[tuple[str, str]]) -> str:
    """Write a page with the map in it.

    Parameters
    ----------
    title, body : str
        Title of the page and what it shows, both HTML.
    head : iterable of (str, str)
        Names and HTML of the parts of its head, in order.

    Returns
    -------
    str
        HTML; the same for the same arguments.

    Examples
    --------
    >>> page = rendered(title="A &amp; B", body='<div id="map"></div>', head=[("style", "<style></style>")])
    >>> '<div id="map"></div>' in page, "<style></style>" in page, "https://" in page
    (True, True, False)
    """
    figure = Figure(title=title)
    figure.add_child(JobMap(body))
    for name, text in head:
        figure.header.add_child(Plain(text), name=name)
    return str(figure.render())


class JobMap(folium.Map):
    """A map without projection, background tiles or links to other hosts.

    Parameters
    ----------
    body : str
        HTML of the page around the map, which has a place `map` for it.
    """

    _template = Template("""
{% macro header(this, kwargs) %}
<meta name="viewport" content="width=device-width, initial-scale=1" />
<script>L_NO_TOUCH = false; L_DISABLE_3D = false;</script>
{% endmacro %}
{% macro html(this, kwargs) %}{{ this.body }}{% endmacro %}
{% macro script(this, kwargs) %}
geoqa.start.open(L.map("map", {crs: L.CRS.{{ this.crs }}, ...{{ this.options|tojavascript }}}));
{% endmacro %}
""")

    def __init__(self, body: str) -> None:
        super().__init__(
            location=[0, 0],
            tiles=None,
            crs="Simple",
            zoom_start=0,
            zoom_control=False,
            zoom_snap=0.25,
            zoom_delta=1,
            wheel_px_per_zoom_level=90,
            attribution_control=False,
            bounce_at_zoom_limits=False,
            fade_animation=False,
        )
        # as arguments these two would be limits of the tiles, of which there are none
        self.options.update(min_zoom=-14, max_zoom=11)
        self.default_js, self.default_css = [], []
        self.body = body


class Plain(Element):
    """A part of a page whose text is not read as a template.

    Parameters
    ----------
    text : str
        HTML.
    """

    _template = Template("{{ this.text }}")

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text
