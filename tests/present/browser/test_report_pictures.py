"""Pictures of the sample job's report on paper, and of a page of what changed, for the documents."""

import io
import os
import shutil
from pathlib import Path

import pytest

from geoqa.job.run import run
from geoqa.present.report.page import ReportPage
from geoqa.review.round_files import PAGE
from geoqa.review.round_files import write as write_round
from geoqa.review.rounds import compare
from tests.review.job_in_feet import write
from tests.review.job_of_rounds import LOW, STATIONS, curb, valves

DOCS = Path(__file__).parents[3] / "docs"
PAPER = {"width": 816, "height": 1056}
"""A letter page, 96 to the inch."""
MARGINS = "main { padding: 72px 67px !important; }"
ANCHORS = {"report": "", "report_metadata": "metadata", "report_kinds": "kinds", "report_red_lines": "red-lines"}
"""Picture, and the chapter whose first page it shows."""
PICTURES = (*ANCHORS, "round")
LARGEST = 160_000


def test_the_documents_hold_every_picture_and_none_is_large():
    for name in PICTURES:
        assert 10_000 < (DOCS / f"{name}.png").stat().st_size < LARGEST
    assert sum(each.stat().st_size for each in DOCS.glob("*.png")) < 1_500_000


def keep(name, content):
    image = pytest.importorskip("PIL.Image").open(io.BytesIO(content)).convert("RGB")
    image.quantize(64, method=1).save(DOCS / f"{name}.png", optimize=True)


needed = pytest.mark.skipif(not os.environ.get("GEOQA_WRITE_DOCS"), reason="GEOQA_WRITE_DOCS=1 takes the pictures anew")


@pytest.fixture
def paper(chromium):
    """Open a page as it stands on letter paper."""
    context = chromium.new_context(viewport=PAPER)
    context.set_offline(True)

    def opened(file):
        page = context.new_page()
        page.goto(file.as_uri())
        page.emulate_media(media="print")
        return page

    yield opened
    context.close()


@pytest.mark.browser
@pytest.mark.long
@needed
def test_take_pictures_of_the_report(sample, paper, tmp_path):
    ReportPage().write(sample, tmp_path)
    page = paper(tmp_path / "report.html")
    page.add_style_tag(content=MARGINS)
    for name, anchor in ANCHORS.items():
        top = page.locator(f"#{anchor}").bounding_box()["y"] - 6 if anchor else 0
        keep(name, page.screenshot(full_page=True, clip={"x": 0, "y": top, **PAPER}))


@pytest.mark.browser
@pytest.mark.long
@needed
def test_take_a_picture_of_a_round(paper, tmp_path):
    old = curb([each for each in STATIONS if each not in (*LOW, 90)], first=100)
    rounds = (
        {"day1.csv": curb(STATIONS, first=100, low=LOW) + valves(first=200, off=("V-2", "V-3"))},
        {"kept.csv": old + valves(first=200, off=("V-3",), names=("V-1", "V-3")),
         "again.csv": curb((*LOW, 90), first=300) + valves(first=400, names=("V-2",))},
        {"kept.csv": old + valves(first=200, off=("V-3",), names=("V-1", "V-3")),
         "third.csv": curb((*LOW, 90), first=300) + valves(first=500, off=("V-2",), names=("V-2",))},
    )  # fmt: skip
    for nth, files in enumerate(rounds, start=1):
        job = write(tmp_path / f"job{nth}", files)
        if nth > 1:
            shutil.copytree(tmp_path / f"round {nth - 1}", job.parent / "out")
        run(job)
        shutil.copytree(job.parent / "out", tmp_path / f"round {nth}")
    write_round(compare([tmp_path / f"round {nth}" for nth in (1, 2, 3)]), tmp_path)
    page = paper(tmp_path / PAGE)
    page.add_style_tag(content="body { padding: 48px !important; }")
    keep("round", page.screenshot(full_page=True))
