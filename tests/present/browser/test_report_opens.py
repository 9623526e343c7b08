"""The report in a real browser: offline, in one file, no wider than a phone."""

import pytest

from geoqa.present.report.page import ReportPage

pytestmark = [pytest.mark.browser, pytest.mark.long]


@pytest.mark.parametrize("width", [390, 1280])
def test_it_asks_for_nothing_says_nothing_and_fits(chromium, street, tmp_path, width):
    ReportPage().write(street, tmp_path)
    context = chromium.new_context(viewport={"width": width, "height": 800})
    context.set_offline(True)
    page, asked, said = context.new_page(), [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto((tmp_path / "report.html").as_uri())
    assert asked == [(tmp_path / "report.html").as_uri()]
    assert said == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    for anchor in page.eval_on_selector_all("nav a", "all => all.map((each) => each.getAttribute('href'))"):
        assert page.locator(anchor).count() == 1
    context.close()
