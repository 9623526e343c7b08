"""Decisions of two reviewers come back: applied, in conflict, stale, tampered, foreign, and taken back."""

import csv
import json
from datetime import UTC, datetime

import pytest
from click.testing import CliRunner

from geoqa.cli import main
from geoqa.cli.worst import worst
from geoqa.errors import JobError
from geoqa.job.decided import change_path, read_register, register_path
from geoqa.job.run import run
from geoqa.review.decide import decide, take_back
from tests.review.files_of_reviewers import EVENING, MORNING, item_of, record_of, save

NOW = datetime(2026, 5, 21, 8, 0, tzinfo=UTC)


def said(outcome):
    return {each.item: each.decision for each in outcome.standing}


def change_of(job, **facts):
    """A record as if the run after the reviewer looked had judged otherwise."""
    record = record_of(job)
    for row in record["items"]:
        row |= facts.get(row["subject"].replace("-", "_"), {})
    (job.parent / "out" / "record.json").write_text(json.dumps(record), "utf-8")


@pytest.mark.long
def test_two_reviewers_what_they_agree_on_holds_and_their_conflict_is_listed_in_either_order(decided_on):
    job = decided_on
    one, two, three = (item_of(job, name) for name in ("V-1", "V-2", "V-3"))
    first = save(job, "a.json", "A. Reviewer", {"V-1": "accept", "V-2": "re-measure", "V-3": "accept"})
    second = save(job, "b.json", "B. Reviewer", {"V-1": "accept", "V-3": "fix"}, when=EVENING)
    outcomes, registers = [], []
    for files in ((first, second), (second, first)):
        outcomes.append(decide(job, files, now=NOW))
        registers.append(register_path(job).read_bytes())
        register_path(job).unlink()
    for found in outcomes:
        assert said(found) == {one: "accept", two: "re-measure"}
        assert [sorted((each.by, each.decision) for each in mine) for mine in found.conflicts] == [
            [("A. Reviewer", "accept"), ("B. Reviewer", "fix")]
        ]
        assert {mine[0].item for mine in found.conflicts} == {three}
    assert registers[0] == registers[1]  # nothing wins by order


def test_a_conflict_stays_one_although_the_files_come_days_apart_and_ends_when_they_agree(decided_on):
    job = decided_on
    (number,) = {item_of(job, "V-3")}
    decide(job, [save(job, "a.json", "A. Reviewer", {"V-3": "accept"})])
    assert not said(decide(job, [save(job, "b.json", "B. Reviewer", {"V-3": "fix"})]))
    agreed = decide(job, [save(job, "b2.json", "b.  reviewer", {"V-3": "accept"}, when=EVENING)])
    assert said(agreed) == {number: "accept"}
    late = decide(job, [save(job, "b.json", "B. Reviewer", {"V-3": "fix"})])  # the old file again
    assert "decided later on the same item" in late.refused[0].why
    assert said(late) == {number: "accept"}


def test_one_reviewer_who_says_two_things_at_one_moment_is_asked_again(decided_on):
    files = [save(decided_on, f"{name}.json", "A", {"V-1": name}) for name in ("accept", "fix")]
    for pair in (files, files[::-1]):
        found = decide(decided_on, pair)
        assert not found.standing
        assert [each.item for each in found.refused] == [item_of(decided_on, "V-1")] * 2


def test_the_same_file_twice_is_said_and_changes_nothing(decided_on):
    file = save(decided_on, "a.json", "A", {"V-1": "fix"})
    decide(decided_on, [file], now=NOW)
    before = register_path(decided_on).read_bytes()
    found = decide(decided_on, [file])
    assert (found.applied, found.again) == ((), 1)
    assert register_path(decided_on).read_bytes() == before


@pytest.mark.parametrize("spoil", [("accept", "fix"), ("A. Reviewer", "B. Reviewer"), (MORNING, EVENING)])
def test_a_file_that_was_changed_by_hand_is_refused_whole_and_the_others_are_applied(decided_on, spoil):
    bad = save(decided_on, "a.json", "A. Reviewer", {"V-1": "accept", "V-2": "fix"})
    bad.write_text(bad.read_text("utf-8").replace(*spoil, 1), "utf-8")
    good = save(decided_on, "b.json", "C", {"V-3": "fix"})
    found = decide(decided_on, [bad, good])
    assert [(each.file, each.item) for each in found.refused] == [("a.json", "")]
    assert "not as it was saved" in found.refused[0].why
    assert said(found) == {item_of(decided_on, "V-3"): "fix"}
    assert [each.did for each in read_register(decided_on).log] == ["applied", "refused"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "no file of decisions"),
        ("[" * 100_000, "no file of decisions"),
        ('{"format": "geoqa decision file", "version": 2}', "of version 2"),
        ('{"format": "geoqa decision file", "version": 1}', "not as it was saved"),
        ('{"format": "geoqa decision file", "version": 1, "check": "x", "a": "\\ud800"}', "not as it was saved"),
    ],
)
def test_what_is_no_such_file_is_refused_with_what_it_lacks(decided_on, text, told):
    path = decided_on.parent / "x.json"
    path.write_text(text, "utf-8")
    assert told in decide(decided_on, [path]).refused[0].why


@pytest.mark.parametrize(
    "facts",
    [
        {"decision": "approve"},
        {"item": "0"},
        {"item": "../1"},
        {"by": "  "},
        {"when": "2026-13-01T00:00:00Z"},
        {"note": "x" * 2001},
        {"change": [{"point": "V-1", "easting": "1e9"}]},
        {"more": "than there is"},
    ],
)
def test_a_field_that_is_none_of_ours_refuses_its_file_with_the_place(decided_on, facts):
    whole = json.loads(save(decided_on, "a.json", "A", {"V-1": "accept"}).read_text("utf-8"))
    path = save(decided_on, "a.json", "A", {}, facts={"decisions": [whole["decisions"][0] | facts]})
    (refused,) = decide(decided_on, [path]).refused
    assert f"decisions.1.{next(iter(facts))}" in refused.why


def test_a_file_of_another_job_and_one_of_a_run_nobody_knows_are_told_apart(decided_on):
    elsewhere = {"job": {"name": "Elsewhere", "file": "e.toml"}, "run": "0" * 24}
    other = save(decided_on, "o.json", "A", {"V-1": "fix"}, facts=elsewhere)
    strange = save(decided_on, "s.json", "A", {"V-1": "fix"}, facts={"run": "0" * 24})
    found = decide(decided_on, [other, strange])
    assert not found.standing
    assert "of another job, 'Elsewhere'" in found.refused[0].why
    assert "a run that out does not know" in found.refused[1].why


@pytest.mark.long
def test_a_decision_on_what_changed_since_is_refused_with_what_was_and_what_is_and_the_others_hold(decided_on):
    job = decided_on
    file = save(job, "a.json", "A", {"V-1": "accept", "V-2": "accept", "V-3": "accept"})
    numbers = {name: item_of(job, name) for name in ("V-1", "V-2", "V-3")}
    log = job.parent / "log.csv"
    text = log.read_text("utf-8").replace("500010.604", "500010.804").replace("500030.501", "500030.001")
    log.write_text(text, "utf-8")
    run(job)
    found = decide(job, [file])
    why = {each.item: each.why for each in found.refused}
    assert "0.604 m away" in why[numbers["V-1"]]
    assert "now OUT valve V-1: position 0.804 m away" in why[numbers["V-1"]]
    assert "not listed any more" in why[numbers["V-3"]]
    assert said(found) == {numbers["V-2"]: "accept"}


@pytest.mark.long
def test_the_next_run_shows_what_holds_without_a_name_and_says_what_no_longer_does(decided_on):
    job = decided_on
    decide(job, [save(job, "a.json", "Pat Reviewer", {"V-1": "accept", "V-2": "fix", "V-3": "accept"})])
    decide(job, [save(job, "b.json", "Lee Checker", {"V-3": "fix"})])
    log = job.parent / "log.csv"
    log.write_text(log.read_text("utf-8").replace("500010.604", "500010.804"), "utf-8")
    results = run(job)
    rows = {row["subject"]: row for row in csv.DictReader((job.parent / "out" / "findings.csv").open(encoding="utf-8"))}
    assert {name: rows[name]["decision"] for name in ("V-1", "V-2", "V-3")} == {"V-1": "", "V-2": "fix", "V-3": ""}
    told = "\n".join(results.notes)
    assert f"no longer holds, for what it was about has changed since: item {item_of(job, 'V-1')} (accept" in told
    assert f"Reviewers disagree on 1 item: item {item_of(job, 'V-3')} (accept / fix)" in told
    told = worst(results, job.parent / "out")
    assert [line.strip() for line in told.splitlines() if "decided" in line] == ["decided: to be fixed"]
    for path in (job.parent / "out").iterdir():
        assert b"Reviewer" not in path.read_bytes().replace(b"Reviewers disagree", b"")
        assert b"Checker" not in path.read_bytes()
    assert CliRunner().invoke(main, ["verify", str(job.parent / "out")]).exit_code == 0


@pytest.mark.long
def test_a_field_change_with_coordinates_becomes_a_dated_overlay_and_is_withdrawn_when_taken_back(decided_on):
    job = decided_on
    design = (job.parent / "design.csv").read_bytes()
    moved = {"V-2": ("field-change", [{"point": "V-2", "easting": "500020.350"}])}
    number = item_of(job, "V-2")
    found = decide(job, [save(job, "a.json", "A", moved)])
    (name,) = found.changed
    assert (job.parent / name).read_text("utf-8").splitlines()[1] == "V-2,valve,500020.350,4500010,100.2"
    after = run(job)
    mine = after.findings[(after.findings["subject"] == "V-2") & (after.findings["check"] == "position")]
    assert sorted(mine["verdict"]) == ["IN", "OUT"]  # against the change, and against the design before
    assert after.layers["field_changes"][["name", "dated"]].to_numpy().tolist() == [["V-2", "2026-05-20"]]
    assert (job.parent / "design.csv").read_bytes() == design
    assert "no longer holds" not in "".join(after.notes)
    (job.parent / name).rename(job.parent / "elsewhere.csv")
    with pytest.raises(JobError, match=f"--take-back {number}"):
        run(job)
    take_back(job, number)
    assert item_of(job, "V-2") == number
    assert run(job).findings.set_index("subject").loc["V-2", "verdict"] == "OUT"


@pytest.mark.long
def test_what_is_decided_on_the_changed_design_leaves_the_change_in_force_and_a_conflict_withdraws_it(decided_on):
    job = decided_on
    moved = {"V-2": ("field-change", [{"point": "V-2", "easting": "500020.100"}])}
    file = save(job, "a.json", "A", moved)
    decide(job, [file])
    place = change_path(job, item_of(job, "V-2"))
    disagrees = save(job, "b.json", "B", {"V-2": "fix"})
    decide(job, [disagrees])
    assert not place.exists()
    take_back(job, item_of(job, "V-2"), by="B")
    decide(job, [file])
    change_of(job, V_2={"seen": "f" * 16})  # as the run against the change judges it
    assert place.exists()
    assert said(decide(job, [save(job, "c.json", "A", {"V-2": "accept"}, when=EVENING)])) == {
        item_of(job, "V-2"): "accept"
    }
    assert place.exists()
    assert len(read_register(job).changes) == 1


@pytest.mark.long
def test_a_field_change_without_coordinates_asks_for_its_drawing_and_one_of_no_point_is_refused(decided_on):
    job = decided_on
    found = decide(job, [save(job, "a.json", "A", {"V-2": "field-change"})])
    assert found.lacking == (item_of(job, "V-2"),)
    with pytest.raises(JobError, match="'V-9', which is no point of the design"):
        decide(job, [save(job, "b.json", "A", {"V-1": ("field-change", [{"point": "V-9", "easting": "1"}])})])
    both = {name: ("field-change", [{"point": "V-3", "elevation": "99.5"}]) for name in ("V-1", "V-3")}
    with pytest.raises(JobError, match=r"'V-3' is changed by item \d already.*Nothing was applied.*on one of the two"):
        decide(job, [save(job, "c.json", "A", both)])
    assert not list(job.parent.glob("*.field_change_*"))


def test_what_one_reviewer_said_is_taken_back_alone_and_logged(decided_on):
    job = decided_on
    number = item_of(job, "V-1")
    decide(job, [save(job, "a.json", "A", {"V-1": "accept"}), save(job, "b.json", "B", {"V-1": "fix"})])
    assert [each.by for each in take_back(job, number, by="b", now=NOW)] == ["B"]
    assert said(decide(job, [])) == {number: "accept"}
    assert read_register(job).log[-1].model_dump(include={"at", "did", "by"}) == {
        "at": "2026-05-21T08:00:00Z", "did": "taken back", "by": "B",
    }  # fmt: skip
    with pytest.raises(JobError, match=f"Nothing was decided on item 77. Decided on are items: {number}"):
        take_back(job, "77")


def test_a_register_changed_by_hand_is_refused(decided_on):
    decide(decided_on, [save(decided_on, "a.json", "A", {"V-1": "accept"})])
    place = register_path(decided_on)
    place.write_text(place.read_text("utf-8").replace('"accept"', '"fix"'), "utf-8")
    with pytest.raises(JobError, match=r"four\.decisions\.json, the register of decisions on four\.toml, was changed"):
        decide(decided_on, [])


def test_the_command_says_what_it_did_and_ends_by_what_does_not_hold(decided_on):
    job = decided_on
    ask = lambda *names: CliRunner().invoke(main, ["decide", str(job), *map(str, names)])  # noqa: E731
    hostile = save(job, "a.json", "A\x1b[31m <b>", {"V-1": "accept"})
    told = ask(hostile)
    assert told.exit_code == 0
    assert f"item {item_of(job, 'V-1')}: accept" in told.output
    assert "\x1b" not in ask(save(job, "b.json", "B\x1b[0m", {"V-1": "fix"})).output
    assert ask().exit_code == 1
    assert ask(job.parent / "none.json").exit_code == 3
    assert ask("--by", "A").exit_code == 2
