"""Words of lines in a job: in a column of their own, or as the control word of a description; two zones, two feet."""

import numpy as np
import pytest

from geoqa.job.document.load import load
from geoqa.job.inputs.intake import take_in
from geoqa.job.run import run

ZONES = {"EPSG:6565": (1_415_000.0, 415_000.0), "EPSG:6547": (2_228_000.0, 444_000.0)}  # US survey feet, international
CODES = "code,kind,geometry,role\nSWF,walk-front,line,feature\n"
OUTLINE = ((0, 0, "start"), (30, 0, ""), (30, 40, ""), (0, 40, "close"))


def bend(count=5, radius=20.0):
    at = np.radians(np.linspace(180, 90, count))
    return [(100 + radius + radius * np.cos(a), radius * np.sin(a), "arc") for a in at]


def job(folder, frame, head, row, more=""):
    east, north = ZONES[frame]
    lines = [head] * bool(head)
    for line, places in ((1, OUTLINE), (2, bend())):
        for x, y, word in places:
            number = len(lines) + 100
            lines.append(row.format(n=number, e=east + x, v=north + y, z=900.5, line=line, word=word))
    (folder / "day.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "codes.csv").write_text(CODES, encoding="utf-8")
    text = f'[job]\nname = "Words"\n[frame]\nhorizontal = "{frame}"\n[[shots]]\nfile = "day.csv"\n'
    path = folder / "job.toml"
    path.write_text(text + more + '[codes]\nfile = "codes.csv"\n' + STEP * ("ST" in more), encoding="utf-8")
    return path


STEP = '[[steps]]\nuse = "asbuilt-lines"\nstart = ["ST"]\narc = ["PC"]\nclose = ["CL"]\n'


def drawn(results):
    lines = results.layers["asbuilt_lines"].set_index("line")
    return lines["closed"].to_dict(), lines["curves"].to_dict(), lines["length"].to_dict()


def held(results):
    closed, curves, length = drawn(results)
    assert closed == {"SWF 1": True, "SWF 2": False}
    assert curves == {"SWF 1": 0, "SWF 2": 1}
    assert length == pytest.approx({"SWF 1": 140.0, "SWF 2": 10.0 * np.pi}, abs=0.02)


@pytest.mark.long
@pytest.mark.parametrize("frame", ZONES)
def test_words_in_their_own_column(tmp_path, frame):
    head = "Point,Easting,Northing,Elevation,Code,Line,Line Word"
    path = job(tmp_path, frame, head, "{n},{e:.4f},{v:.4f},{z},SWF,{line},{word}")
    held(run(path, write=False))


@pytest.mark.long
@pytest.mark.parametrize("frame", ZONES)
def test_words_in_the_description_under_other_names(tmp_path, frame):
    words = {"start": "ST", "arc": "PC", "close": "CL", "": ""}
    more = 'description = "code line word note"\nline_words = ["ST", "PC", "CL"]\n'
    path = job(
        tmp_path, frame, "Point,Easting,Northing,Elevation,Code", "{n},{e:.4f},{v:.4f},{z},SWF{line} {word}", more
    )
    text = (tmp_path / "day.csv").read_text()
    for ours, theirs in words.items():
        text = text.replace(f" {ours}\n", f" {theirs}\n") if ours else text
    (tmp_path / "day.csv").write_text(text.replace("SWF2 PC", "SWF2 PC wet"), encoding="utf-8")
    shots = take_in(load(path)).layers["shots"]
    assert shots["line_word"].dropna().tolist() == ["ST", "CL"] + ["PC"] * 5
    assert shots["note"].dropna().tolist()[-1] == "PC wet"
    held(run(path, write=False))


def test_without_words_shots_have_no_such_column(tmp_path):
    path = job(
        tmp_path, "EPSG:6547", "Point,Easting,Northing,Elevation,Code,Line", "{n},{e:.4f},{v:.4f},{z},SWF,{line}"
    )
    assert "line_word" not in take_in(load(path)).layers["shots"]
