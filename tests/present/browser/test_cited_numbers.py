"""Every item has the number it is cited by: in the list, when it is searched, and on paper."""

import re

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.long]


@pytest.fixture
def open_items(sample):
    """Numbers of items that are open, and their verdicts."""
    items = sample.layers["items"]
    return items.loc[items["state"] == "open"].set_index("item")["verdict"]


def numbers(texts):
    """Numbers among texts such as "17" and "Items 12, 14 · each says …"."""
    return {each for text in texts for each in re.findall(r"\d+", text.partition(" · ")[0])}


def test_the_list_shows_the_number_of_every_item(sample, show, open_items):
    page = show(sample).page
    alone = page.locator("#list > li > .item:not(.crowd) :is(.pin, .cited)").all_inner_texts()
    crowds = page.locator("#list > li > .crowd .item-check").all_inner_texts()
    assert numbers(alone) | numbers(text for text in crowds if text.startswith("Item")) == set(open_items.index)
    assert set(page.locator("#list > li > .item .cited").all_inner_texts()) <= set(
        open_items.index[open_items != "OUT"]
    )


@pytest.mark.parametrize("written", ["{}", "item {}", "Item{}", "#{}"])
def test_a_number_finds_its_item_before_all_else(sample, show, open_items, written):
    page = show(sample).page
    for item in open_items.index[:: 1 if written == "{}" else 9]:
        page.locator("#search").fill(written.format(item))
        assert page.locator(".result").first.inner_text().startswith(f"Item {item}: ")
    page.locator(".result").first.click()
    page.wait_for_selector(".card")
    told = page.locator(".card dt", has_text="Item").first.locator("xpath=following-sibling::dd[1]").inner_text()
    assert told == item


def test_paper_shows_the_number_of_every_item_and_no_uncertainty_of_what_was_not_measured(sample, show, open_items):
    page = show(sample).page
    page.emulate_media(media="print")
    page.evaluate("() => window.dispatchEvent(new Event('beforeprint'))")
    rows = [row.locator("td").all_inner_texts() for row in page.locator("#paper-list tr").all()]
    assert numbers(row[1] for row in rows) == set(open_items.index)
    assert not [row for row in rows if re.fullmatch(r"0(\.0+)?( %)?", row[6])]
