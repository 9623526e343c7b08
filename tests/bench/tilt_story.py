"""A short story as a job: a crew tests its rod on two days, and its heading is read too small."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from bench.leaning import HEADING_BIAS, Compensation, read
from geoqa.simulate.crew.crew import ROD
from geoqa.simulate.crew.draws import stream
from geoqa.simulate.desk import codes, control
from geoqa.simulate.handed_over import SHOTS_HEADER, codes_file, control_file, write_csv, write_text
from geoqa.simulate.site import alignment, scenario

if TYPE_CHECKING:
    import pandas as pd

STORY_FILE = "tilt_test.toml"
SEED = 14
ZONE = scenario.ZONES["EPSG:6547"]
WRONG = Compensation(heading_bias=HEADING_BIAS)
"""The truth of the story, which the README tells."""

DAYS = {"D": "2026-04-07T13:05:00Z", "E": "2026-04-21T18:40:00Z"}
POINTS, TILTS, SIDES, PLUMB = 6, (10.0, 20.0, 30.0), (0.0, 90.0, 180.0, 270.0), 4
SECONDS = {"plumb": 38, "tilted": 17, "check": 190}
U_PLUMB = 0.02
"""Each axis and elevation."""

README = f"""\
# How far may we lean the rod?

A short story with invented people, places and shots. Run it: `geoqa run {STORY_FILE}`, then open `out/tilt.html`.

A crew has a new rod that measures while it leans. It saves time: no bubble to centre. But nobody can say how far it
may lean before a curb that must be right within 0.10 ft can no longer be proven right. So the crew tests it, on two
days a fortnight apart: six nails in pavement; on each nail four shots plumb with the bubble, then four sides times
10°, 20° and 30° of lean, with the compensation settled anew in between. That makes {2 * POINTS * PLUMB} plumb and
{2 * POINTS * len(TILTS) * len(SIDES)} tilted shots, and about two hours in all.

| what the crew wants to know | where it stands |
|---|---|
| how far may the rod lean, for each tolerance? | `out/tilt.html`, first table; layer `tilt_limits` |
| is the compensation wrong by itself? | the heading is: every tilted shot lies clockwise of its nail |
| how much does one shot scatter? | the curves with their bands; layer `tilt_model` |
| how well do we know all this? | the bands, and the number of shots beside each number |
| how much time does it save? | last rows of the second table |
| what should we test next? | the plan at the end of the page; layer `tilt_plan` |

**What is planted:** the heading is read {HEADING_BIAS}° too small, so a tip lies clockwise of its place, by 0.03 ft at
10° and 0.09 ft at 30°. Heading and tilt angle scatter by {WRONG.heading_spread}° and {WRONG.angle_spread}°, plumb shots
by {U_PLUMB} ft on each axis and in elevation, one sigma all.

**What to do.** Set the heading right as the maker of the rod says, and test again: that is the first line of the
plan. Until then, the page prints three lines for the job file that count the bias as uncertainty. Beyond 30°
nothing was tested, and nothing is claimed.

| file | what it is |
|---|---|
| `{STORY_FILE}` | the job |
| `shots/test.csv` | both days |
| `control.csv`, `codes.csv` | two marks for the check shots, code list |
"""

JOB = f"""\
# How far may we lean the rod? Everything in it is invented; see README.md.
# Run it with:  geoqa run {STORY_FILE}

[job]
name     = "Tilt test of rod 2"
revision = "First test, two days"
date     = 2026-04-21
client   = "{scenario.PLACE}"

[frame]
horizontal  = "EPSG:6547"    # NAD83(2011) / North Dakota South (ft): its unit is the international foot
vertical    = "EPSG:8228"    # NAVD88 height (ft)
realization = "NAD83(2011)"
epoch       = 2010.0

[[shots]]
file       = "shots/test.csv"
unit       = "ft"
confidence = "1 sigma"

[control]
file = "control.csv"
unit = "ft"

[codes]
file = "codes.csv"           # TLT is a shot of the test; its line ID names the nail

[tolerance.control]
horizontal = "0.10 ft"
vertical   = "0.15 ft"
reference  = "{scenario.TOLERANCE_REFERENCE}"

# What the rod is to be used for
[tolerance.curb-top]
horizontal = "0.10 ft"
vertical   = "0.08 ft"
reference  = "{scenario.TOLERANCE_REFERENCE}"

[tolerance.walk-front]
horizontal = "0.15 ft"
vertical   = "0.06 ft"
reference  = "{scenario.TOLERANCE_REFERENCE}"

[tolerance.rim]
horizontal = "0.20 ft"       # radius round the design place
vertical   = "0.10 ft"
reference  = "{scenario.TOLERANCE_REFERENCE}"

# What a session has in common does not show in a test within it
[uncertainty.default]
horizontal_random = "0.02 ft"
vertical_random   = "0.02 ft"
horizontal_common = "0 ft"
vertical_common   = "0.02 ft"
reference         = "Crew's repeat shots (invented)"

[outputs]
folder = "out"
layers = ["gpkg", "csv", "summary"]
pages  = ["tilt"]
"""


def shots(seed: int = SEED, wrong: Compensation = WRONG) -> "pd.DataFrame":
    """Shots of the test as the crew's file holds them, in the zone's coordinates."""
    import pandas as pd

    plan = _plan()
    draw = stream(seed, "tilt story")
    leaning = (plan["what"] == "tilted").to_numpy()
    read_tilt, read_azimuth, error = read(
        plan["tilt"].to_numpy() + np.where(leaning, draw.uniform(-1.0, 1.0, len(plan)), 0.0),
        plan["azimuth"].to_numpy() + draw.uniform(-12.0, 12.0, len(plan)),
        wrong,
        draw,
    )
    places = plan[["e", "n", "z"]].to_numpy() + np.where(leaning[:, None], error, 0.0)
    places = places + draw.normal(0.0, U_PLUMB, places.shape) + np.array([ZONE.easting, ZONE.northing, 0.0])
    plan["tilt"] = np.where(leaning, read_tilt, draw.uniform(0.0, 0.4, len(plan)))
    plan["azimuth"] = np.where(leaning, read_azimuth, draw.uniform(0.0, 359.9, len(plan)))
    seconds = plan["what"].map(SECONDS) + draw.integers(-3, 5, len(plan)) + np.where(plan["first"], 25, 0)
    since = pd.to_timedelta(seconds.groupby(plan["session"]).cumsum(), unit="s")
    plan["time"] = pd.to_datetime(plan["session"].map(DAYS), utc=True) + since
    return _written(plan, places, draw)


def _plan() -> "pd.DataFrame":
    """What is shot, in order: a check at begin and end of each day, and every nail in between."""
    import pandas as pd

    rows = []
    for session in DAYS:
        rows.append(_check(session, "CP-1"))
        for number in range(POINTS):
            east, north = alignment.place(1040.0 + 12.0 * number, 31.0)
            nail = {"session": session, "line_id": f"N{number + 1}", "e": float(east), "n": float(north)}
            nail |= {"z": float(alignment.profile(1040.0 + 12.0 * number)) + 0.3}
            for turn in range(PLUMB):
                rows.append({**nail, "what": "plumb", "tilt": 0.0, "azimuth": 0.0, "first": turn == 0})
            for tilt in TILTS:
                for side in SIDES:
                    rows.append({**nail, "what": "tilted", "tilt": tilt, "azimuth": side, "first": False})
        rows.append(_check(session, "CP-2"))
    return pd.DataFrame(rows)


def _check(session: str, mark: str) -> dict:
    station, offset, elevation = scenario.CONTROL[mark]
    east, north = (round(float(each), 3) for each in alignment.place(station, offset))
    place = {"e": east, "n": north, "z": elevation}
    return {"session": session, "line_id": mark, "what": "check", "tilt": 0.0, "azimuth": 0.0, "first": False} | place


def _written(plan: "pd.DataFrame", places: np.ndarray, draw: np.random.Generator) -> "pd.DataFrame":
    """The crew's file: header as every file of the crew's has it."""
    import pandas as pd

    count, check = len(plan), plan["what"] == "check"
    hdop, vdop = draw.uniform(0.55, 0.95, count).round(2), draw.uniform(0.90, 1.60, count).round(2)
    made = pd.DataFrame(
        {
            "point": [str(3001 + number) for number in range(count)],
            **{name: [f"{value:.3f}" for value in places[:, axis]] for axis, name in enumerate(_AXES)},
            "code": np.where(check, "CHK", "TLT"),
            "line_id": plan["line_id"],
            "time_utc": plan["time"].dt.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "session": plan["session"],
            "initialization": plan["session"] + "1",
            "solution": "fixed",
            "satellites": draw.integers(13, 25, count),
            "epochs": np.where(check, 180, 5),
            "pdop": np.hypot(hdop, vdop).round(2),
            "hdop": hdop,
            "vdop": vdop,
            "correction_age_s": draw.uniform(0.6, 1.9, count).round(1),
            "reported_h": (U_PLUMB * np.sqrt(2) * draw.uniform(0.8, 1.15, count)).round(3),
            "reported_v": (U_PLUMB * draw.uniform(0.8, 1.15, count)).round(3),
            "rod_height": ROD,
            "tilt_deg": plan["tilt"].round(1),
            "tilt_azimuth_deg": plan["azimuth"].round(1),
        }
    )
    return made.reindex(columns=list(SHOTS_HEADER))


_AXES = ("easting", "northing", "elevation")


def write_story(folder: str | Path) -> Path:
    """Write the story's folder.

    Returns
    -------
    Path
        The job file.
    """
    folder = Path(folder)
    (folder / "shots").mkdir(parents=True, exist_ok=True)
    write_csv(shots(), folder / "shots" / "test.csv")
    marks = control(ZONE)
    write_csv(control_file(marks[marks["mark"].isin(["CP-1", "CP-2"])]), folder / "control.csv")
    write_csv(codes_file(codes()), folder / "codes.csv")
    for name, text in ((STORY_FILE, JOB), ("README.md", README)):
        write_text(text, folder / name)
    return folder / STORY_FILE
