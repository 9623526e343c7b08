"""The page and the tables of a season: what they say, offline, escaped, the same every time."""

import csv
import re

import pytest

from batch.seasons import jobs_table, season_of
from geoqa.batch.season.make import make_season
from geoqa.batch.written import TABLES, write_season
from geoqa.errors import OutputError
from geoqa.model import words
from geoqa.present.season.page import headline, page

HOSTILE = "</script><script>window.harm = 1</script><img src=x onerror='window.harm = 2'> \u2028 \u202e & \"quoted\""


def planted(**options):
    made = season_of(2, moved=(2, 6, 0.05), rods={"R2": 0.06})
    return make_season(made, jobs_table(made, refused=[("bad/job.toml", "there is no file shots.csv")]), **options)


@pytest.mark.long
def test_the_work_stands_first_and_what_was_found_is_said():
    found = planted()
    said = headline(found)
    assert said.startswith("Of 120 numbers of the work 40 % are proven within tolerance, 10 % proven out")
    assert "1 mark moved: CP-3." in said
    assert "1 receiver measured otherwise than the others: R2." in said
    text = page(found)
    assert re.findall(r"</span> ([^<]+)</h2>", text)[:3] == [
        "The work, by owner and kind", "Jobs that were refused", "Marks that moved",
    ]  # fmt: skip
    assert "CP-3 moved 0.0" in text
    assert "ft down" in text
    assert "a rod that is longer than is entered for it" in text
    assert "there is no file shots.csv" in text
    assert words.PRELIMINARY in text
    assert words.CERTIFICATION in text


def test_where_nothing_is_found_it_says_so_and_how_near_the_nearest_came():
    made = season_of(7)
    text = page(make_season(made, jobs_table(made)))
    assert "None is proven to have moved. The nearest is CP-" in text
    assert "No mark is proven to have moved, and no receiver" in text


def test_a_season_of_nothing_has_a_page():
    text = page(make_season([], jobs_table([], refused=[("a", "no")])))
    assert "No number of the work was judged" in text


@pytest.mark.long
def test_the_page_fetches_nothing_and_is_the_same_every_time():
    text = page(planted())
    assert not re.search(r"(?:src|href)\s*=|url\(|@import", text)
    assert "default-src 'none'" in text
    assert text == page(planted())


@pytest.mark.long
def test_crews_are_not_named_unless_asked_for():
    made = [(label, told, table.assign(crew="crew of Ann")) for label, told, table in season_of(1, jobs=4)]
    assert "Ann" not in page(make_season(made, jobs_table(made)))
    assert "crew of Ann" in page(make_season(made, jobs_table(made), crews=True))


@pytest.mark.long
def test_what_files_hold_is_shown_and_never_obeyed(tmp_path):
    cause = {"cause": "rod", "title": "Rod", "subject": HOSTILE, "shots": 1, "receivers": [HOSTILE]}
    made = season_of(2, moved=(2, 6, 0.08), receivers=(HOSTILE, "=1+1"), owner=HOSTILE, causes=[cause])
    for _, told, table in made:
        told["work"][0]["kind"] = HOSTILE
        table["mark"] = table["mark"].replace("CP-3", HOSTILE)
        table["session"] = HOSTILE + table["session"]
    made = [(HOSTILE + label, told, table.assign(crew=HOSTILE)) for label, told, table in made]
    jobs = jobs_table(made, refused=[(HOSTILE, HOSTILE)]).assign(name=HOSTILE)
    found = make_season(made, jobs, crews=True, others=(HOSTILE,))
    text = page(found)
    assert "<script" not in text
    assert "<img" not in text
    assert "\u2028" not in text
    assert "\u202e" not in text
    write_season(found, tmp_path)
    for name in TABLES:
        with (tmp_path / name).open(encoding="utf-8", newline="") as stream:
            cells = [cell for row in csv.reader(stream) for cell in row]
        assert cells
        assert not any(cell.startswith(("=", "@", "+")) and not cell[1:2].isdigit() for cell in cells), name


@pytest.mark.long
def test_tables_hold_every_number_and_a_small_chance_stays_what_it_is(tmp_path):
    found = planted()
    files = [each.name for each in write_season(found, tmp_path)]
    assert files == [*TABLES, "season.html"]
    with (tmp_path / "marks.csv").open(encoding="utf-8", newline="") as stream:
        rows = [row for row in csv.DictReader(stream) if row["state"] == "moved"]
    [row] = rows
    assert 0.0 < float(row["p"]) < 1e-6
    assert float(row["size"]) == pytest.approx(found.marks["size"][found.marks["state"] == "moved"].iloc[0], abs=1e-6)


def test_a_table_that_cannot_be_written_is_named(tmp_path):
    (tmp_path / "marks.csv").mkdir()
    with pytest.raises(OutputError, match=r"marks\.csv of .* cannot be written.*runs none of them twice"):
        write_season(planted(), tmp_path)


@pytest.mark.browser
@pytest.mark.long
def test_a_browser_finds_nothing_against_it_on_a_laptop_a_phone_and_paper(chromium, tmp_path):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-core is not installed").Axe()
    write_season(planted(), tmp_path)
    for width in (1280, 390):
        context = chromium.new_context(viewport={"width": width, "height": 844})
        context.set_offline(True)
        asked = []
        shown = context.new_page()
        shown.on("request", lambda request, asked=asked: asked.append(request.url))
        shown.goto((tmp_path / "season.html").as_uri())
        bad = [
            each["id"] for each in axe.run(shown).response["violations"] if each["impact"] in ("serious", "critical")
        ]
        assert bad == []
        assert shown.evaluate("() => document.documentElement.scrollWidth") <= width
        assert len(asked) == 1
        if width == 1280:
            assert shown.pdf(prefer_css_page_size=True).startswith(b"%PDF")
        context.close()
