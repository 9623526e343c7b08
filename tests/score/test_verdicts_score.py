"""Every question of a verdict as a planted case in three zones; with GEOQA_WRITE_DOCS=1 writes ``docs/verdicts.md``.

What other scores plant and keep is named on the page and not planted again.
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from bench import make
from bench.cores import on_every_core
from bench.extent import WRITES, extent
from bench.verdicts_text import page_of
from bench.worlds import NEEDED, WORLDS, counted, in_world, judging_steps
from geoqa.frames.systems.resolve import resolve
from geoqa.job.execute import execute
from geoqa.job.plan import default_steps
from geoqa.model.tables.layer import Layers, placed
from geoqa.model.tables.reported import shots_by_sign
from geoqa.simulate.site import scenario

PAGE = Path(__file__).resolve().parents[2] / "docs" / "verdicts.md"
SEEDS = extent(20, of_a_change=1)
ZONES = tuple(scenario.ZONES)
DRAWN_TWICE = ("W-1", "CTB-L-1")


def steps_and(*names):
    wanted = {*NEEDED, *names}
    return [step for step in default_steps() if step.name in wanted]


def with_tables(layers, **tables):
    changed = {name: placed(name, table, layers.frame) for name, table in tables.items()}
    return Layers({**layers, **changed}, frame=layers.frame)


def false_defects(name, zone, seed):
    """Of a world in which the survey is wrong: sound numbers called out, and how many there are, held ones too."""
    world = next(each for each in WORLDS if each.name == name)
    job = in_world(world, seed=seed, zone=zone, frame=resolve(zone, scenario.VERTICAL))
    told = counted(job, execute(job.layers(), judging_steps()))
    return told["false"], told["sound"]


def hidden(zone, seed):
    """A manhole 3 ft off whose rod leans is anything but out."""
    job = make(seed=seed, zone=zone, plants=("D18",), frame=resolve(zone, scenario.VERTICAL))
    truth = job.truth.shots
    key = truth.loc[truth["plant"].str.contains("D18"), "shot_key"].iloc[0]
    layers = job.layers()
    shots = pd.DataFrame(layers["shots"].drop(columns="geometry"))
    lean = np.random.default_rng(seed).uniform((10.0, 0.0), (24.0, 360.0)).round(1)
    shots.loc[shots["shot_key"] == key, ["tilt", "tilt_azimuth"]] = lean
    findings = execute(with_tables(layers, shots=shots), judging_steps())["findings"]
    row = findings[(findings["shot"] == key) & (findings["check"] == "position")].iloc[0]
    return bool(row["verdict"] != "OUT")


def control(zone, seed):
    """A misnamed check, a shifted session: largest mean and 95 %; whether the band holds, and whether counts agree."""
    job = make(seed=seed, zone=zone, plants=("T09", "D20"), frame=resolve(zone, scenario.VERTICAL))
    layers = execute(job.layers(), steps_and("check-shots", "residual-tables"))
    sessions, shifts = layers["control_sessions"], layers["session_shifts"]
    row = shifts[(shifts["session"] == "A") & (shifts["axis"] == "elevation")].iloc[0]
    signs = shots_by_sign(layers)
    return (
        float(sessions[["mean_easting", "mean_northing"]].abs().max().max()),
        float(sessions["h_95"].max()),
        bool(row["low"] <= 0.03 <= row["high"]),
        sum(signs.values()) == len(layers["shots"]),
    )


def accused(zone, seed):
    """Lines drawn twice that are out for want of evidence, and how many were drawn twice."""
    job = make(seed=seed, zone=zone, plants=(), frame=resolve(zone, scenario.VERTICAL))
    layers = job.layers()
    made = {}
    for name in ("design_lines", "design_elements"):
        table = layers[name]
        again = table[table["line"].isin(DRAWN_TWICE)]
        made[name] = pd.concat([table, again.assign(line=again["line"] + " again")], ignore_index=True)
    changed = Layers({**layers, **made}, frame=layers.frame)
    findings = execute(changed, judging_steps())["findings"]
    out = findings[(findings["check"] == "coverage") & (findings["verdict"] == "OUT")]
    names = {*DRAWN_TWICE, *(f"{line} again" for line in DRAWN_TWICE)}
    return len(set(out["subject"]) & names), 2 * len(DRAWN_TWICE)


def of_job(zone, seed):
    return {
        "rod": false_defects("rod between checks", zone, seed),
        "warp": false_defects("smooth warp", zone, seed),
        "hidden": hidden(zone, seed),
        "control": control(zone, seed),
        "accused": accused(zone, seed),
    }


def per_thousand(pairs):
    false, sound = (sum(each) for each in zip(*pairs, strict=True))
    return f"{1000 * false / max(sound, 1):.1f} ({false} of {sound})", false, sound


@pytest.mark.score
@pytest.mark.timeout(5400)
def test_every_question_of_a_verdict_is_answered():
    jobs = [(zone, 501 + 40 * place + seed) for place, zone in enumerate(ZONES) for seed in range(SEEDS)]
    done = on_every_core(of_job, jobs)
    count = len(done)
    (rod, *of_rod), (warp, *of_warp) = (per_thousand([each[name] for each in done]) for name in ("rod", "warp"))
    means, worst, holds, agree = (np.array(each) for each in zip(*(row["control"] for row in done), strict=True))
    blamed, twice = (sum(each) for each in zip(*(row["accused"] for row in done), strict=True))
    lost = sum(row["hidden"] for row in done)
    page = page_of(
        {
            "rod": rod, "warp": warp, "hidden": f"{lost} of {count}", "mean": f"{means.max():.2f}",
            "worst": f"{worst.max():.2f}", "band": f"{holds.sum()} of {count}", "twice": str(twice),
            "accused": str(blamed), "counts": f"{agree.sum()} of {count}",
        },
        zones=len(ZONES),
        seeds=SEEDS,
    )  # fmt: skip
    sys.stdout.write(f"\n{page}\n")
    if WRITES:
        PAGE.write_text(page, encoding="utf-8", newline="\n")
    for false, sound in (of_rod, of_warp):
        assert sound > 300 * count
        assert false <= 1 + 0.0003 * sound
    assert lost == 0
    assert means.max() < 0.1
    assert worst.max() < 0.3
    assert holds.mean() >= (0.85 if count >= 20 else 0.6)
    assert blamed == 0
    assert agree.all()
