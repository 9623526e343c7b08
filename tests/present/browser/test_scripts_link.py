"""What the scripts are as modules, the page has joined: a browser's own linker is the judge."""

import pytest

from geoqa.present.map import frame
from geoqa.present.map.scripts import ordered

pytestmark = pytest.mark.browser

HOST = "http://scripts.test/"


def test_a_browser_links_the_scripts_as_modules_and_sees_the_names_that_the_page_has(street, show):
    """The scripts come from this process; the browser has no network to ask."""
    opened = show(street)
    names = [script.name for script in ordered(frame.static, [frame.START])]
    in_page = opened.page.evaluate(
        "() => Object.fromEntries(Object.entries(geoqa).map(([name, exports]) => [name, Object.keys(exports).sort()]))"
    )
    assert sorted(in_page) == sorted(name.removesuffix(".js") for name in names)

    def serve(route):
        name = route.request.url.removeprefix(HOST)
        if name:
            route.fulfill(body=frame.static(name), content_type="text/javascript")
        else:
            route.fulfill(body=f"<script>{frame.leaflet('leaflet.js')}</script>", content_type="text/html")

    page = opened.page
    page.route(f"{HOST}**", serve)
    page.goto(HOST)
    linked = page.evaluate(
        """async (names) => { const all = {};
        for (const name of names) all[name.slice(0, -3)] = Object.keys(await import(`./${name}`)).sort();
        return all; }""",
        names,
    )
    assert linked == in_page
