"""The arithmetic of growth, against numbers that were worked out by hand."""

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


def test_the_page_shows_the_arithmetic_and_says_what_was_not_run():
    rows = [{"shots": size, "parts": 2, "findings": 2 * size, "seconds": 10 + size / 1000, "own": 5.0,
             "asks": 2e8 + 1000 * size, "resident": 1e9, "worker": 1e9, "disk": 900 * size}
            for size in (10_000, 100_000)]  # fmt: skip
    text = page("Measured somewhere.\n", rows)
    assert "10 s + 1000 µs × 10,000,000 = 10,010 s | 2.8 | 0.20 GB + 1000 bytes × 10,000,000 = 10.2 GB | 9 GB" in text
    assert "**Nothing in this table was run.** It is the lines above, 100 and more times beyond" in text
