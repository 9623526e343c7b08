"""Text of anybody, in every field that takes text, through each page that a browser opens: shown, and never obeyed."""

import csv
import datetime
import json
import shutil

import pytest

from geoqa.job.day import DayFiles, day
from geoqa.job.run import run
from geoqa.review.decide import decide
from geoqa.review.round_files import write as write_round
from geoqa.review.rounds import compare
from tests.review.files_of_reviewers import save
from tests.review.job_of_four import write

pytestmark = [pytest.mark.browser, pytest.mark.long]

CORPUS = (
    "</script><script>window.harm = 1</script>",
    "<img src=x onerror='window.harm = 2'>",
    "<svg onload=window.harm=3><style>*{display:none}</style>",
    "\"'><iframe src=javascript:window.parent.harm=4>",
    "<!--<script> \\u003cscript\\u003e ${window.harm=5} {{7*7}} `x`",
    "<meta http-equiv=refresh content='0;url=http://example.invalid/'>",
    "<a href=http://example.invalid/>go</a> @import url(http://example.invalid/a.css);",
    "=HYPERLINK(\"http://example.invalid\") &lt;b&gt; &amp;#60;",
    "]]></title></textarea></svg><base href=http://example.invalid/>",
)  # fmt: skip
QUOTED = [json.dumps(each) for each in CORPUS]


def hostile(folder):
    """The job of four shots with that text in its head, its file of shots, its marks, its codes and its reasons."""
    job = write(folder)
    text = job.read_text("utf-8")
    for old, new in (
        ('name = "Four shots"', f"name = {QUOTED[0]}\nclient = {QUOTED[1]}\nrevision = {QUOTED[5]}"),
        ('reference = "sheet 7, note 3"', f"reference = {QUOTED[2]}"),
        ('reference = "repeat shots of our own"', f"reference = {QUOTED[4]}"),
        ('layers = ["csv", "summary"]\npages = []', 'layers = ["csv"]\npages = ["map", "report"]'),
    ):
        assert old in text
        text = text.replace(old, new)
    job.write_text(f"{text}[[edits]]\nwhat = {QUOTED[6]}\nwhy = {QUOTED[8]}\n", "utf-8")
    rows = list(csv.reader((folder / "log.csv").read_text("utf-8").splitlines()))
    names = iter(CORPUS[3:])
    for row in rows[1:]:
        row += [next(names), CORPUS[2]]
    rows[0] += ["note", "session"]
    rows[2][0], rows[2][5] = CORPUS[1], CORPUS[0]
    with (folder / "log.csv").open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows(rows)
    return job


@pytest.fixture(scope="module")
def delivered(tmp_path_factory):
    folder = tmp_path_factory.mktemp("hostile")
    job = hostile(folder)
    run(job)
    decide(
        job, [save(job, "a.json", CORPUS[7], {"V-2": "accept"}, facts={"job": {"name": CORPUS[0], "file": CORPUS[1]}})]
    )
    run(job)
    shutil.copytree(folder / "out", folder / "before")
    text = job.read_text("utf-8").replace('horizontal = "0.10 m"', 'horizontal = "0.20 m"')
    job.write_text(text.replace(f"client = {QUOTED[1]}", f"client = {QUOTED[3]}"), "utf-8")
    run(job)
    write_round(compare([folder / "before", folder / "out"]), folder / "changes")
    given = {
        role: folder / f"{name}.csv" for role, name in (("control", "marks"), ("codes", "codes"), ("design", "design"))
    }
    day(DayFiles(shots=folder / "log.csv", frame="EPSG:32614", **given), folder=folder / "day")
    return folder


@pytest.mark.parametrize("name", ["out/map.html", "out/report.html", "day/day.html", "changes/round.html"])
def test_a_page_shows_it_and_obeys_nothing_of_it(chromium, delivered, name):
    file = delivered / name
    context = chromium.new_context(viewport={"width": 1200, "height": 900})
    context.set_offline(True)
    page, asked, said = context.new_page(), [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(file.as_uri())
    if "map" in name:
        page.wait_for_selector("body[data-ready]")
        for item in page.locator("#list .item").all():
            item.click()
            page.wait_for_selector(".card")
    assert page.evaluate("window.harm") is None
    assert [url for url in asked if not url.startswith("data:")] == [file.as_uri()]
    assert said == []
    seen = page.evaluate("document.documentElement.innerText") + page.title()
    assert any(each.split("\n")[0] in seen for each in CORPUS)
    assert page.evaluate("document.querySelectorAll('iframe, img[src=x], base, meta[http-equiv=refresh]').length") == 0
    assert page.evaluate("getComputedStyle(document.body).display") != "none"
    context.close()


def test_a_file_of_decisions_keeps_it_as_text(delivered):
    register = json.loads((delivered / "four.decisions.json").read_text("utf-8"))
    assert [each["by"] for each in register["opinions"]] == [CORPUS[7]]
    assert datetime.date.fromisoformat(register["opinions"][0]["when"][:10])
