"""Photos on the card of a shot: links to files beside the map, small copies in it, names that try to be markup."""

from dataclasses import replace

import pytest

from geoqa.model.photos import Photos
from geoqa.model.tables.layer import Layers
from geoqa.read.photo import PhotoFile

pytestmark = [pytest.mark.browser, pytest.mark.long]

HOSTILE = '"><img src=x onerror="window.harm = 1">.jpg'
SEEN = """() => Array.from(document.querySelectorAll(".photo"), (each) => ({ href: each.href, text: each.textContent,
rel: each.rel, wide: each.querySelector("img")?.naturalWidth ?? 0 }))"""


def with_photos(results, photos):
    shots = results.layers["shots"].assign(photo=None)
    shots.loc[shots["shot"] == "C2", "photo"] = f"a b.jpg; {HOSTILE}; gone.jpg"
    layers = Layers({**dict(results.layers), "shots": shots.astype({"photo": "str"})}, frame=results.layers.frame)
    return replace(results, layers=layers, photos=photos)


def card(page):
    page.locator("#search").fill("c2")
    page.locator(".result", has_text="Shot C2control").first.click()
    page.wait_for_selector(".card")
    page.locator(".card details").evaluate_all("all => all.forEach((each) => { each.open = true; })")
    return page.locator(".card")


@pytest.fixture
def photo(tmp_path):
    image = pytest.importorskip("PIL.Image", reason="Pillow is not installed")
    (tmp_path / "photos").mkdir()
    path = tmp_path / "photos" / "a b.jpg"
    image.new("RGB", (400, 200), (30, 90, 160)).save(path)
    return path


def test_a_photo_is_linked_and_small_and_its_name_is_never_markup(street, show, tmp_path, photo):
    small = {"a b.jpg": PhotoFile().small(photo, side=160), HOSTILE: b"", "of another shot.jpg": b"never held"}
    opened = show(with_photos(street, Photos(folder="photos/", small=small)))
    text = card(opened.page).inner_text()
    first, second = opened.page.evaluate(SEEN)
    assert first == {"href": photo.as_uri(), "text": "a b.jpg", "rel": "noopener", "wide": 160}
    assert second["text"] == HOSTILE
    assert second["wide"] == 0
    assert opened.page.evaluate("() => window.harm") is None
    assert "gone.jpg (not among the photos)" in text
    assert "of another shot" not in (tmp_path / "map.html").read_text("utf-8")
    assert opened.requests == [opened.url]
    assert opened.messages == []


def test_without_a_folder_of_photos_their_names_are_told(street, show):
    opened = show(with_photos(street, None))
    assert HOSTILE in card(opened.page).inner_text()
    assert opened.page.evaluate(SEEN) == []
    assert opened.page.evaluate("() => window.harm") is None
