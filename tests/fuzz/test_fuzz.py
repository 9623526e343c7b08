"""Ten thousand bad inputs: each is refused in words, told of, or read as it stands; no traceback, no end missing."""

from pathlib import Path

import pytest

from bench.cores import on_every_core
from bench.extent import WRITES, extent
from fuzz import campaign
from fuzz.outcome import NEVER
from fuzz.page import page

PAGE = Path(__file__).resolve().parents[2] / "docs" / "fuzz.md"


@pytest.mark.score
@pytest.mark.timeout(7200)
def test_no_bad_input_ends_in_a_crash_a_hang_or_a_silent_difference():
    parts = campaign.parts()
    found = list(zip((name for name, _, _ in parts), on_every_core(campaign.outcomes, parts), strict=True))
    counts = campaign.counted(found)
    wrong = [each for _, ends in found for each in ends if each.end in NEVER]
    total = sum(sum(each.values()) for each in counts.values())
    print(
        f"\n{total:,} bad inputs: " + ", ".join(f"{sum(c[end] for c in counts.values())} {end}" for end in campaign.End)
    )
    assert not wrong, f"{len(wrong)} of {total}, the first:\n" + "\n".join(
        f"{e.end}: {e.case}\n  {e.words}" for e in wrong[:12]
    )
    assert total >= extent(10_000, of_a_change=500)
    if WRITES:
        PAGE.write_text(page(counts, drawn=sum(count for _, _, count in parts)), encoding="utf-8", newline="\n")
