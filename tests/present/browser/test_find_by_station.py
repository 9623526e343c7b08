"""The map finds shots by their station beside the baseline, on either side of it or on one."""

from dataclasses import replace

import pandas as pd
import pytest

from geoqa.model.tables.layer import Layers

pytestmark = [pytest.mark.browser, pytest.mark.long]


def test_a_station_and_a_side_find_the_nearest_shots(street, show):
    shots = street.layers["shots"]
    said = [f"{12 + n // 4}+{n % 4 * 25:02d}.00, 18.21 ft {'left' if n % 2 else 'right'}" for n in range(len(shots))]
    said[2] = "12+51.00, on the line"
    said[3] = "beyond the baseline"
    tables = {**dict(street.layers), "shots": shots.assign(baseline_place=pd.Series(said, index=shots.index))}
    opened = show(replace(street, layers=Layers(tables, frame=street.layers.frame)))

    def found(query):
        opened.page.locator("#search").fill(query)
        texts = opened.page.locator(".result").all_inner_texts()
        return [text.split("baseline ")[1] for text in texts if "baseline " in text]

    assert found("12+50")[0].startswith("12+51.00, on the line")
    left, right = found("12+50 L"), found("12+50 right")
    assert len(left) == len(right) == 4
    assert left[0].startswith("12+51.00, on the line")
    assert left[1].startswith("12+25.00, 18.21 ft left")
    assert right[1].startswith("12+00.00, 18.21 ft right")
    assert not any("right" in each for each in left)
    opened.page.locator("#search").fill("12+25 l")
    first = opened.page.locator(".result").first
    name = first.inner_text().split(",")[0]
    first.click()
    opened.page.wait_for_selector(".card")
    assert opened.page.locator(".card").inner_text().startswith(name)
    assert opened.messages == []
