"""Rounds with a known difference: closed, reopened, new, untouched, in part, not measured, and files sent again."""

import json
import shutil

import pytest
from click.testing import CliRunner

from geoqa.cli import main
from geoqa.errors import OutputError
from geoqa.job.run import run
from geoqa.review.again import Again
from geoqa.review.round_files import write as write_files
from geoqa.review.round_lines import lines
from geoqa.review.rounds import _judged, compare
from tests.review.job_of_rounds import LOW, STATIONS, curb, valves, write

SOUND = tuple(each for each in STATIONS if each not in LOW)
KEPT = tuple(each for each in SOUND if each != 90)
FIRST = {"day1.csv": curb(STATIONS, first=100, low=LOW) + valves(first=200, off=("V-2", "V-3"))}
OLD = curb(KEPT, first=100) + valves(first=200, off=("V-3",), names=("V-1", "V-3"))
REWORK, MOVED = curb((*LOW, 90), first=300), valves(first=400, names=("V-2",))
SECOND = {"day1_kept.csv": OLD, "round2.csv": REWORK, "moved.csv": MOVED}


IN, OUT, UNDECIDED, WAITS, NONE = "IN", "OUT", "UNDECIDED", "NO_DATA", ""


@pytest.mark.parametrize(
    ("verdicts", "shot", "state", "why"),
    [
        ((IN, IN, IN), 3, "closed", "within at 3 places, each with a new shot"),
        ((IN, IN, IN), 2, "closed", "within at 3 places, 2 of 3 with a new shot"),
        ((IN, IN), 0, "closed", "within, by no new shot: limits, settings or control have changed"),
        ((IN, IN, NONE, NONE), 2, "partly", "2 of 4 places judged again and within; the rest was not"),
        ((NONE, NONE), 0, "not-judged", "nothing of it was measured in this round: what was found stands"),
        ((WAITS,), 1, "not-judged", "it was measured in this round and could not be judged: what was found stands"),
        ((IN, OUT, NONE), 3, "open", "1 of 3 places still out"),
        ((IN, UNDECIDED, NONE), 3, "open", "1 of 3 places within; the rest cannot be decided now"),
        ((UNDECIDED,), 1, "open", "cannot be decided now"),
    ],
)
def test_closed_is_said_only_where_every_place_was_judged_again_and_is_within(verdicts, shot, state, why):
    assert _judged(Again(places=len(verdicts), verdicts=verdicts, shot=shot, rows=())) == (state, why)


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


@pytest.mark.long
def test_what_was_rebuilt_is_closed_and_the_neighbour_that_was_not_shot_is_named(first, second):
    found = compare(outs(first, second))
    items = by_subject(found)
    assert {name: each.state for name, each in items.items()} == {"V-2": "closed", "C-1": "closed", "V-3": "open"}
    assert items["C-1"].neighbours == ("curb, 0+40.50",)  # 0+90.50 was shot again
    assert items["V-2"].neighbours == ()
    assert items["V-3"].untouched
    assert (found.new_shots, found.same) == (6, found.numbers)
    assert found.register_kept


@pytest.mark.long
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
    assert items["V-2"].by == "number"
    # the round before alone knows that it was listed once
    assert by_subject(compare(outs(second, third)))["V-2"].state == "reopened"


@pytest.mark.long
def test_a_closed_place_whose_shots_differ_now_is_open_again(first, second):
    files = {**SECOND, "round3.csv": valves(first=500, off=("V-2",), names=("V-2",))}
    found = by_subject(compare(outs(first, second, after(second, "differ", files))))
    assert [each.state for each in (found["C-1"], found["V-3"])] == ["closed", "open"]
    places = [each for each in compare(outs(first, second, second.parent / "differ")).threads if each.subject == "V-2"]
    assert {each.state for each in places} == {"reopened", "new"}  # the place, and the question its shots put
    assert {each.why for each in places if each.state == "reopened"} == {"cannot be decided now"}


@pytest.mark.long
def test_a_part_closes_nothing_it_did_not_measure_and_without_a_register_items_are_known_by_place(first):
    part = after(first, "part", {"round2.csv": valves(first=400, off=("V-3",))}, keep=False)
    found = compare(outs(first, part))
    items = by_subject(found)
    assert {name: each.state for name, each in items.items()} == {"V-2": "closed", "V-3": "open", "C-1": "not-judged"}
    assert items["V-3"].by == "place"
    assert not found.register_kept
    assert any("does not go on from the numbers" in line for line in lines(found))


@pytest.mark.long
def test_the_package_of_layers_serves_as_well_as_delimited_text(first, second):
    text = compare(outs(first, second))
    package = after(second, "gpkg", SECOND, layers="gpkg")
    (package / "out" / "findings.csv").unlink()
    (package / "out" / "shots.csv").unlink()
    found = compare(outs(first, package))
    assert [(each.item, each.state, each.neighbours) for each in found.threads] == [
        (each.item, each.state, each.neighbours) for each in text.threads
    ]
    folder = package / "out"
    (folder / "audit.gpkg").rename(folder / "kept.gpkg")
    with pytest.raises(OutputError, match=r"holds neither .*\.csv nor audit\.gpkg"):  # what a desk gets is not all
        compare(outs(first, package))
    (folder / "kept.gpkg").rename(folder / "checked.gpkg")  # as an older geoqa left it
    assert len(compare(outs(first, package)).threads) == len(text.threads)


@pytest.mark.long
def test_two_systems_and_a_folder_without_tables_are_refused(first, tmp_path):
    other = tmp_path / "out"
    shutil.copytree(first / "out", other)
    facts = json.loads((other / "record.json").read_text("utf-8"))
    facts["frame"]["unit"] = "ft"
    (other / "record.json").write_text(json.dumps(facts), "utf-8")
    with pytest.raises(OutputError, match="numbers of two systems are not compared"):
        compare([first / "out", other])
    (other / "shots.csv").unlink()
    with pytest.raises(OutputError, match=r'holds neither shots.csv nor audit.gpkg: add "csv" or "gpkg"'):
        compare([first / "out", other])


@pytest.mark.long
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
