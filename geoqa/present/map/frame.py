"""The page around the map: built by folium, with every script and style inside the file.

Nothing is fetched when the page opens. folium makes the page and starts Leaflet in the job's
grid (no projection, one map unit is one foot or metre of the grid); its links to other hosts are
left out, Leaflet comes from the installed package, and its styles ask for no picture.
"""

import base64
import re
import zlib
from html import escape
from importlib import resources

from geoqa.errors import OutputError
from geoqa.present.map.scripts import joined

STATIC = resources.files("geoqa.present.map") / "static"
STYLES = (
    "page.css", "panel.css", "list.css", "popup.css", "decide.css", "map.css", "profile.css", "phone.css", "print.css",
)  # fmt: skip
START = "start.js"
"""The script that a page begins with; the others are there because it, or one of them, imports them."""
UNFOLD = "unfold.js"
"""The small script that unfolds the others, which a page holds deflated."""
PICTURE = "background.js"
"""Begun with as well, only in pages that hold a picture."""
DIFFERENCE = "difference.js"
"""The same for the difference of two surfaces, which is drawn over that picture."""


def page(*, title: str, about: str, payload: str, background: str = "", difference: str = "") -> str:
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
    difference : str
        The same of the difference of two surfaces.

    Returns
    -------
    str
        HTML; the same text for the same arguments.
    """
    from geoqa.present.map.job_map import rendered

    return rendered(title=escape(title), body=static("page.html"), head=_head(about, payload, background, difference))


def _head(about: str, payload: str, background: str, difference: str) -> list[tuple[str, str]]:
    parts = [("leaflet_style", _style(leaflet("leaflet.css")))]
    parts += [(name, _style(static(name))) for name in STYLES]
    begun = [name for name, held in ((PICTURE, background), (DIFFERENCE, difference)) if held]
    parts.append(("scripts", _folded("\n".join([_bare_leaflet(), joined(static, [*begun, START])]))))
    parts.append(("unfold", _script("{\n" + joined(static, [UNFOLD]) + "\n}")))
    parts.append(("about", _data("geoqa-about", "application/json", about)))
    parts.append(("payload", _data("geoqa-payload", "text/plain", payload)))
    if background:
        parts.append(("background", _data("geoqa-background", "text/plain", background)))
    if difference:
        parts.append(("difference", _data("geoqa-difference", "text/plain", difference)))
    return parts


def static(name: str) -> str:
    """One of the page's own files."""
    return (STATIC / name).read_text(encoding="utf-8")


def leaflet(name: str) -> str:
    """One of Leaflet's files, from the package that carries them."""
    try:
        held = resources.files("js_lib_leaflet") / "static" / "js_lib_leaflet" / name
    except ModuleNotFoundError as error:
        raise OutputError(
            "The map needs Leaflet from the package django-js-lib-leaflet, which is not installed; "
            "run pip install django-js-lib-leaflet."
        ) from error
    return held.read_text(encoding="utf-8")


def _bare_leaflet() -> str:
    """Leaflet's script without the line that names a file beside it."""
    return re.sub(r"//# sourceMappingURL=\S+\s*$", "", leaflet("leaflet.js"))


def bare_style(text: str) -> str:
    r"""A style sheet without comments and indents, and without pictures, for none of Leaflet's is shown.

    Parameters
    ----------
    text : str
        A style sheet.

    Examples
    --------
    >>> bare_style("/* marks */\na {\n  background-image: url(images/layers.png);\n}\n")
    'a {\nbackground-image: none;\n}'
    """
    text = re.sub(r"/\*.*?\*/", "", text, flags=re.DOTALL)
    text = re.sub(r"url\([^)]*\.png\)", "none", text)
    return "\n".join(line.strip() for line in text.splitlines() if line.strip())


def _folded(text: str) -> str:
    """Scripts, deflated and as base64, for `UNFOLD`; their text is to be read in the files of this package."""
    data = text.encode("utf-8")
    squeezed = zlib.compressobj(9, zlib.DEFLATED, -15, 9)
    packed = base64.b64encode(squeezed.compress(data) + squeezed.flush()).decode("ascii")
    return f'<script type="text/plain" id="geoqa-code" data-size="{len(data)}">{packed}</script>'


def unfolded(page_text: str) -> str:
    """The scripts of a written page, as they run.

    Parameters
    ----------
    page_text : str
        HTML of a page.
    """
    found = re.search(r'id="geoqa-code" data-size="\d+">([^<]+)<', page_text)
    return zlib.decompress(base64.b64decode(found[1]), -15).decode("utf-8") if found else ""


def _script(text: str) -> str:
    return "<script>\n" + re.sub(r"</(?=script)", r"<\\/", text, flags=re.IGNORECASE) + "\n</script>"


def _style(text: str) -> str:
    return "<style>\n" + bare_style(text) + "\n</style>"


def _data(name: str, media: str, text: str) -> str:
    """Data for the scripts; nothing in it can end the element or start another."""
    safe = text.replace("<", "\\u003c") if media == "application/json" else text
    return f'<script type="{media}" id="{name}">{safe}</script>'
