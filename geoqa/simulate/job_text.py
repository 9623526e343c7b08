"""The texts of a simulated job: its job file, with a reason beside every number, and its README."""

from typing import TYPE_CHECKING

from geoqa.simulate.picture import CAPTION, PICTURE_FILE
from geoqa.simulate.site import scenario

if TYPE_CHECKING:
    from geoqa.simulate.make import Simulated

JOB_FILE = "tannery_lane.toml"


def job_text(simulated: "Simulated", *, finished: bool = True) -> str:
    """The job file; without limits on numbers of several shots where `finished` is false."""
    limits = tolerances_text(finished=finished)
    return "\n".join([_head(simulated), *_inputs(), limits, uncertainties_text(), _tail()])


def _head(simulated: "Simulated") -> str:
    frame = simulated.frame
    return f"""\
# {scenario.TITLE}, {scenario.PLACE}: a simulated job. Everything in it is invented.
# Run it with:  geoqa run {JOB_FILE}
# The truth is in truth.json; geoqa never reads that file.

[job]
name     = "{scenario.TITLE}"
revision = "{scenario.REVISION}"
date     = {scenario.JOB_DATE}
client   = "{scenario.PLACE}"

# The title block says PRELIMINARY until the licensee in responsible charge records a review:
# [review]
# by = "…"
# on = 2026-05-20

[frame]
horizontal  = "{frame.horizontal}"    # {frame.horizontal_name}: its unit is the {frame.unit.full_name}
vertical    = "{frame.vertical}"    # {frame.vertical_name}
realization = "NAD83(2011)"
epoch       = 2010.0
"""


def _inputs() -> list[str]:
    shots = [
        f"""\
[[shots]]
file         = "shots/{day}.csv"
unit         = "ft"          # international foot, as the frame
zero_is_null = true          # this crew's log writes 0 where no elevation was taken
confidence   = "1 sigma"     # what the log's reported precisions mean
"""
        for day in ("day1", "day2")
    ]
    return [
        *shots,
        """\
[control]
file = "control.csv"
unit = "ft"

[codes]
file = "codes.csv"

[screening]
file = "screening.csv"

[[design]]
file = "design.gpkg"

[[design]]                   # the finished surface: how deep what is buried lies
file = "finished_surface.xml"
surfaces = ["finished grade"]

[[structures]]               # ends of pipes: their shots, sizes and materials
file = "structures.csv"
unit = "ft"

[baseline]                   # the centre line: its stations and offsets stand beside every number
file = "centre_line.csv"
unit = "ft"
name = "Tannery Lane"

[profile]
file = "profile.csv"
unit = "ft"
""",
        f"""\
[background]
file    = "{PICTURE_FILE}"           # a picture under the map, the user's own; nothing is measured on it
caption = "{CAPTION}"
""",
    ]


def tolerances_text(*, finished: bool = True) -> str:
    """Tables of tolerances, with the reason beside each."""
    parts = []
    several = scenario.FINISHED if finished else {}
    kinds = dict.fromkeys((*scenario.TOLERANCES, *several))
    for kind in kinds:
        horizontal, vertical, spacing = scenario.TOLERANCES.get(kind, (None, None, None))
        lines = [f"[tolerance.{kind}]"]
        for name, value in (("horizontal", horizontal), ("vertical", vertical), ("spacing", spacing)):
            if value is not None:
                lines.append(f'{name:<10} = "{value:g} ft"' if name == "spacing" else f'{name:<10} = "{value:.2f} ft"')
        lines += [f"{name:<10} = {_written(value)}" for name, value in several.get(kind, {}).items()]
        lines.append(f'reference  = "{scenario.TOLERANCE_REFERENCE}"')
        if kind in _REMARKS:
            lines.insert(1, f"# {_REMARKS[kind]}")
        parts.append("\n".join(lines) + "\n")
    return "\n".join(parts)


def _written(value: str | tuple[str, str]) -> str:
    if isinstance(value, str):
        return f'"{value}"'
    sides = [f'{side} = "{each}"' for side, each in zip(("least", "most"), value, strict=True) if each]
    return "{ " + ", ".join(sides) + " }"


_REMARKS = {
    "control": "how far a check shot may lie off its mark",
    "curb-flow": "horizontal: across the line; spacing: longest reach without a shot",
    "rim": "horizontal: radius round the design place",
    "invert": "kept on purpose: a limit this method cannot prove",
    "walk": "both edges together: least width, most slope along and across",
    "ramp": "horizontal and vertical: each corner; the slopes: the ramp as a whole",
}


def uncertainties_text() -> str:
    """Tables of what the crew knows of its own shots."""
    parts = ["# One standard uncertainty of one shot. Random: this shot alone. Common: shared by a session.\n"]
    for kind, values in scenario.PRECISION.items():
        names = ("horizontal_random", "vertical_random", "horizontal_common", "vertical_common")
        rows = [f'{name} = "{value:g} ft"' for name, value in zip(names, values, strict=True)]
        head = f"[uncertainty.{'default' if kind == '*' else kind}]"
        parts.append("\n".join([head, *rows, f'reference = "{scenario.PRECISION_REFERENCE}"']) + "\n")
    return "\n".join(parts)


def _tail() -> str:
    return """\
[decision]
rule = "guarded"     # in or out only where that is at least 95 % sure; otherwise undecided

[outputs]
folder = "out"
"""


def readme_text(simulated: "Simulated") -> str:
    """What a person should know who finds the folder."""
    planted = "\n".join(f"- **{item}** {words}" for item, words in simulated.truth.planted().items())
    return f"""\
# {scenario.TITLE}

A simulated job: street, town, marks, structures and shots are invented, and defects are planted in it.
Seed {simulated.seed}, {simulated.frame.describe()}.

Run it: `geoqa run {JOB_FILE}`. Results go to `out`.

| file | what it is |
|---|---|
| `{JOB_FILE}` | the job: inputs, frame, tolerances, uncertainties |
| `shots/day1.csv`, `shots/day2.csv` | two days of shots with their raw log |
| `control.csv`, `codes.csv`, `screening.csv` | marks, code list, screening rules |
| `design.gpkg` | design revision B: lines, their elements, points |
| `centre_line.csv`, `profile.csv` | the centre line, in plan and in profile |
| `finished_surface.xml` | the finished surface of the design, LandXML |
| `structures.csv` | which shot is of which end of a pipe, sizes, materials |
| `{PICTURE_FILE}` | a picture under the map, drawn from the design; no photograph |
| `truth.json` | what is really there; the tool never reads it |

Every shot and finding has its station and offset from the centre line. Design lines also count their own stations: they
agree with the centre line up to the curve at 18+00 and run ahead or behind on its outside or inside; those of curbs and
walks agree again from Osprey Street (22+50) on.

## What is planted

{planted}

The same folder comes from `geoqa demo FOLDER --seed {simulated.seed} --zone {simulated.zone.code}`.
"""
