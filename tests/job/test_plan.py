"""The plan is a pure function over names."""

import itertools

import pytest

from geoqa.errors import PlanError
from geoqa.job.document.named import Off
from geoqa.job.plan import _preset, behind, default_steps, plan
from geoqa.model.step import Step


def step(name, **declared):
    return type("Made", (Step,), {"name": name, **declared})()


CHAIN = (
    step("kinds", needs=("shots",), extends=("shots.kind",)),
    step("screen", needs=("shots.kind",), adds=("flags",)),
    step("doubt", needs=("shots",), adds=("flags",)),
    step("use", needs=("flags", "shots"), extends=("shots.use",)),
    step("judge", needs=("shots.use", "matches.station"), adds=("findings",)),
    step("match", needs=("shots.kind",), gives=("matches",)),
)


@pytest.mark.parametrize("steps", list(itertools.permutations(CHAIN))[::13])
def test_a_reader_of_a_table_waits_for_all_who_add_to_it_whatever_the_order(steps):
    names = [each.name for each in plan(steps, {"shots"}).order]
    assert names.index("use") > max(names.index("screen"), names.index("doubt"))
    assert names.index("judge") > max(names.index("use"), names.index("match"))
    assert names.index("kinds") < names.index("match")


def test_what_cannot_run_is_left_out_with_what_it_lacks_and_so_is_what_hangs_on_it():
    steps = (
        step("a", needs=("walks",), gives=("pairs",)),
        step("b", needs=("pairs.width",)),
        step("c", needs=("shots",)),
    )
    done = plan(steps, {"shots"})
    assert [each.name for each in done.order] == ["c"]
    assert done.lacking == {"a": ("walks",), "b": ("pairs.width",)}


def test_a_step_waits_for_what_it_wants_and_does_without():
    wanting = step("wanting", needs=("shots",), wants=("extra",))
    assert [each.name for each in plan((wanting, step("giver", gives=("extra",))), {"shots"}).order] == [
        "giver",
        "wanting",
    ]
    assert [each.name for each in plan((wanting,), {"shots"}).order] == ["wanting"]


def test_a_circle_is_named():
    with pytest.raises(PlanError, match="circle: a, b"):
        plan((step("a", needs=("y",), gives=("x",)), step("b", needs=("x",), gives=("y",))), set())


def test_two_makers_of_one_thing_are_refused():
    with pytest.raises(PlanError, match="both make 'x'"):
        plan((step("a", gives=("x",)), step("b", gives=("x",))), set())


def test_a_default_step_can_be_switched_off_and_replaced():
    from geoqa import plugins

    assert "bands" not in [each.name for each in default_steps([Off("bands")])]
    other = plugins.load("steps", "runs")()
    assert [each for each in default_steps([other]) if each.name == "runs"] == [other]


def test_the_default_plan_leaves_nothing_out_when_all_tables_are_there():
    from geoqa.model.tables.columns import TABLES, columns_of

    there = {"shots", *(f"shots.{each.name}" for each in columns_of("shots", made_by=""))}
    for name in (
        "control",
        "codes",
        "design_lines",
        "design_elements",
        "design_points",
        "limits",
        "precision",
        "screening",
        "check_policy",
        "levels",
        "level_rules",
        "sources",
    ):
        there |= {name, *(f"{name}.{each.name}" for each in TABLES[name])}
    assert plan(default_steps(), there).lacking == {}


def test_behind_a_step_stands_the_dearest_of_what_waits_for_it():
    steps = (
        step("early", needs=("shots",), gives=("early",)),
        step("walks", needs=("early",), gives=("walked",)),
        step("short", needs=("early",), gives=("short",)),
        step("late", needs=("walked", "short"), gives=("late",)),
    )
    dear = _preset()["effort"]["walks"]
    assert behind(steps) == (2 + dear + 2, dear + 2, 2 + 2, 2)


def test_efforts_are_those_of_steps_there_are():
    assert set(_preset()["effort"]) <= {each.name for each in default_steps()}
