"""A design read in the wrong foot is one matter: its numbers wait, shown both ways; the others are judged."""

import pandas as pd
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.model.tables.columns import conform
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.older_design import OlderDesign
from geoqa.steps.design.positions import Positions
from geoqa.steps.listing.items import Items

LIMITS = (("curb-top", "offset", -0.10, 0.10), ("curb-top", "elevation", -0.06, 0.06),
          ("inlet", "position", float("-inf"), 0.30))  # fmt: skip
EAST, NORTH = 2.000004e-6 * 2_228_000, 2.000004e-6 * 446_000
LINES, POINTS = {"W1": 0.0, "W2": 30.0, "K1": 90.0, "K2": 120.0}, {"I1": 60.0, "I2": 160.0}


def judged(job, *, east=EAST, north=NORTH, unit="ft", more=None, baseline=False, check=True):
    """Lines W and the inlets are of the file d.xml, which the shots miss by `east` and `north`."""
    shots = []
    for line, at in LINES.items():
        for number in range(8):
            off = (east if line[0] == "W" else 0.0) + 0.005 * (-1) ** number + (more or {}).get((line, number), 0.0)
            shots.append({"shot": f"{line}-{number}", "offset": at + off, "station": 20.0 + 20 * number,
                          "elevation": 100.0, "code": "CTB"})  # fmt: skip
    shots += [{"shot": point, "offset": -40.0 + east, "station": at + north, "elevation": 100.0}
              for point, at in POINTS.items()]  # fmt: skip
    shots += [{"shot": "CK1", "offset": 0.0, "station": -50.0, "elevation": 100.0, "role": "check"}] * check
    design = job.design({name: ("curb-top", at, 0.0, 250.0) for name, at in LINES.items()},
                        {name: ("inlet", -40.0, at, 100.0) for name, at in POINTS.items()})  # fmt: skip
    lines, points = design["design_lines"], design["design_points"]
    lines["source"] = lines["source"].mask(lines["line"].str.startswith("W"), "d")
    points["source"] = points["source"].mask(points["point"].str.startswith("I"), "d")
    files = [("d", "design", "d.xml", unit), ("design", "design", "plan.dxf", "ft")]
    files += [("axis", "baseline", "d.xml", unit)] * baseline
    sources = pd.DataFrame(files, columns=["source", "role", "path", "unit"])
    sources = conform("sources", sources.assign(sha256="0", reader="design.xml", version="1"))
    kinds = ["inlet" if row["shot"] in POINTS else "curb-top" for row in shots]
    shots = job.prepared(job.shots(shots), kind=kinds)
    layers = job.layers(shots=shots, limits=job.limits(*LIMITS), sources=sources, **design)
    steps = (MatchLines(), MatchPoints(), OlderDesign(), Offsets(), Elevations(), Positions(), Items())
    return job.run(layers, *steps)


@pytest.mark.long
@pytest.mark.parametrize(("unit", "sign", "other"), [("ft", 1, "ftUS"), ("ftUS", -1, "ft")])
def test_its_numbers_wait_both_ways_and_one_finding_names_the_unit(job, unit, sign, other):
    done = judged(job, east=sign * EAST, north=sign * NORTH, unit=unit)
    findings = done["findings"]
    (one,) = findings.query("verdict == 'OUT'").to_dict("records")
    assert (one["check"], one["subject"]) == ("other-foot", "d.xml")
    assert f'state unit = "{other}" in its [[design]], with accept = true where the file says {unit}' in one["remedy"]
    mine = findings["subject"].isin(["W1", "W2", "I1", "I2"])
    assert set(findings.loc[mine, "why"]) == {"other-foot"}
    assert set(findings.loc[mine, "verdict"]) == {"NO_DATA"}
    assert set(findings.loc[mine, "check"]) == {"offset", "elevation", "position"}
    assert not findings.loc[~mine, "why"].isin(["other-foot"]).any()
    point = findings.query("subject == 'I1' and check == 'position'")["cause"].iloc[0]
    assert point.startswith("waits for: the unit of the design; 4.544 ft as read, 0.000 ft without it")
    (said,) = note_lines(done["notes"], "ft")
    assert said.startswith("18 shots along I1, I2, W1 and W2 lie 4.4")
    assert f"off d.xml as {unit} and 0.005 ft as {other}" in said
    assert done["items"].query("why == 'other-foot'")["findings"].tolist() == [mine.sum()]


def test_a_defect_in_either_foot_stays_out(job):
    done = judged(job, more={("W1", 3): 0.40})
    work = done["findings"].query("verdict == 'OUT' and check == 'offset'")
    assert work["label"].tolist() == ["shot W1-3"]
    assert work["deviation"].iloc[0] == pytest.approx(0.40, abs=0.01)


@pytest.mark.long
def test_a_baseline_of_the_same_file_is_named_and_so_is_the_lack_of_check_shots(job):
    (said,) = note_lines(judged(job, baseline=True)["notes"], "ft")
    assert "[baseline] of the job reads the same file: state it there too" in said
    (said,) = note_lines(judged(job, check=False)["notes"], "ft")
    assert said.endswith("or that of the [[shots]], if it is they: no check shot tells which.")


@pytest.mark.parametrize(
    ("east", "north", "unit"), [(0.0, 0.0, "ft"), (3.6, NORTH, "ft"), (-EAST, -NORTH, "ft"), (EAST, NORTH, "m")]
)
@pytest.mark.long
def test_a_sound_file_and_work_built_off_by_another_vector_are_judged(job, east, north, unit):
    done = judged(job, east=east, north=north, unit=unit)
    assert not done["findings"]["why"].isin(["other-foot"]).any()
    assert not len(done["older_designs"])
    assert bool((done["findings"].query("check == 'offset'")["verdict"] == "OUT").any()) == (east != 0)
