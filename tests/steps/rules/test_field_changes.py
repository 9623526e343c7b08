"""Approved changes of the design: judged against them, and both verdicts kept."""

import pandas as pd
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.model.tables.columns import conform
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.positions import Positions
from geoqa.steps.rules.field_changes import FieldChanges

WORDS = "Field change 2, approved by the engineer"


def changes(*rows):
    told = [
        {"name": name, "table": table, "source": "change", "before": before, "words": WORDS, "dated": "2026-04-30"}
        for name, table, before in rows
    ]
    return conform("field_changes", pd.DataFrame(told))


def moved_point(job):
    """A rim moved 3 ft: the change has it where it was built, the design before does not."""
    now, before = (job.design(points={"MH-2 rim": ("rim", offset, 50.0, 100.0)}) for offset in (3.0, 0.0))
    now["design_points"]["source"] = "change"
    old = before["design_points"].drop(columns="geometry", errors="ignore")
    shots = job.prepared(job.shots([{"offset": 3.0, "station": 50.0, "code": "RIM"}]), kind="rim")
    layers = job.layers(
        shots=shots, limits=job.limits(("rim", "position", float("-inf"), 0.2), ("rim", "elevation", -0.1, 0.1)),
        field_changes=changes(("MH-2 rim", "design_points", "design"), ("MH-9 rim", "design_points", None)),
        replaced_points=conform("replaced_points", old), **now,
    )  # fmt: skip
    return job.run(layers, MatchPoints(), Positions(), FieldChanges())


def test_the_verdict_before_is_kept_under_the_one_that_counts(job):
    findings = moved_point(job)["findings"]
    place = findings[findings["check"] == "position"].set_index("against")
    assert place["verdict"].to_dict() == {"job; change": "IN", "job; design": "OUT"}
    assert place.loc["job; design", "deviation"] == pytest.approx(3.0)
    assert place.loc["job; design", "run"] == place.loc["job; change", "finding"]
    assert place.loc["job; design", "cause"].endswith(f"{WORDS}, 2026-04-30")
    assert findings["finding"].is_unique


def test_one_sentence_says_what_is_replaced_added_and_turned(job):
    (line,) = note_lines(moved_point(job)["notes"], "ft", only=("field-change",))
    assert line == (
        f"{WORDS}, 2026-04-30: judged against it, not against the design before: MH-2 rim; added to the design, for it "
        "bears a name of its own: MH-9 rim. 1 number that was out of tolerance against the design before is not out "
        "against it; both verdicts are kept."
    )


def test_shots_of_a_changed_line_are_held_against_the_line_before(job):
    now, before = (
        job.design({"CTB-L": ("curb-top", offset, 0, 200, level)}) for offset, level in ((1.0, 100.2), (0.0, 100.0))
    )
    now["design_lines"]["source"] = "change"
    layers = job.layers(
        shots=job.prepared(
            job.shots([{"offset": 1.02, "station": 50.0, "elevation": 100.2}, {"offset": 1.0, "station": 90.0}])
        ),
        limits=job.limits(("curb-top", "offset", -0.1, 0.1), ("curb-top", "elevation", -0.08, 0.08)),
        field_changes=changes(("CTB-L", "design_lines", "design")),
        replaced_lines=conform("replaced_lines", before["design_lines"].drop(columns="geometry", errors="ignore")),
        replaced_elements=before["design_elements"], **now,
    )  # fmt: skip
    findings = job.run(layers, MatchLines(), Offsets(), Elevations(), FieldChanges())["findings"]
    old = findings[findings["against"] == "job; design"].set_index(["check", "shot"])
    assert old.loc[("offset", "day1/101"), "deviation"] == pytest.approx(1.02)
    assert old.loc[("elevation", "day1/101"), "deviation"] == pytest.approx(0.2)
    assert old["verdict"].to_dict() == {
        ("offset", "day1/101"): "OUT", ("offset", "day1/102"): "OUT",
        ("elevation", "day1/101"): "OUT", ("elevation", "day1/102"): "IN",
    }  # fmt: skip


def test_numbers_that_the_change_throws_out_of_tolerance_are_counted(job):
    now, before = (job.design({"CTB-L": ("curb-top", offset, 0, 200)}) for offset in (1.0, 0.0))
    now["design_lines"]["source"] = "change"
    layers = job.layers(
        shots=job.prepared(job.shots([{"offset": at, "station": 50.0 + 10 * at} for at in (0.0, 0.01, 1.0)])),
        limits=job.limits(("curb-top", "offset", -0.1, 0.1)),
        field_changes=changes(("CTB-L", "design_lines", "design")),
        replaced_lines=conform("replaced_lines", before["design_lines"].drop(columns="geometry", errors="ignore")),
        replaced_elements=before["design_elements"],
        **now,
    )
    (line,) = note_lines(
        job.run(layers, MatchLines(), Offsets(), FieldChanges())["notes"], "ft", only=("field-change",)
    )
    assert line.endswith(
        "1 number that was out of tolerance against the design before is not out against it; 2 numbers that were not "
        "out of tolerance against the design before are out against it; both verdicts are kept."
    )


def test_near_its_limit_and_past_its_end_the_line_before_decides_nothing(job):
    now, before = (job.design({"CTB-L": ("curb-top", offset, 0, end)}) for offset, end in ((0.1, 200), (0.0, 60)))
    now["design_lines"]["source"] = "change"
    layers = job.layers(
        shots=job.prepared(job.shots([{"offset": 0.1, "station": 50.0}, {"offset": 0.1, "station": 90.0}])),
        limits=job.limits(("curb-top", "offset", -0.1, 0.1)),
        field_changes=changes(("CTB-L", "design_lines", "design")),
        replaced_lines=conform("replaced_lines", before["design_lines"].drop(columns="geometry", errors="ignore")),
        replaced_elements=before["design_elements"],
        **now,
    )
    findings = job.run(layers, MatchLines(), Offsets(), FieldChanges())["findings"]
    old = findings[findings["against"] == "job; design"].set_index("shot")["verdict"]
    assert old.to_dict() == {"day1/101": "UNDECIDED", "day1/102": "NO_DATA"}
