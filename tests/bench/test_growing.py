"""The arithmetic of growth, against numbers that were worked out by hand."""

import json
from pathlib import Path

import pytest

from bench.growing import line_of, page


def test_a_line_is_found_again_and_its_exponent_is_that_of_the_two_largest():
    made = line_of([1e4, 2e4, 4e4], [3.0, 5.0, 9.0])
    assert (made.fixed, made.each, made.off) == pytest.approx((1.0, 2e-4, 0.0))
    assert made.exponent == pytest.approx(0.8479969)  # log2(9 / 5)


def test_what_grows_as_the_square_is_off_the_line_and_has_an_exponent_of_two():
    made = line_of([1.0, 2.0, 4.0], [1.0, 4.0, 16.0])
    assert made.off > 0.2
    assert made.exponent == pytest.approx(2.0)


def rows(*sizes, more=0.0):
    return [{"shots": size, "parts": 2, "findings": 2 * size, "seconds": 10 + (1 + more) * size / 1000, "own": 5.0,
             "asks": 2e8 + 1000 * size, "resident": 1e9, "worker": 1e9, "disk": 900 * size, "disk_most": 2000 * size}
            for size in sizes]  # fmt: skip


def test_the_page_shows_the_arithmetic_and_says_what_was_not_run():
    text = page("Measured somewhere.\n", rows(10_000, 100_000))
    assert (
        "10 s + 1000 µs × 10,000,000 = 10,010 s | 2.8 | 0.20 GB + 1000 bytes × 10,000,000 = 10.2 GB | 9 GB | 20 GB |"
        in text
    )
    assert "**Nothing in this table was run.** It is lines through the sizes above, 100 and more times beyond" in text
    assert "Measured once" not in text


def test_what_was_measured_once_stands_beside_what_the_lines_of_the_others_said():
    more = {"read": 50.0, "write": 150.0, "date": "2026-01-02", "commit": "0123456789ab", "machine": "Elsewhere.\n"}
    once = [row | more for row in rows(10_000_000, more=0.1)]
    text = page("Measured somewhere.\n", rows(10_000, 100_000), once)
    assert "| 10,000,000 | 2 | 20,000,000 | 11,010 s | 10,010 s | 5 s | 10.20 GB | 10.20 GB |" in text
    assert "| 10,000,000 | 50 s | 150 s | 200 s | 55.0 | 1101 µs | 2026-01-02 | 0123456789ab |" in text
    assert "10,000,000 shots: Elsewhere." in text
    assert "10,000,000 =" not in text.replace("100,000,000 =", "")  # what was run is no paper
    assert "It is lines through all sizes above, 10 and more times beyond" in text


def test_the_page_is_made_of_what_was_kept_and_of_nothing_else():
    tests = Path(__file__).parents[1]
    kept = json.loads((tests / "benchmarks" / "growth.json").read_text("utf-8"))
    made = page(kept["every"]["machine"], kept["every"]["rows"], kept["once"])
    assert (tests.parent / "docs" / "growth.md").read_text("utf-8") == made
