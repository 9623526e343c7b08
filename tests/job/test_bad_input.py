"""What bad input gets: a message that says what, where, what is allowed and what to do next."""

import re
import shutil
import sqlite3

import pytest

from geoqa.errors import FrameError, JobError, OutputError, SourceError
from geoqa.job.check import check
from geoqa.job.document.load import load
from geoqa.job.inputs.intake import take_in
from geoqa.job.run import run
from geoqa.simulate import make, write


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """A demo job folder, written once; tests copy it."""
    return write(make(seed=3), tmp_path_factory.mktemp("demo") / "job")


@pytest.fixture
def job(demo, tmp_path):
    """A copy of the demo job that a test may spoil."""
    shutil.copytree(demo.parent, tmp_path / "job")
    return tmp_path / "job" / demo.name


def change(path, old, new, *, count=1):
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, count), encoding="utf-8", newline="\n")


def refused(job, kind=SourceError):
    with pytest.raises(kind) as caught:
        take_in(load(job))
    return str(caught.value)


@pytest.mark.long
def test_the_untouched_job_is_taken_in(job):
    layers = take_in(load(job)).layers
    assert len(layers["shots"]) > 900
    assert layers["shots"]["shot_key"].is_unique


def test_a_missing_file_says_where_it_was_looked_for(job):
    (job.parent / "control.csv").unlink()
    assert re.search(r"control.csv: there is no such file .*job file's folder", refused(job))


def test_check_names_every_missing_file_at_once(job):
    (job.parent / "control.csv").unlink()
    (job.parent / "codes.csv").unlink()
    problems = check(job).problems
    assert [problem.split(":")[0] for problem in problems] == ["control.csv", "codes.csv"]


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "empty"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "binary|not text"),
        (b"point\n1\n2\n3\n", "column|delimiter"),
        (b"point,easting,easting,elevation,code\n1,2228500,446000,1460,CTB\n", "easting.*twice|two columns|duplicate"),
        (b"point,easting,northing,elevation,code\n1," + b"9" * 10_000_000 + b",446000,1460,CTB\n", "line 2"),
    ],
    ids=["empty", "binary", "one column", "duplicate header", "10 MB line"],
)
def test_a_file_that_is_no_table_of_shots_is_refused_by_name(job, content, message):
    (job.parent / "shots" / "day1.csv").write_bytes(content)
    said = refused(job)
    assert "day1.csv" in said
    assert re.search(message, said, re.IGNORECASE), said


@pytest.mark.long
@pytest.mark.parametrize("number", ["NaN", "1e400", "inf", "12a4"])
def test_a_number_that_is_none_is_told_with_its_line_and_the_rest_goes_on(job, number):
    path = job.parent / "shots" / "day1.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    fields = lines[40].split(",")
    fields[1] = number
    lines[40] = ",".join(fields)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
    intake = take_in(load(job))
    assert any(re.search(r"day1.csv, line 41, .*easting", trouble) for trouble in intake.troubles), intake.troubles
    row = intake.layers["shots"].query("source == 'day1' and line == 41")
    assert row["easting"].isna().all()
    assert row.geometry.isna().all()


def test_a_foot_conflict_between_file_and_job_names_both(job):
    change(job, 'file = "design.gpkg"', 'file = "design.gpkg"\nunit = "ftUS"')
    said = refused(job, FrameError)
    assert "design.gpkg" in said
    assert "US survey foot" in said
    assert "international foot" in said
    assert "accept" in said


def test_the_wrong_zone_is_refused_by_the_area_of_use(job):
    change(job, 'horizontal  = "EPSG:6547"', 'horizontal  = "EPSG:6559"')
    said = refused(job, FrameError)
    assert re.search(r"outside|EPSG:6559|Oregon", said)


def test_an_unknown_system_is_named_with_what_is_like_it(job):
    change(job, 'horizontal  = "EPSG:6547"', 'horizontal  = "EPSG:65470"')
    assert "65470" in refused(job, FrameError)


def test_degrees_are_no_frame(job):
    change(job, 'horizontal  = "EPSG:6547"', 'horizontal  = "EPSG:6318"')
    assert re.search("projected", refused(job, FrameError))


def test_two_design_lines_of_one_name_in_two_files_are_named(job):
    shutil.copy(job.parent / "design.gpkg", job.parent / "more.gpkg")
    change(job, "[tolerance.control]", '[[design]]\nfile = "more.gpkg"\n\n[tolerance.control]')
    said = refused(job)
    assert re.search(r"stands twice in design_lines \(from design, more\)", said)


def test_a_control_mark_that_stands_twice_is_refused(job):
    path = job.parent / "control.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([*lines, lines[1]]) + "\n", encoding="utf-8", newline="\n")
    assert "CP-1" in refused(job)


def test_a_design_file_that_is_another_thing_is_refused(job):
    (job.parent / "design.gpkg").write_bytes(b"not a database")
    assert "design.gpkg" in refused(job)


def test_a_design_database_without_layers_is_refused(job):
    path = job.parent / "design.gpkg"
    path.unlink()
    sqlite3.connect(path).execute("create table some_table (a int)").connection.close()
    assert "design.gpkg" in refused(job)


def test_the_job_file_is_refused_before_any_data_is_opened(job):
    change(job, 'name     = "Tannery Lane, phase 0"', 'name     = ""')
    shutil.rmtree(job.parent / "shots")
    with pytest.raises(JobError, match="must not be empty"):
        check(job)


@pytest.mark.long
def test_names_stay_text_and_repeats_get_their_own_key(job):
    path = job.parent / "shots" / "day1.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    for at, name in ((5, "007"), (6, "007"), (7, "1E5"), (8, "NA")):
        lines[at] = name + lines[at][lines[at].index(",") :]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
    shots = take_in(load(job)).layers["shots"].query("source == 'day1'").set_index("line")
    assert list(shots.loc[[6, 7, 8, 9], "shot"]) == ["007", "007", "1E5", "NA"]
    assert set(shots.loc[[6, 7], "shot_key"]) == {"day1/007", "day1/007~2"}


@pytest.mark.long
def test_a_design_with_no_line_of_a_kind_that_has_shots_is_told_and_nothing_passes(job):
    change(job.parent / "codes.csv", "curb-top", "curb-edge")
    change(job, "[tolerance.curb-top]", "[tolerance.curb-edge]")
    change(job, "[tolerance.rim]", '[tolerance.rimm]\nvertical = "1 ft"\nreference = "note 1"\n\n[tolerance.rim]')
    results = run(load(job), write=False)
    notes = "\n".join(results.notes)
    assert re.search(r"The design has nothing of kind curb-edge, so \d+ shots cannot be compared", notes)
    assert "[tolerance.rimm]: neither the shots nor the design have this kind" in notes
    rows = results.findings.query("kind == 'curb-edge'")
    assert set(zip(rows["verdict"], rows["why"], strict=True)) == {("NO_DATA", "no-design")}
    assert set(results.findings.query("kind == 'curb-top'")["verdict"]) <= {"OUT"}


@pytest.mark.long
def test_an_output_folder_full_of_originals_is_refused_and_they_stay_as_they_were(job, tmp_path):
    shots = tmp_path / "shots.csv"
    shots.write_bytes((job.parent / "shots" / "day1.csv").read_bytes())
    before = shots.read_bytes()
    small = tmp_path / "small.toml"
    small.write_text(
        '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "shots.csv"\n'
        '[outputs]\nfolder = "."\nlayers = ["csv"]\npages = []\n',
        encoding="utf-8",
    )
    with pytest.raises(OutputError, match=r"shots\.csv would replace shots\.csv, which was read"):
        run(load(small))
    assert shots.read_bytes() == before
    assert not (tmp_path / "findings.csv").exists()


@pytest.mark.long
def test_a_path_written_with_backslashes_is_found(job):
    change(job, '"shots/day1.csv"', "'shots\\day1.csv'")
    assert len(take_in(load(job)).layers["shots"]) > 900


@pytest.mark.long
def test_lost_rows_are_told_before_the_numbers_and_what_the_log_lacks_once_and_last(job):
    for day in ("day1", "day2"):
        change(job.parent / "shots" / f"{day}.csv", ",pdop,", ",unknown,")
    path = job.parent / "shots" / "day1.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    lines[5] = lines[5][:20]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
    results = run(load(job), write=False)
    assert results.summary["rows_left_out"] == 1
    place = next(at for at, note in enumerate(results.notes) if note.startswith("1 row could not be read"))
    assert "shots/day1.csv, line 6, row: " in results.notes[place]
    assert not any("No tolerance" in note or "Impossible" in note for note in results.notes[:place])
    assert [note.split(":")[0] for note in results.notes if "pdop" in note] == ["Impossible without pdop in the log"]
    assert "pdop" in results.notes[-1]


def test_shots_without_any_place_are_refused(job):
    path = job.parent / "shots" / "day1.csv"
    rows = path.read_text(encoding="utf-8").splitlines()[:20]
    spoilt = [rows[0], *(re.sub(r"^([^,]*),[^,]*,", r"\1,somewhere,", row) for row in rows[1:])]
    path.write_text("\n".join(spoilt) + "\n", encoding="utf-8", newline="\n")
    said = refused(job)
    assert "no row has an easting and a northing" in said
    assert "line 2, easting: 'somewhere'" in said


@pytest.mark.long
def test_an_assumed_unit_of_elevations_is_among_the_first_notes_and_so_are_unknown_codes(job):
    change(job, "EPSG:8228", "EPSG:5703")
    change(job.parent / "codes.csv", "\nSTP,", "\nstp,")
    for name in ("[control]", "[[design]]"):
        change(job, name, f'{name}\nvertical = "ft"')
    change(job, 'file         = "shots/day1.csv"', 'file = "shots/day1.csv"\nvertical = "ft"')
    notes = run(load(job), write=False).notes
    told = [note for note in notes if "unit of elevations: assumed: metre" in note and note.startswith("shots/")]
    assert len(told) == 1
    assert told[0].startswith("shots/day2.csv, finished_surface.xml, ")
    assert 'vertical = "ft"' in told[0]
    assert any(re.search(r"not in the code list, shown and not judged: STP \(\d+\)", note) for note in notes)


@pytest.mark.long
def test_one_bad_row_is_one_note_that_names_file_line_and_what_was_not_read(job):
    path = job.parent / "shots" / "day1.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    fields = lines[30].split(",")
    fields[1], fields[3] = "22x8", "--"
    lines[30] = ",".join(fields)
    lines[5], lines[8] = lines[5][:20], lines[8][:20]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
    taken = take_in(load(job))
    notes = [note for note in run(load(job), write=False).notes if "shots/day1.csv, line" in note]
    assert [each for each in notes if "line 31," in each] == [
        "Row not read whole: shots/day1.csv, line 31, easting: '22x8' is not a number; elevation: '--' is not a number"
    ]
    # the first lost row stands in the note on lost rows, the other by itself
    assert [each.startswith("2 rows could not be read") for each in notes if "line 6," in each] == [True]
    assert [each.startswith("Row not read whole") for each in notes if "line 9," in each] == [True]
    assert len(taken.troubles) == 3
