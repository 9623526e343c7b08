"""Pictures of the sample job's map for the documents: taken here, and small enough to be kept."""

import io
import os
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[3] / "docs"
LAPTOP = {"width": 1280, "height": 800}
PHONE = {"width": 390, "height": 780, "is_mobile": True, "has_touch": True}
PICTURES = ("map", "map_card", "map_profile", "map_section", "map_phone", "map_dark", "map_print")
LARGEST = 200_000
VIEW = """(view) => { const select = document.getElementById("profile-view");
select.value = view; select.dispatchEvent(new Event("change")); }"""


def first_item(page, text):
    page.locator("#list .item", has_text=text).first.click()
    page.wait_for_selector(".card")
    page.wait_for_timeout(900)


def card(page):
    first_item(page, "cross slope")


def profile(page):
    page.locator("#profile-button").click()
    first_item(page, "curb top")


def section(page):
    page.locator("#profile-button").click()
    page.evaluate(VIEW, "section")
    first_item(page, "curb top")


def phone(page):
    page.locator("#handle").click()
    page.wait_for_timeout(400)


def printed(page):
    page.emulate_media(media="print")
    page.evaluate("() => window.dispatchEvent(new Event('beforeprint'))")
    page.wait_for_timeout(300)


VIEWS = {
    "map": (LAPTOP, None),
    "map_card": (LAPTOP, card),
    "map_profile": (LAPTOP, profile),
    "map_section": (LAPTOP, section),
    "map_phone": (PHONE, phone),
    "map_dark": (LAPTOP | {"color_scheme": "dark"}, profile),
    "map_print": ({"width": 960, "height": 742}, printed),
}


def test_the_documents_hold_every_picture_and_none_is_large():
    for name in PICTURES:
        assert 10_000 < (DOCS / f"{name}.png").stat().st_size < LARGEST


@pytest.mark.browser
@pytest.mark.long
@pytest.mark.skipif(not os.environ.get("GEOQA_WRITE_DOCS"), reason="GEOQA_WRITE_DOCS=1 takes the pictures anew")
@pytest.mark.parametrize("name", PICTURES)
def test_take_a_picture(sample, show, name):
    options, work = VIEWS[name]
    opened = show(sample, **options)
    if work:
        work(opened.page)
    image = pytest.importorskip("PIL.Image").open(io.BytesIO(opened.page.screenshot())).convert("RGB")
    image.quantize(128, method=0, kmeans=2).save(DOCS / f"{name}.png", optimize=True)
    assert opened.requests == [opened.url]
    assert opened.messages == []
