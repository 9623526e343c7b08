"""Faults of the field over many simulated jobs: which shots, what kind, what number, and nothing that must not be said.

``python -m pytest tests/score/test_faults_score.py -m score -s`` prints the tables; with GEOQA_WRITE_DOCS=1 it also
writes those of ``docs/field_checks.md``, from sixty jobs and not from eighteen. Target: 99 %.
"""

import json
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd
import pytest

from bench import make, write
from bench.bands import binomial_band
from bench.extent import WHOLE, WRITES, extent
from bench.faulted import DECLARED, FAULTS, UNDECLARED, clean_row, held_against, read_back
from bench.faulted_text import headline, page_part, told_right
from bench.faults_unsaid import new_claims
from bench.said import Said
from bench.single_shots import steps_of_single_shots
from geoqa.frames.systems.resolve import resolve
from geoqa.job.document.load import load
from geoqa.job.execute import execute
from geoqa.job.inputs.intake import take_in
from geoqa.job.inputs.tables import preset
from geoqa.model.tables.layer import Layers, placed
from geoqa.simulate.site import scenario
from geoqa.steps.shots.missing_fields import TAKES

PAGE = Path(__file__).resolve().parents[2] / "docs" / "field_checks.md"
SEEDS = extent(20, of_a_change=1)
"""Jobs of each zone: the page is made of twenty, a change must pass one of them."""
BEGIN, END = "<!-- faults: begin -->\n", "<!-- faults: end -->\n"
UNCONCERNED = frozenset(
    {
        *("tilt-study", "field-procedure", "capability", "bands", "accuracy", "session-shifts", "shifted-verdicts"),
        *("undecided", "log-confidence"),
    }
)
"""Steps that say nothing about a single shot, and take half of the time."""


def said_of(simulated, shots=None):
    layers = simulated.layers()
    tables = {**layers, "check_policy": preset("check_policy")}
    if shots is not None:
        tables["shots"] = placed("shots", shots, layers.frame)
    return judged(Layers(tables, frame=layers.frame), repeats="T11" in simulated.plants)


def from_files(simulated, folder, *, zero_is_null=True):
    """Layers of the job written and read; valves have a tolerance in elevation here, so that 0 could be judged."""
    path = write(simulated, folder)
    text = path.read_text(encoding="utf-8").replace("[tolerance.valve]", '[tolerance.valve]\nvertical = "0.30 ft"')
    if not zero_is_null:
        text = "\n".join(line for line in text.splitlines() if not line.startswith("zero_is_null"))
    path.write_text(text, encoding="utf-8")
    return take_in(load(path)).layers


def judged(layers, *, repeats=False):
    left_out = UNCONCERNED if repeats else UNCONCERNED | {"repeats"}
    return execute(layers, [step for step in steps_of_single_shots() if step.name not in left_out])


def rows_of(seed, zone, frame):
    """Every fault alone in one job, and the job without any."""
    sound = make(seed=seed, zone=zone, plants=(), frame=frame)
    clean = said_of(sound)
    rows = [clean_row(sound, clean)]
    for fault in FAULTS:
        simulated = make(seed=seed, zone=zone, plants=(fault.plant,), frame=frame)
        rows.append(held_against(fault, Said(simulated=simulated, layers=said_of(simulated), clean=clean)))
    simulated = make(seed=seed, zone=zone, plants=("T21",), frame=frame)
    for fault, known in ((DECLARED, True), (UNDECLARED, False)):
        with TemporaryDirectory() as folder:
            layers = judged(from_files(simulated, folder, zero_is_null=known))
        row = held_against(fault, Said(simulated=simulated, layers=layers, clean=clean))
        rows.append(row | {"case": "T21" if known else "T21, 0 not declared"})
    simulated = make(seed=seed, zone=zone, plants=("T22",), frame=frame)
    with TemporaryDirectory() as folder:
        rows.append(read_back(simulated.tables["shots"], from_files(simulated, folder)["shots"]))
    return [{"zone": zone, "seed": seed, "shots": len(clean["shots"]), **row} for row in rows]


FIELDS = tuple(dict.fromkeys(field for field, *_ in TAKES))
TOGETHER = tuple(fault.plant for fault in FAULTS if fault.plant not in ("T20", "S04"))

TRUE = {"code": "unknown-code"}
"""A log without codes is rightly said to hold none."""

ONLY_THERE = {"tilt": "T13"}
"""Fault that shows in no other field: a lean whose error is neither in the log nor large enough to stray."""


def without(shots, field):
    """Shots of a file that lacks a column."""
    blank = {name: pd.Series([None] * len(shots), dtype=shots[name].dtype) for name in (field, f"raw_{field}")
             if name in shots}  # fmt: skip
    return pd.DataFrame(shots).assign(**blank)


@cache
def whole_log(seed, zone, plants):
    simulated = make(seed=seed, zone=zone, plants=plants, frame=resolve(zone, scenario.VERTICAL))
    return simulated, said_of(simulated)


def claims_without(field, plants, seed, zone):
    """What is said of a job whose log lacks a field, and is not said where the log is whole; empty is right."""
    simulated, whole = whole_log(seed, zone, plants)
    less = said_of(simulated, without(simulated.tables["shots"], field))
    lost = less["impossible_checks"].set_index("field")
    told = [] if field in lost.index and lost.loc[field, "shots"] == lost.loc[field, "of"] else ["not named as lost"]
    # where something is planted, less may be known of what; elsewhere nothing may be said
    items = [item for item in simulated.truth.items if item["flag"] not in ("", "no-closing-check")]
    touched = {key for item in items for key in item["shots"]}
    names = {key.partition("/")[2] for key in touched}
    # legs that cross those of a shot that is touched are told of both: the other half of the same thing
    said = [flags[~((flags["flag"] == "self-crossing") & flags["other"].isin(names))]
            for flags in (whole["flags"], less["flags"])]  # fmt: skip
    pairs = [set(zip(each["shot_key"], each["flag"], strict=True)) for each in said]
    fresh = sorted(flag for key, flag in pairs[1] - pairs[0] if key not in touched and flag != TRUE.get(field))
    told += [f"{flag} ({fresh.count(flag)})" for flag in sorted(set(fresh))]
    # an error that nothing but this field shows stays in the numbers, and no program can know of it
    hidden = {key for item in simulated.truth.items if item["plant"] == ONLY_THERE.get(field) for key in item["shots"]}
    known = less["findings"][~less["findings"]["shot"].isin(hidden)]
    told += new_claims({**less, "findings": known}, whole["findings"].query("verdict == 'OUT'")["finding"])
    return {"field": field, "plants": " ".join(plants) or "nothing", "seed": seed, "claims": "; ".join(told)}


def lacking_of(fields, cases, number, zone):
    """Every field taken away from every case; the first job of each case stands for the whole log."""
    return [claims_without(field, plants, 71 + number, zone) for plants in cases for field in fields]


def seeds_of(zone, first, last):
    frame = resolve(zone, scenario.VERTICAL)
    return [row for seed in range(first, last) for row in rows_of(seed, zone, frame)]


def in_processes(*tasks):
    """Run tasks of this file in processes of their own, at most one for each core; their rows, in order."""
    command = [sys.executable, str(Path(__file__).resolve())]
    path = os.pathsep.join(each for each in (str(Path(__file__).parents[1]), os.environ.get("PYTHONPATH")) if each)

    # the bench stands beside this folder; a core each, so that the libraries below numpy do not wait for each other
    env = os.environ | {"PYTHONPATH": path, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}

    def done(task):
        got = subprocess.run([*command, *map(str, task)], stdout=subprocess.PIPE, check=True, timeout=3600, env=env)
        return json.loads(got.stdout.decode("utf-8"))

    with ThreadPoolExecutor(max(1, os.cpu_count() or 1)) as pool:
        return list(pool.map(done, tasks))


def wrong(rows):
    return rows[~told_right(rows)].drop(columns="shots").to_string()


@pytest.mark.score
def test_a_log_without_a_field_makes_no_false_claim():
    """The fields whose loss changes most; all of them are in the long score."""
    rows = pd.DataFrame(lacking_of(("code", "line_id", "elevation"), (TOGETHER,), 0, "EPSG:6559"))
    assert (rows["claims"] == "").all(), rows.to_string()


@pytest.mark.score
@pytest.mark.timeout(3600)
def test_jobs_of_three_zones_tell_every_fault_of_the_field():
    parts = min(2, SEEDS)
    share = SEEDS // parts
    tasks = [
        ("seeds", zone, 1 + share * part, 1 + share * (part + 1))
        for part, zone in enumerate(z for z in scenario.ZONES for _ in range(parts))
    ]
    count = len(tasks)
    done = in_processes(*tasks, *(("lacking", number) for number in range(extent(len(scenario.ZONES), of_a_change=1))))
    rows, lacking = (pd.DataFrame([row for one in some for row in one]) for some in (done[:count], done[count:]))
    sys.stdout.write(f"\n{page_part(rows, lacking)}\n{wrong(rows)}\n")
    if WRITES:
        text = PAGE.read_text(encoding="utf-8")
        head, _, rest = text.partition(BEGIN)
        told = page_part(rows, lacking)
        PAGE.write_text(head + BEGIN + told + END + rest.partition(END)[2], encoding="utf-8", newline="\n")
    assert len(rows) == 3 * SEEDS * (len(FAULTS) + 4)
    shares, by_case = headline(rows), told_right(rows).groupby(rows["case"]).mean()
    assert shares["right"] >= 0.99
    assert (by_case >= 0.95).all(), by_case.to_string()
    assert shares["recall"] >= 0.99
    assert shares["precision"] >= 0.99
    assert shares["numbers"] >= 0.99
    assert shares["within"] >= 0.93
    assert shares["alarms"] <= 0.1  # one flag in 10,000 honest shots
    assert shares["out"] <= binomial_band(1_000_000, shares["chance"] / 1_000_000)[1]
    assert (lacking["claims"] == "").all(), lacking[lacking["claims"] != ""].to_string()


if __name__ == "__main__":
    what, *rest = sys.argv[1:]
    if what == "seeds":
        made = seeds_of(rest[0], int(rest[1]), int(rest[2]))
    else:
        number = int(rest[0])
        made = lacking_of(FIELDS, ((), TOGETHER), number, list(scenario.ZONES)[number])
        if number == 0 and WHOLE:
            made += lacking_of(FIELDS, (("T20",), ("S04",)), 0, "EPSG:6559")
    sys.stdout.write(pd.DataFrame(made).to_json(orient="records"))
