"""A short story as a job: the second day's shots come in the other foot, and nothing in the file says so."""

from pathlib import Path

from geoqa.simulate.handed_over import write_text
from geoqa.simulate.job_folder import write
from geoqa.simulate.job_text import JOB_FILE, job_text
from geoqa.simulate.make import Simulated, make

STORY_FILE = "wrong_foot.toml"
SEED, PLANT = 21, "B09"

README = """\
# Day two lies four and a half feet west

A short story with invented people, places and shots. Run it: `geoqa run wrong_foot.toml`.

Two crews staked out Tannery Lane. The first crew's day fits: every check shot lies on its mark within 0.05 ft.
The second crew's file arrives a day later. Its curbs look as if they had been built four and a half feet west of
the drawing, all of them, by the same amount, and its check shots on CP-1 to CP-6 say the same.

| what could be thought | what speaks against it |
|---|---|
| the curb was built in the wrong place | the marks have moved with it |
| the marks were moved | all of them, by the same amount, and only on day two |
| a global frame is shown as NAD83 (here: 4.3 ft west) | that is 2.3 ft north and 2.5 ft low, too; day two is level |
| a bad initialization | it holds through every initialization of the day |
| **the file is in US survey feet** | nothing: easting and northing are both short by two parts in a million |

`geoqa check wrong_foot.toml` says so before anything is judged, with both readings: as declared, the check shots of
day two lie 4.5 ft off their marks; read in US survey feet, 0.03 ft. `geoqa init` in a copy of this folder without the
job file says it of the second file, too. `geoqa run` says so in the findings, on the map and in its notes, with the
odds and the runner-up. The numbers of day two are shown both ways, as read and as they would be without the blunder,
and are judged by neither. Day one is judged as ever.

**What to do.** The remedy is one word in the job file. In `wrong_foot.toml`, in the second `[[shots]]`, write
`unit = "ftUS"` and run again. Everything then lies where it should. geoqa never makes that change by itself:
whether the crew's setting or the office's is wrong is for people to find out, and the next file from that
controller will have the same foot.

| file | what it is |
|---|---|
| `wrong_foot.toml` | the job |
| `shots/day1.csv` | first day, in international feet as the job says |
| `shots/day2.csv` | second day, written in US survey feet |
| `control.csv`, `codes.csv`, `screening.csv`, `design.gpkg` | marks, code list, screening rules, design |
| `centre_line.csv`, `profile.csv` | the centre line |
| `finished_surface.xml`, `structures.csv` | the finished surface; ends and sizes of pipes |
| `site.tif` | a picture under the map, drawn from the design; no photograph |
"""


def story() -> Simulated:
    """The story's tables."""
    return make(seed=SEED, plants=(PLANT,))


def write_story(folder: str | Path) -> Path:
    """Write the story's folder, without the truth: the README tells it.

    Returns
    -------
    Path
        The job file.
    """
    folder, simulated = Path(folder), story()
    write(simulated, folder, over=True)
    for name in (JOB_FILE, "truth.json"):
        (folder / name).unlink()
    for name, text in ((STORY_FILE, _job(simulated)), ("README.md", README)):
        write_text(text, folder / name)
    return folder / STORY_FILE


def _job(simulated: Simulated) -> str:
    """The job file of the simulation, told as the story's."""
    lines = job_text(simulated, finished=False).splitlines(keepends=True)
    first = next(number for number, line in enumerate(lines) if line.startswith("[job]"))
    head = (
        "# Tannery Lane: the second day lies four and a half feet west. Everything in it is invented; see README.md.\n"
        f"# Run it with:  geoqa run {STORY_FILE}\n\n"
    )
    text = head + "".join(lines[first:])
    day, told = text.partition('file         = "shots/day2.csv"')[::2]
    said = 'unit         = "ft"          # international foot, as the frame'
    asked = 'unit         = "ft"          # said so; is it? see what the diagnosis says'
    return day + 'file         = "shots/day2.csv"' + told.replace(said, asked, 1)
