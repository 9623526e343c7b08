"""How to reach a person, and the folders of a person's machine, leave the office only where the job asks for it."""

import pytest

from geoqa.job.day import DayFiles, day
from geoqa.job.discreet import LISTED
from geoqa.job.run import run

JOB = """[job]
name = "Private"
[frame]
horizontal = "EPSG:6565"
[[shots]]
file = "shots.csv"
[codes]
file = "codes.csv"
[outputs]
layers = ["csv", "geojson", "gpkg", "summary"]
"""
SECRETS = ("555-0134", "Kimberling", "kimberling@example.org", "somebody")


def written(folder, *, more=""):
    notes = ("gate locked, call Kimberling 701-555-0134", "kimberling@example.org has the key", "cracked", "md 6.25")
    rows = [
        f"{n},1415000.0{n},415000.0{n},10{n}.0,VLV,{note!r},C:\\Users\\somebody\\{n}.jpg"
        for n, note in enumerate(notes)
    ]
    head = "point,easting,northing,elevation,code,note,photo"
    text = "\n".join([head, *rows]).replace("'", '"') + "\n"
    (folder / "shots.csv").write_text(text, encoding="utf-8")
    (folder / "codes.csv").write_text("code,kind,geometry,role\nVLV,valve,point,feature\n", encoding="utf-8")
    path = folder / "job.toml"
    path.write_text(JOB + more, encoding="utf-8")
    return path


def everything(folder):
    return b"\n".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()).decode("latin-1")


@pytest.mark.long
def test_no_output_holds_a_number_an_address_or_a_folder_of_a_person(tmp_path):
    results = run(written(tmp_path))
    text = everything(tmp_path / "out")
    assert [secret for secret in SECRETS if secret in text] == []
    assert list(results.layers["shots"]["photo"]) == ["0.jpg", "1.jpg", "2.jpg", "3.jpg"]
    assert list(results.layers["shots"]["note"])[2:] == ["cracked", "md 6.25"]
    (line,) = [line for line in results.notes if "telephone" in line]
    assert "2 crew notes hold" in line
    assert "shots, line 2; shots, line 3" in line


@pytest.mark.long
def test_a_job_that_asks_for_them_hands_them_over(tmp_path):
    results = run(written(tmp_path, more="personal = true\n"))
    assert "gate locked, call Kimberling 701-555-0134" in set(results.layers["shots"]["note"])
    assert not [line for line in results.notes if "telephone" in line]
    assert "somebody" in everything(tmp_path / "out")


def test_the_page_of_a_day_keeps_them_too(tmp_path):
    written(tmp_path)
    day(DayFiles(shots=tmp_path / "shots.csv", frame="EPSG:6565"), folder=tmp_path / "page")
    text = everything(folder=tmp_path / "page")
    assert [secret for secret in SECRETS if secret in text] == []


@pytest.mark.long
def test_a_row_that_could_not_be_read_does_not_tell_its_note(tmp_path):
    path = written(tmp_path)
    with (tmp_path / "shots.csv").open("a", encoding="utf-8") as file:
        file.write('5,nowhere,415000.1,101.0,VLV,"call Kimberling 701-555-0134",\n')
    results = run(path)
    assert "nowhere" in " ".join(line for line in results.notes)
    assert "555-0134" not in everything(tmp_path / "out")


@pytest.mark.long
@pytest.mark.parametrize(("count", "end"), [(LISTED, f"line {LISTED + 1})"), (LISTED + 2, "2 more notes)")])
def test_many_notes_are_counted(tmp_path, count, end):
    path = written(tmp_path)
    rows = [f'{n},1415000.{n},415000.{n},100.0,VLV,"call 701-555-010{n}",' for n in range(count)]
    text = "\n".join(["point,easting,northing,elevation,code,note,photo", *rows]) + "\n"
    (tmp_path / "shots.csv").write_text(text, encoding="utf-8")
    (line,) = [line for line in run(path, write=False).notes if "telephone" in line]
    assert end in line
