"""A field change that moves the design of a number of several shots: both verdicts are kept, the change counts."""

import pandas as pd
import pytest

from geoqa import testing
from geoqa.contract.sentences import note_lines
from geoqa.model.quantity import Length
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.drainage.gutters import Gutters
from geoqa.steps.drainage.reveals import Reveals
from geoqa.steps.rules.field_changes import FieldChanges
from geoqa.steps.utilities.structures import Structures
from steps.drainage.conftest import Street
from steps.utilities.conftest import Sewer

WORDS = "Field change 3, approved by the engineer"


def changed(*lines):
    rows = [{"name": name, "table": "design_lines", "source": "change", "before": "design", "words": WORDS,
             "dated": "2026-04-30"} for name in lines]  # fmt: skip
    return conform("field_changes", pd.DataFrame(rows))


def lifted(layers, line, by):
    """The layers as a change leaves them: the line by so much higher, and what it replaced."""
    tables = dict(layers)
    lines, elements = tables["design_lines"], tables["design_elements"].copy()
    mine = (elements["line"] == line).to_numpy()
    kept = {"replaced_lines": pd.DataFrame(lines[lines["line"] == line]).drop(columns="geometry", errors="ignore"),
            "replaced_elements": elements[mine].reset_index(drop=True)}  # fmt: skip
    elements.loc[mine, ["start_elevation", "end_elevation"]] += by
    tables["design_lines"] = lines.assign(source=lines["source"].where(lines["line"] != line, "change"))
    tables |= {"design_elements": elements, "field_changes": changed(line)} | kept
    return Layers({name: tables[name] for name in tables}, frame=layers.frame)


@pytest.mark.long
@pytest.mark.parametrize(("unit", "foot"), [("ft", 1.0), ("m", 0.3048)])
def test_a_curb_that_a_change_raises_is_held_to_either_reveal(unit, foot):
    """Built 0.75 ft high; the change asks for 0.75, the design before for 0.50, both by 0.08."""
    street = Street()
    rows = [*street.shots(street.level()), *street.shots(street.level() + 0.75, code="CTB")]
    limits = (("curb", "reveal", 0.42, 0.58), ("curb-flow", "gutter-fall", 0.003, float("inf")))
    layers = lifted(street.layers(rows, unit=unit, limits=limits), "CTB-R", 0.25 * foot)
    done = testing.run(layers, MatchLines(), Gutters(), Reveals(), FieldChanges())
    findings = done["findings"].query("check == 'reveal'")
    now, old = findings[findings["run"].isna()], findings[findings["run"].notna()]
    assert len(now) == len(old) == len(street.stations)
    assert set(now["verdict"]) == {"IN"}
    assert set(old["verdict"]) == {"OUT"}
    assert old["deviation"].tolist() == pytest.approx([0.75 * foot] * len(old))
    assert set(old["run"]) == set(now["finding"])
    assert set(old["cause"]) == {f"against the design before the field change: {WORDS}, 2026-04-30"}
    assert done["findings"]["finding"].is_unique
    # a fall is held to a limit of its own: no change of the top moves it
    assert done["findings"].query("check == 'gutter-fall'")["run"].isna().all()
    (line,) = note_lines(done["notes"], unit, only=("field-change",))
    assert "21 numbers that were out of tolerance against the design before are not out against it" in line


@pytest.mark.long
def test_an_invert_that_a_change_lowers_is_held_to_either_design(job):
    """Built 0.30 ft below the design, as the change asks; limits 0.15."""
    sewer = Sewer(job)
    design = sewer.design(P1=("storm-pipe", (16.0, 0.0, 1451.40), (-4.0, 0.0, 1451.20)),
                          P2=("storm-pipe", (-4.0, 0.0, 1451.10), (-4.0, 251.0, 1450.10)))  # fmt: skip
    shots = sewer.rims(("IN-1", 16.0, 0.0, 1455.87), ("MH-1", -4.0, 0.0, 1456.19), ("MH-2", -4.0, 251.0, 1457.22))
    notes = sewer.notes(("IN-1", "P1", "out", 4.77), ("MH-1", "P1", "in", 5.29), ("MH-1", "P2", "out", 5.09))
    layers = job.layers(
        shots=shots, structure_notes=notes, limits=job.limits(("invert", "invert", -0.15, 0.15)), **design
    )
    done = job.run(lifted(layers, "P1", -0.30), Structures(), FieldChanges())
    findings = done["findings"].query("check == 'invert' and verdict != 'NO_DATA'")
    told = {(row["subject"], row["against"].partition("; ")[2]): row["verdict"] for row in findings.to_dict("records")}
    assert told == {
        ("IN-1, P1 out", "change"): "IN", ("IN-1, P1 out", "design"): "OUT", ("MH-1, P1 in", "change"): "IN",
        ("MH-1, P1 in", "design"): "OUT", ("MH-1, P2 out", "design"): "IN",
    }  # fmt: skip
    old = findings[findings["run"].notna()]
    assert old["deviation"].tolist() == pytest.approx([-0.30, -0.30])
    assert old["cause"].str.contains(WORDS).all()


def test_a_change_that_moves_no_such_number_adds_none():
    street = Street()
    rows = [*street.shots(street.level()), *street.shots(street.level() + 0.5, code="CTB")]
    layers = lifted(street.layers(rows, limits=(("curb", "reveal", 0.42, 0.58),)), "CTB-R", 0.0)
    findings = testing.run(layers, MatchLines(), Reveals(), FieldChanges())["findings"]
    assert findings["run"].isna().all()


@pytest.mark.parametrize(("unit", "foot"), [("ft", 1.0), pytest.param("ftUS", 1.0, marks=pytest.mark.long)])
def test_a_gutter_that_a_change_turns_round_is_held_to_either_direction(unit, foot):
    """Built to fall by 0.5 % towards station 0, as the change asks; the design before falls the other way."""
    street = Street()
    rows = street.shots(street.level())
    limits = (("curb-flow", "gutter-fall", 0.003, float("inf")),)
    layers = street.layers(rows, unit=unit, limits=limits, design="flow")
    tables = dict(lifted(layers, "CFL-R", 0.0))
    before = tables["replaced_elements"]
    ends = {"start_elevation": before["end_elevation"], "end_elevation": before["start_elevation"]}
    tables["replaced_elements"] = before.assign(**ends)
    done = testing.run(Layers(tables, frame=layers.frame), MatchLines(), Gutters(), FieldChanges())
    findings = done["findings"].query("check == 'gutter-fall'")
    now, old = findings[findings["run"].isna()], findings[findings["run"].notna()]
    assert len(now) == len(old) == 10
    assert now["deviation"].tolist() == pytest.approx([0.005] * 10)
    assert old["deviation"].tolist() == pytest.approx([-0.005] * 10)
    assert set(now["verdict"]) == {"IN"}
    assert set(old["verdict"]) == {"OUT"}
    assert old.set_index("run")["station"].sort_index().tolist() == pytest.approx(
        now.set_index("finding")["station"].sort_index().tolist()
    )
    assert old["cause"].str.contains(WORDS).all()
    assert done["findings"]["finding"].is_unique


@pytest.mark.long
def test_falls_told_with_other_options_are_not_compared_with_those_of_the_usual_ones():
    street = Street()
    layers = street.layers(street.shots(street.level()), limits=(("curb-flow", "gutter-fall", 0.003, float("inf")),),
                           design="flow")  # fmt: skip
    tables = dict(lifted(layers, "CFL-R", 0.0))
    before = tables["replaced_elements"]
    tables["replaced_elements"] = before.assign(end_elevation=before["start_elevation"] - 2.5)
    reach = Length.parse("100 ft")
    done = testing.run(Layers(tables, frame=layers.frame), MatchLines(), Gutters(reach=reach), FieldChanges())
    assert done["findings"]["run"].isna().all()
