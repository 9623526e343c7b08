"""Check shots of many jobs as their parts keep them, made in memory: thousands of seasons cost what one job does."""

import numpy as np
import pandas as pd

MARKS = 5
NOISE, SHARED = 0.010, 0.015


def facts(number, *, unit="ft", frame="grid", owner="Town of Larkmere", causes=()):
    """What a job tells, but for its check shots."""
    return {
        "name": f"part {number}",
        "date": "2026-03-02",
        "owner": owner,
        "unit": unit,
        "frame": frame,
        "headline": "",
        "shots": 44,
        "counts": {"OUT": 1, "UNDECIDED": 2, "NO_DATA": 3, "IN": 4},
        "rows_left_out": 0,
        "work": [{"kind": "curb-top", "OUT": 1, "UNDECIDED": 2, "NO_DATA": 3, "IN": 4}],
        "causes": list(causes),
        "files_without_receiver": 0,
    }


def season_of(seed, *, jobs=12, receivers=("R1", "R2", "R3"), moved=None, rods=None, scale=1.0, **told):
    """Jobs ten days apart, two sessions each by two receivers in turn, every mark once a session."""
    draw, made = np.random.default_rng(seed), []
    for number in range(jobs):
        rows = []
        for nth in range(2):
            receiver = receivers[(number + nth) % len(receivers)]
            shared = draw.normal(size=3) * SHARED + [0, 0, (rods or {}).get(receiver, 0.0)]
            for mark in range(MARKS):
                low = moved[2] if moved is not None and mark == moved[0] and number >= moved[1] else 0.0
                off = shared + draw.normal(size=3) * NOISE - [0, 0, low]
                place = np.array([1000.0 + 100 * mark, 500.0, 100.0])
                rows.append((f"CP-{mark + 1}", "AB"[nth], receiver, number, nth, mark, *off * scale, *place * scale))
        names = ["mark", "session", "receiver", "number", "nth", "order", "easting", "northing", "elevation",
                 "published_easting", "published_northing", "published_elevation"]  # fmt: skip
        table = pd.DataFrame(rows, columns=names)
        table["time"] = (
            pd.Timestamp("2026-03-02T13:00Z")
            + pd.to_timedelta(10 * table["number"], unit="D")
            + pd.to_timedelta(240 * table["nth"] + 3 * table["order"], unit="min")
        )
        table["shot_key"] = [f"{number}/{row}" for row in range(len(table))]
        table = table.assign(source="s" + (table["nth"] + 1).astype(str), counts=True, clock="UTC", hour=8.0)
        made.append((f"part{number + 1:02d}/job.toml", facts(number, **told), table))
    return made


def jobs_table(made, refused=()):
    """Table `jobs` of a season."""
    rows = [
        {"job": label, "name": each["name"], "date": each["date"], "owner": each["owner"], "state": "judged",
         "shots": each["shots"], **each["counts"], "rows_left_out": 0, "trouble": "", "kind_of_trouble": ""}
        for label, each, _ in made
    ]  # fmt: skip
    blank = {"name": "", "date": "", "owner": "", "shots": 0, "OUT": 0, "UNDECIDED": 0, "NO_DATA": 0, "IN": 0,
             "rows_left_out": 0, "kind_of_trouble": "SourceError"}  # fmt: skip
    rows += [{"job": label, "state": "refused", "trouble": trouble, **blank} for label, trouble in refused]
    return pd.DataFrame(rows)
