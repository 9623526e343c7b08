"""A season of small jobs on one street: control and a curb, some sessions each, with what is planted in them.

Two marks of twelve shots and a dozen of the work make a job that runs in seconds; over many of them a mark moves, or a
receiver measures high. There is no truth file: what is planted is what the caller asks for.
"""

import datetime
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from geoqa.simulate.crew.draws import stream
from geoqa.simulate.site import scenario

ZONE = scenario.ZONES["EPSG:6547"]
MARKS = 5
NOISE, SESSION = (0.008, 0.008, 0.010), (0.010, 0.010, 0.015)
"""Feet, 1 sigma of a shot and of what its session shares, along each axis: a network rover on a bipod."""
JOB = "job.toml"
FIRST = datetime.date(2026, 3, 2)

_JOB_TEXT = """\
[job]
name = "Larkmere Lane, part {number}"
client = "{owner}"
time_zone = "America/Chicago"

[frame]
horizontal = "EPSG:6547"
vertical = "EPSG:8228"

{files}
[control]
file = "control.csv"

[codes]
file = "codes.csv"

[[design]]
file = "design.csv"

[tolerance.curb-top]
horizontal = "0.15 ft"
vertical = "0.15 ft"
reference = "Drawing C-101, note 4 (invented)"

[uncertainty.default]
horizontal_random = "0.01 ft"
vertical_random = "0.012 ft"
horizontal_common = "0.01 ft"
vertical_common = "0.015 ft"
reference = "tests of the crew (invented)"

[outputs]
layers = ["csv", "summary"]
pages = []
"""
_FILE = '[[shots]]\nfile = "{file}"\nreceiver = "{receiver}"\ncrew = "{crew}"\n'


def write_jobs(
    folder: str | Path,
    *,
    jobs: int = 12,
    receivers: Sequence[str] = ("R1", "R2", "R3"),
    moved: tuple[int, int, float] | None = None,
    rods: Mapping[str, float] | None = None,
    seed: int = 1,
) -> list[Path]:
    """Write jobs, a folder each, ten days apart.

    Parameters
    ----------
    folder : str or Path
    jobs : int
    receivers : sequence of str
        Two of them work on each job, a session each, in turn.
    moved : (mark, job, feet), optional
        Mark, by its number from 0, that lies so much lower from that job on, which is counted from 0.
    rods : mapping, optional
        How much longer the rod of a receiver is than is entered for it, in feet.
    seed : int

    Returns
    -------
    list of Path
        The job files.
    """
    made = []
    for number in range(jobs):
        place = Path(folder) / f"part{number + 1:02d}"
        place.mkdir(parents=True)
        used = [receivers[(number + nth) % len(receivers)] for nth in range(min(2, len(receivers)))]
        _write(place / "control.csv", ["mark,easting,northing,elevation,u_h,u_v", *map(_published, range(MARKS))])
        _write(place / "codes.csv", ["code,kind,geometry,role", "CP,control,point,check", "TC,curb-top,line,feature"])
        rows = (f"curb-1,{nth},{','.join(f'{each:.3f}' for each in _curb(25.0 * nth))}" for nth in range(9))
        _write(
            place / "design.csv", ["line,vertex,easting,northing,elevation,kind", *(f"{row},curb-top" for row in rows)]
        )
        for nth, receiver in enumerate(used):
            draw = stream(seed, f"small jobs {number} {nth}")
            lower = np.zeros(MARKS)
            if moved is not None and number >= moved[1]:
                lower[moved[0]] = moved[2]
            high = (rods or {}).get(receiver, 0.0)
            _write(place / f"session{nth + 1}.csv", _session(draw, number, nth, lower, high))
        files = "\n".join(
            _FILE.format(file=f"session{nth + 1}.csv", receiver=receiver, crew=f"crew {receiver[-1]}")
            for nth, receiver in enumerate(used)
        )
        owner = ("Town of Larkmere", "Larkmere Water District")[number % 2]
        _write(place / JOB, _JOB_TEXT.format(number=number + 1, owner=owner, files=files).splitlines())
        made.append(place / JOB)
    return made


def _place(mark: int) -> np.ndarray:
    return np.array([ZONE.easting + 100.0 * mark, ZONE.northing + 40.0 * (mark % 2), 1450.0 + mark])


def _curb(along: float) -> np.ndarray:
    return np.array([ZONE.easting + 50.0 + along, ZONE.northing + 10.0, 1449.0 + 0.01 * along])


def _published(mark: int) -> str:
    return f"CP-{mark + 1},{','.join(f'{each:.3f}' for each in _place(mark))},0.005,0.005"


def _session(draw: np.random.Generator, number: int, nth: int, lower: np.ndarray, high: float) -> list[str]:
    """Rows of a session: every mark once, the curb, every mark again."""
    begins = datetime.datetime.combine(FIRST + datetime.timedelta(days=10 * number), datetime.time(13 + 4 * nth))
    shared = draw.normal(size=3) * SESSION + [0.0, 0.0, high]
    plan = [(f"CP-{mark + 1}", "CP", f"CP-{mark + 1}", _place(mark) - [0, 0, lower[mark]]) for mark in range(MARKS)]
    curb = [(f"{100 * (nth + 1) + each}", "TC", "TC-1", _curb(8.0 + 15.0 * each)) for each in range(12)]
    rows = ["point,easting,northing,elevation,code,line_id,time_utc,session"]
    for order, (name, code, line, true) in enumerate([*plan, *curb, *plan]):
        east, north, up = true + shared + draw.normal(size=3) * NOISE
        time = begins + datetime.timedelta(minutes=3 * order)
        rows.append(f"{name},{east:.3f},{north:.3f},{up:.3f},{code},{line},{time.isoformat()}Z,{'AB'[nth]}")
    return rows


def _write(path: Path, lines: list[str]) -> None:
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
