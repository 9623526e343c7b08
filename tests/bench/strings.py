"""Strings of shots with planted runs, in memory: what the number of a run is worth, over many jobs.

No step and no file takes part: deviations are made, runs are found in them, and each mean is held against the true
mean of its members.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from geoqa.kernels.design.run_means import bounded_means
from geoqa.kernels.design.runs import find_runs
from geoqa.kernels.judging.verdict import OUT, judge

SPACING = 25.0
PACE = 0.6
"""Minutes from shot to shot."""


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What is measured, how well, and against which limit; lengths in feet."""

    name: str
    u_random: float
    u_common: float
    limit: float


SETTINGS = (
    Setting(name="offset of a curb", u_random=0.02, u_common=0.0, limit=0.10),
    Setting(name="elevation of a curb", u_random=0.02, u_common=0.02, limit=0.08),
    Setting(name="elevation of a walk", u_random=0.02, u_common=0.02, limit=0.05),
)
"""Those of the demo."""


class Job(NamedTuple):
    """Shots of one job, in the order in which they were taken; `planted` rows of each planted run."""

    line: np.ndarray
    station: np.ndarray
    session: np.ndarray
    minutes: np.ndarray
    true: np.ndarray
    measured: np.ndarray
    planted: list[np.ndarray]


class Told(NamedTuple):
    """Runs found, and how many planted ones were not.

    Error over u, with the bounds and by plain propagation; whether a run holds most of a plant, nothing of any, is OUT;
    and its members that were not planted.
    """

    z: np.ndarray
    plain: np.ndarray
    planted: np.ndarray
    sound: np.ndarray
    out: np.ndarray
    more: np.ndarray
    missed: int


def strings(
    rng: np.random.Generator,
    setting: Setting,
    *,
    lasting: float = 0.0,
    plants: int = 2,
    depth: tuple[float, float] = (1.0, 3.5),
    lines: int = 24,
    shots: int = 25,
) -> Job:
    """Make lines of shots in three sessions, sound but for planted runs of 3 to 8.

    `lasting` is the AR(1) coefficient from shot to shot; the mean of a plant lies at `depth` times the limit, half of
    the plants are flat and half uneven.
    """
    count = lines * shots
    line = np.arange(count) // shots
    station, session = (np.arange(count) % shots) * SPACING, line * 3 // lines
    phase = rng.uniform(0, 2 * np.pi, (2, lines))[:, line]
    true = 0.008 * np.sin(2 * np.pi * station / np.array([[180.0], [410.0]]) + phase).mean(axis=0)
    planted = []
    for each in rng.choice(lines, plants, replace=False):
        size = int(rng.integers(3, 9))
        rows = each * shots + int(rng.integers(0, shots - size + 1)) + np.arange(size)
        shape = np.ones(size) if rng.random() < 0.5 else np.clip(1 + 0.3 * rng.normal(size=size), 0.4, 1.6)
        true[rows] += rng.choice([-1, 1]) * rng.uniform(*depth) * setting.limit * shape
        planted.append(rows)
    noise = rng.normal(size=count)
    for row in range(1, count if lasting else 0):
        if session[row] == session[row - 1]:
            noise[row] = lasting * noise[row - 1] + np.sqrt(1 - lasting**2) * noise[row]
    common = rng.normal(0, setting.u_common, 3)[session] if setting.u_common else 0.0
    minutes = np.arange(count) * PACE + session * 600.0
    return Job(line, station, session, minutes, true, true + setting.u_random * noise + common, planted)


def told(job: Job, setting: Setting) -> Told:
    """Find the runs of a job and hold their means against the truth."""
    count = len(job.line)
    own, common = np.full(count, setting.u_random), np.full(count, setting.u_common)
    limits = {"lower": -setting.limit, "upper": setting.limit}
    found = find_runs(job.line, job.station, job.measured, own, **limits, reach_between=2 * SPACING)
    means = bounded_means(
        found, line=job.line, station=job.station, deviation=job.measured, u_random=own, u_common=common,
        group=job.session, minutes=job.minutes, **limits,
    )  # fmt: skip
    u = np.hypot(means.u_random, means.u_common)
    true = np.bincount(found.run, means.weight * job.true[found.row], len(u))
    error = np.abs(means.mean - true)
    plain = np.hypot(setting.u_random / np.sqrt(means.shots), setting.u_common)
    shared = np.array([np.bincount(found.run, np.isin(found.row, rows), len(u)) for rows in job.planted])
    held = shared * 2 > np.array([len(rows) for rows in job.planted])[:, None]
    return Told(
        z=error / u,
        plain=error / plain,
        planted=held.any(axis=0),
        sound=shared.sum(axis=0) == 0,
        out=judge(means.mean, **limits, u=u).verdict == OUT,
        more=means.shots - shared.sum(axis=0),
        missed=int((~held.any(axis=1)).sum()),
    )


def pooled(setting: Setting, *, jobs: int, seed: int, lasting: float, **options: object) -> Told:
    """Runs of many jobs together."""
    rng = np.random.default_rng([seed, len(setting.name)])
    parts = []
    for _ in range(jobs):
        parts.append(told(strings(rng, setting, lasting=lasting, **options), setting))  # type: ignore[arg-type]
    columns = [np.concatenate([getattr(part, name) for part in parts]) for name in Told._fields[:-1]]
    return Told(*columns, sum(part.missed for part in parts))
