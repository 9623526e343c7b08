"""The page around the map: built by folium, with every script and style inside the file.

Nothing is fetched when the page opens. folium makes the page and starts Leaflet in the job's
grid (no projection, one map unit is one foot or metre of the grid); its links to other hosts are
left out, Leaflet comes from the installed package, and pictures in styles become data.
"""

import base64
import re
from html import escape
from importlib import resources
from typing import Any

from geoqa.errors import OutputError

STYLES = ("page.css", "panel.css", "list.css", "popup.css", "map.css", "phone.css", "print.css")
SCRIPTS = (
    "begin.js",
    "inflate.js",
    "unpack.js",
    "sha256.js",
    "words.js",
    "records.js",
    "choice.js",
    "glyph.js",
    "icon.js",
    "view.js",
    "background.js",
    "linework.js",
    "thin.js",
    "shots.js",
    "grid.js",
    "canvas.js",
    "hit.js",
    "strip.js",
    "card.js",
    "taken.js",
    "whereabouts.js",
    "popup.js",
    "fly.js",
    "pins.js",
    "close.js",
    "list.js",
    "legend.js",
    "search.js",
    "readout.js",
    "title.js",
    "sheet.js",
    "paper.js",
    "pointer.js",
    "start.js",
)
"""In the order they run; each holds one idea."""
PICTURE_SCRIPTS = ("background.js",)
"""Only in pages that hold a picture."""

MAP = """
{% macro header(this, kwargs) %}
<meta name="viewport" content="width=device-width, initial-scale=1" />
<script>L_NO_TOUCH = false; L_DISABLE_3D = false;</script>
{% endmacro %}
{% macro html(this, kwargs) %}{{ this.body }}{% endmacro %}
{% macro script(this, kwargs) %}
geoqa.start(L.map("map", {crs: L.CRS.{{ this.crs }}, ...{{ this.options|tojavascript }}}));
{% endmacro %}
"""
"""How folium writes this map: our page body, and Leaflet started in it."""


def page(*, title: str, about: str, payload: str, background: str = "") -> str:
    """Write the whole page.

    Parameters
    ----------
    title : str
        Title of the page, plain text.
    about : str
        JSON of words and directory.
    payload : str
        Base64 of the packed columns.
    background : str
        Base64 of the picture under the map; without one, nothing of it is in the page.

    Returns
    -------
    str
        HTML; the same text for the same arguments.
    """
    import folium
    from branca.element import Element
    from folium.template import Template

    drawn = folium.Map(location=[0, 0], tiles=None, crs="Simple", zoom_start=0, zoom_control=False)
    drawn.default_js, drawn.default_css = [], []
    drawn._template = Template(MAP)
    drawn.body = static("page.html")
    drawn.options.update(
        min_zoom=-14,
        max_zoom=11,
        zoom_snap=0.25,
        zoom_delta=1,
        wheel_px_per_zoom_level=90,
        attribution_control=False,
        bounce_at_zoom_limits=False,
        fade_animation=False,
    )
    figure = drawn.get_root()
    figure.title = escape(title)
    for name, text in _head(about, payload, background):
        figure.header.add_child(_plain(Element, text), name=name)
    for count, element in enumerate(_walk(figure)):
        element._id = f"{count:04d}"
    return str(figure.render())


def _head(about: str, payload: str, background: str) -> list[tuple[str, str]]:
    parts = [("leaflet_style", _style(_with_pictures(leaflet("leaflet.css")))), ("leaflet", _script(_bare_leaflet()))]
    parts += [(name, _style(static(name))) for name in STYLES]
    scripts = SCRIPTS if background else tuple(name for name in SCRIPTS if name not in PICTURE_SCRIPTS)
    parts += [(name, _script(static(name))) for name in scripts]
    parts.append(("about", _data("geoqa-about", "application/json", about)))
    parts.append(("payload", _data("geoqa-payload", "text/plain", payload)))
    if background:
        parts.append(("background", _data("geoqa-background", "text/plain", background)))
    return parts


def _plain(element: Any, text: str) -> Any:
    """An element whose text is not read as a template."""
    made = element("{{ this.text }}")
    made.text = text
    return made


def _walk(element: Any) -> Any:
    """All elements of a page, each once, in the order they are written."""
    yield element
    for name in ("header", "html", "script"):
        if (part := getattr(element, name, None)) is not None and hasattr(part, "_children"):
            yield from _walk(part)
    for child in element._children.values():
        yield from _walk(child)


def static(name: str) -> str:
    """One of the page's own files."""
    return (resources.files("geoqa.present.map") / "static" / name).read_text(encoding="utf-8")


def leaflet(name: str) -> str:
    """One of Leaflet's files, from the package that carries them."""
    return _leaflet_file(name).read_text(encoding="utf-8")


def _leaflet_file(name: str) -> Any:
    try:
        return resources.files("js_lib_leaflet") / "static" / "js_lib_leaflet" / name
    except ModuleNotFoundError as error:
        raise OutputError(
            "The map needs Leaflet from the package django-js-lib-leaflet, which is not installed; "
            "run pip install django-js-lib-leaflet."
        ) from error


def _bare_leaflet() -> str:
    """Leaflet's script without the line that names a file beside it."""
    return re.sub(r"//# sourceMappingURL=\S+\s*$", "", leaflet("leaflet.js"))


def _with_pictures(style: str) -> str:
    """Pictures of a style sheet as data, so that no file beside the page is asked for."""

    def picture(match: re.Match[str]) -> str:
        data = base64.b64encode(_leaflet_file(match[1]).read_bytes()).decode("ascii")
        return f"url(data:image/png;base64,{data})"

    return re.sub(r"url\((images/[\w.-]+\.png)\)", picture, style)


def _script(text: str) -> str:
    return "<script>\n" + re.sub(r"</(?=script)", r"<\\/", text, flags=re.IGNORECASE) + "\n</script>"


def _style(text: str) -> str:
    return "<style>\n" + text + "\n</style>"


def _data(name: str, media: str, text: str) -> str:
    """Data for the scripts; nothing in it can end the element or start another."""
    safe = text.replace("<", "\\u003c") if media == "application/json" else text
    return f'<script type="{media}" id="{name}">{safe}</script>'
