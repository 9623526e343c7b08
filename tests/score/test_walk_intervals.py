"""Over simulated walks the 95 % interval of slopes and widths holds the truth, however their errors hang together."""

import numpy as np
import pytest

from bench.walk_shots import layers_of, walk_rows
from geoqa import testing
from geoqa.steps.walks.walks import Walks

LIMITS = (
    ("walk", "cross-slope", -1 / 48, 1 / 48),
    ("walk", "running-slope", -1 / 20, 1 / 20),
    ("walk", "clear-width", 4.0, np.inf),
)
AT = np.arange(0, 501, 25.0)
U, PLAN, PHI = 0.02, 0.02, 0.95
TRUTH = {"cross-slope": 0.015, "running-slope": 0.01, "clear-width": 5.0}


def chain(generator, count):
    """AR(1) errors of 1 sigma U, a shot a minute."""
    own = generator.normal(0, U, count)
    made = np.empty(count)
    made[0] = own[0]
    for place in range(1, count):
        made[place] = PHI * made[place - 1] + np.sqrt(1 - PHI**2) * own[place]
    return made


def errors_of(kind, generator):
    count = len(AT)
    if kind == "correlated":
        both = chain(generator, 2 * count)
        return both[:count], both[count:][::-1]
    bias = generator.normal(0, 0.05) if kind == "common" else 0.0
    return tuple(bias + generator.normal(0, U, count) for _ in range(2))


def job(kind, seed, walks):
    """A job of some walks side by side, each shot in a session of its own."""
    rows = []
    for number in range(walks):
        generator = np.random.default_rng([seed, number, len(kind)])
        plan = tuple(generator.normal(0, [PLAN, 1.0], (len(AT), 2)) for _ in range(2))
        # a shot lies on the walk where it was taken, not at its even station
        errors = errors_of(kind, generator)
        lifted = tuple(error + TRUTH["running-slope"] * off[:, 1] for error, off in zip(errors, plan, strict=True))
        rows += walk_rows(
            AT, errors=lifted, plan=plan, line=str(number), session=f"S{number}", aside=100.0 * number,
            slope=TRUTH["cross-slope"], grade=TRUTH["running-slope"], width=TRUTH["clear-width"],
        )  # fmt: skip
    return layers_of(rows, *LIMITS, u_v_common=0.05 if kind == "common" else 0.0)


def held(kind, jobs, walks):
    """Share of intervals that hold the truth, and how many, by check: of single sections and legs, and of means."""
    inside, count = {}, {}
    for seed in range(jobs):
        findings = testing.run(job(kind, seed, walks), Walks())["findings"]
        findings = findings[findings["verdict"] != "NO_DATA"]
        truth = findings["check"].map(TRUTH).to_numpy(float)
        size = findings["measured"].to_numpy(float)
        # legs along the back were walked the other way
        size = np.where(findings["check"] == "running-slope", np.abs(size), size)
        hit = np.abs(size - truth) <= 1.959964 * findings["u"].to_numpy(float)
        mean = findings["label"].str.startswith("mean of").to_numpy(bool)
        for check in TRUTH:
            for name, part in ((check, ~mean), (f"{check}, mean", mean)):
                mine = part & (findings["check"] == check).to_numpy(bool)
                inside[name] = inside.get(name, 0) + int(hit[mine].sum())
                count[name] = count.get(name, 0) + int(mine.sum())
    return {name: (inside[name] / count[name], count[name]) for name in inside if count[name] > 30}


@pytest.mark.long
def test_a_few_walks():
    for name, (share, count) in held("independent", 1, 20).items():
        assert share > 0.9, (name, share, count)


@pytest.mark.score
def test_five_hundred_walks():
    """Means are told where neighbours agree, and are chosen so: their intervals may be wider, not narrower."""
    for kind, jobs in (("independent", 9), ("common", 8), ("correlated", 8)):
        for name, (share, count) in held(kind, jobs, 20).items():
            print(f"{kind:12} {name:22} {100 * share:5.1f} % of {count}")
            assert 0.92 <= share <= (1.0 if name.endswith("mean") else 0.98), (kind, name, share, count)
