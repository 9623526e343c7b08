"""Rounds with a known difference: closed, reopened, new, untouched, in part, not measured, and files sent again."""

import json
import shutil

import pytest
from click.testing import CliRunner

from geoqa.cli import main
from geoqa.errors import OutputError
from geoqa.job import run
from geoqa.review.round_files import write as write_files
from geoqa.review.round_lines import lines
from geoqa.review.rounds import compare
from tests.review.job_of_rounds import LOW, STATIONS, curb, valves, write

pytestmark = pytest.mark.long

SOUND = tuple(each for each in STATIONS if each not in LOW)
KEPT = tuple(each for each in SOUND if each != 90)
FIRST = {"day1.csv": curb(STATIONS, first=100, low=LOW) + valves(first=200, off=("V-2", "V-3"))}
OLD = curb(KEPT, first=100) + valves(first=200, off=("V-3",), names=("V-1", "V-3"))
REWORK = curb((*LOW, 90), first=300) + valves(first=400, names=("V-2",))
SECOND = {"day1_kept.csv": OLD, "round2.csv": REWORK}


@pytest.fixture(scope="module")
def first(tmp_path_factory):
    folder = tmp_path_factory.mktemp("rounds") / "r1"
    run(write(folder, FIRST))
    return folder


@pytest.fixture(scope="module")
def second(first):
    """The next round, made where the first one was, so that its numbers go on."""
    return after(first, "r2", SECOND)


def after(before, name, files, *, keep=True, **options):
    folder = before.parent / name
    shutil.copytree(before, folder)
    if not keep:
        shutil.rmtree(folder / "out")
    run(write(folder, files, **options))
    return folder


def outs(*folders):
    return [folder / "out" for folder in folders]


def by_subject(found):
    return {each.subject: each for each in found.threads}


def test_what_was_rebuilt_is_closed_and_the_neighbour_that_was_not_shot_is_named(first, second):
    found = compare(outs(first, second))
    items = by_subject(found)
    assert {name: each.state for name, each in items.items()} == {"V-2": "closed", "C-1": "closed", "V-3": "open"}
    assert items["C-1"].neighbours == ("curb, 0+40.50",)  # 0+90.50 was shot again
    assert items["V-2"].neighbours == ()
    assert items["V-3"].untouched
    assert (found.new_shots, found.same) == (6, found.numbers)
    assert found.register_kept


def test_three_rounds_tell_their_history_and_a_defect_that_came_back_keeps_its_number(first, second):
    files = {
        "day1_kept.csv": curb(KEPT, first=100) + valves(first=200, names=("V-1",)),
        "again.csv": REWORK,
        "round3.csv": valves(first=500, off=("V-2",), names=("V-2", "V-3")),
    }
    third = after(second, "r3", files)
    found = compare(outs(first, second, third))
    items = by_subject(found)
    assert items["V-2"].history == ("OUT", "closed", "OUT")
    assert items["V-3"].history == ("OUT", "OUT", "closed")
    assert items["C-1"].history == ("OUT", "closed", "closed")
    assert items["V-2"].state == "reopened"
    numbers = {
        row["subject"]: row["item"] for row in json.loads((first / "out/record.json").read_text("utf-8"))["items"]
    }
    assert {name: each.item for name, each in items.items()} == numbers
    assert found.files[0] == "again.csv is round2.csv of r2/out again, byte for byte: it holds nothing new."
    # the round before alone knows that it was listed once
    assert by_subject(compare(outs(second, third)))["V-2"].state == "reopened"


def test_a_round_that_holds_a_part_closes_nothing_it_did_not_measure(first):
    part = after(first, "part", {"round2.csv": valves(first=400)}, keep=False)
    items = by_subject(compare(outs(first, part)))
    assert (items["V-2"].state, items["V-3"].state) == ("closed", "closed")
    assert items["C-1"].state == "not-measured"
    assert not any(each.state == "new" for each in items.values())


def test_rework_shot_in_part_stays_open_and_rework_that_failed_is_still_open(first):
    half = {"day1.csv": curb(SOUND, first=100) + valves(first=200), "r.csv": curb(LOW[:2], first=300)}
    found = by_subject(compare(outs(first, after(first, "half", half))))
    assert (found["C-1"].state, found["C-1"].why) == (
        "partly",
        "2 of 4 places measured again and within; the rest was not measured",
    )
    still = {"day1.csv": curb(SOUND, first=100) + valves(first=200), "r.csv": curb(LOW, first=300, low=LOW, by=0.09)}
    found = by_subject(compare(outs(first, after(first, "still", still))))
    assert (found["C-1"].state, found["C-1"].why) == ("open", "measured again")
    assert found["C-1"].item == "3"


def test_what_another_limit_closes_says_that_nothing_was_shot(first):
    found = by_subject(compare(outs(first, after(first, "limit", FIRST, limit="0.15"))))
    assert (found["C-1"].state, found["C-1"].why) == (
        "closed",
        "within, by no new shot: limits, settings or control have changed",
    )
    assert found["V-2"].untouched


def test_where_the_register_was_lost_items_are_known_by_place_and_that_is_said(first):
    moved = {"x.csv": FIRST["day1.csv"].replace(",V-3\n", ",V-3\n9,500200.5,4500000.3,100.0,CRB,C1\n")}
    found = compare(outs(first, after(first, "lost", moved, keep=False)))
    items = by_subject(found)
    assert not found.register_kept
    assert items["V-2"].by == items["V-3"].by == "place"
    assert any("does not go on from the numbers" in line for line in lines(found))


def test_the_package_of_layers_serves_as_well_as_delimited_text(first, second):
    text = compare(outs(first, second))
    package = after(second, "gpkg", SECOND, layers="gpkg")
    (package / "out" / "findings.csv").unlink()
    (package / "out" / "shots.csv").unlink()
    found = compare(outs(first, package))
    assert [(each.item, each.state, each.neighbours) for each in found.threads] == [
        (each.item, each.state, each.neighbours) for each in text.threads
    ]


def test_two_systems_and_a_folder_without_tables_are_refused(first, tmp_path):
    other = tmp_path / "out"
    shutil.copytree(first / "out", other)
    facts = json.loads((other / "record.json").read_text("utf-8"))
    facts["frame"]["unit"] = "ft"
    (other / "record.json").write_text(json.dumps(facts), "utf-8")
    with pytest.raises(OutputError, match="numbers of two systems are not compared"):
        compare([first / "out", other])
    (other / "shots.csv").unlink()
    with pytest.raises(OutputError, match=r'holds neither shots.csv nor checked.gpkg: add "csv" or "gpkg"'):
        compare([first / "out", other])


def test_the_command_writes_table_and_page_and_ends_by_what_is_open(first, second):
    told = CliRunner().invoke(main, ["compare", *map(str, outs(first, second))])
    assert told.exit_code == 1
    assert "its neighbour was not shot again: curb, 0+40.50" in told.output
    made = second / "out-changes"
    before = {path.name: path.read_bytes() for path in made.iterdir()}
    assert set(before) == {"round.csv", "round.json", "round.html"}
    write_files(compare(outs(first, second)), made)
    assert {path.name: path.read_bytes() for path in made.iterdir()} == before  # the same bytes
    same = CliRunner().invoke(main, ["compare", "--quiet", "--out", str(made), *map(str, outs(second, second))])
    assert same.output.startswith("1 still open, untouched.")
    assert CliRunner().invoke(main, ["compare", str(first / "out")]).exit_code == 2
