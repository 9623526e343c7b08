"""Colours of the pages against their paper: text 4.5 to 1, signs and lines that carry meaning 3 to 1.

WCAG 2.2, success criteria 1.4.3 and 1.4.11, with the relative luminance of its glossary.
"""

import re
from pathlib import Path

import numpy as np
import pytest

import geoqa
from geoqa.model.signs import SIGNS

PRESENT = Path(geoqa.__file__).parent / "present"
TEXT = {"ink", "soft", "more", "out", "undecided", "in", "none"}
SIGN = re.compile(r"sign-\w+|lacks|c\d|spread|fitted|told-edge|now-edge|focus|edge")


def looks(path):
    """Colours of a page by their names, light and dark."""
    blocks = re.findall(r":root[^{]*\{([^}]*--paper[^}]*)\}", (PRESENT / path).read_text("utf-8"))
    assert len(blocks) == 2
    return [dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6}|#[0-9a-f]{3})\b", block)) for block in blocks]


def luminance(colour):
    digits = colour.lstrip("#")
    digits = "".join(2 * each for each in digits) if len(digits) == 3 else digits
    part = np.array([int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)])
    return float(np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4) @ [0.2126, 0.7152, 0.0722])


def ratio(one, other):
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_ratio_of_black_and_white_is_21_and_of_a_published_grey_4_and_a_half():
    # WCAG 2.2, glossary: from 1 to 21; #767676 on white is the lightest grey that passes, from memory
    assert ratio("#000", "#fff") == pytest.approx(21)
    assert ratio("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize(
    "path", ["report/static/report.css", "tilt/static/tilt.css", "day/day.css", "map/static/page.css"]
)
def test_words_and_signs_stand_out_from_their_paper(path):
    for look in looks(path):
        found = {name: ratio(colour, look["paper"]) for name, colour in look.items()}
        words = {name: value for name, value in found.items() if name in TEXT}
        signs = {name: value for name, value in found.items() if SIGN.fullmatch(name)}
        assert {name: value for name, value in words.items() if value < 4.5} == {}
        assert {name: value for name, value in signs.items() if value < 3.0} == {}
        assert len(words) >= 2


def test_the_signs_of_verdicts_stand_out_from_white():
    assert min(ratio(sign.colour.lower(), "#ffffff") for sign in SIGNS.values()) >= 3.0
