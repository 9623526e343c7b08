"""A folder that has a job: what is new in it is told, and added as comments when asked."""

import tomllib

import pytest

from geoqa.errors import JobError
from geoqa.job.begin.begin import begin

SHOTS = "point,easting,northing,elevation,code\n1,2228500.1,446000.2,1460.1,CTB\n2,2228520.1,446000.2,1460.2,{}\n"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "day1.csv").write_text(SHOTS.format("CTB"), encoding="utf-8")
    (tmp_path / "codes.csv").write_text("code,kind\nCTB,curb-top\n", encoding="utf-8")
    begin(tmp_path, frame="EPSG:6547")
    return tmp_path


@pytest.mark.long
def test_a_job_that_is_there_is_neither_replaced_nor_changed_unasked(folder):
    before = (folder / "job.toml").read_bytes()
    (folder / "day2.csv").write_text(SHOTS.format("CTB"), encoding="utf-8")
    with pytest.raises(JobError, match=r"(?s)--add.*--force.*new: day2\.csv: collected points"):
        begin(folder)
    assert (folder / "job.toml").read_bytes() == before


@pytest.mark.long
def test_only_what_is_new_is_added_once_and_as_comments(folder):
    before = (folder / "job.toml").read_text(encoding="utf-8")
    assert begin(folder, add=True).added == 0
    assert (folder / "job.toml").read_text(encoding="utf-8") == before
    (folder / "day2.csv").write_text(SHOTS.format("XYZ"), encoding="utf-8")
    assert begin(folder, add=True).added > 0
    after = (folder / "job.toml").read_text(encoding="utf-8")
    assert after.startswith(before)
    assert tomllib.loads(after) == tomllib.loads(before)
    assert '# file = "day2.csv"' in after
    assert "day1.csv" not in after[len(before) :]
    assert begin(folder, add=True).added == 0
    (folder / "job.toml").write_text(
        after.replace("# [[shots]]", "[[shots]]").replace('# file = "day2.csv"', 'file = "day2.csv"'), encoding="utf-8"
    )
    assert begin(folder, add=True).added > 0
    assert "#   XYZ: 1 shot" in (folder / "job.toml").read_text(encoding="utf-8")


def test_a_job_that_is_no_toml_is_named(folder):
    (folder / "job.toml").write_text("[job\n", encoding="utf-8")
    with pytest.raises(JobError, match=r"job\.toml is already in .* cannot be read"):
        begin(folder, add=True)


@pytest.mark.long
def test_a_code_list_that_was_mended_is_never_replaced(tmp_path):
    (tmp_path / "day1.csv").write_text(SHOTS.format("CTB"), encoding="utf-8")
    assert begin(tmp_path).codes is not None
    (tmp_path / "codes_draft.csv").write_text("code,kind\nCTB,mine\n", encoding="utf-8")
    begin(tmp_path, force=True)
    assert (tmp_path / "codes_draft.csv").read_text(encoding="utf-8") == "code,kind\nCTB,mine\n"


@pytest.mark.parametrize(
    ("stated", "new"), [('description = "code line note"', ["XYZ"]), ("", ["CTB1", "CTB2 low", "XYZ"])]
)
def test_codes_are_new_as_the_descriptions_of_the_job_give_them(tmp_path, stated, new):
    rows = "".join(
        f"{n},{2228500 + n}.1,446000.2,1460.1,{text}\n" for n, text in enumerate(("CTB1", "CTB2 low", "XYZ", "CTB"))
    )
    (tmp_path / "day1.csv").write_text("point,easting,northing,elevation,code\n" + rows, encoding="utf-8")
    (tmp_path / "codes.csv").write_text("code,kind,geometry\nCTB,curb-top,line\n", encoding="utf-8")
    job = f'[job]\nname = "A"\n[[shots]]\nfile = "day1.csv"\n{stated}\n[codes]\nfile = "codes.csv"\n'
    (tmp_path / "job.toml").write_text(job, encoding="utf-8")
    begin(tmp_path, add=True)
    lines = (tmp_path / "job.toml").read_text(encoding="utf-8").splitlines()
    assert [line.strip("# ").partition(":")[0] for line in lines if line.endswith(": 1 shot")] == new


@pytest.mark.long
def test_a_file_that_the_job_names_is_not_said_to_be_left_out(folder):
    (folder / "odd.csv").write_text("a report\nof a crew\nPunto;X\n1;2\n", encoding="utf-8")
    assert [each.shown for each in begin(folder, add=True).left] == ["odd.csv"]
    job = folder / "job.toml"
    named = '[[shots]]\nfile = "./odd.csv"\nskip = 2\ncolumns = ["shot", "easting"]\n'
    job.write_text(job.read_text(encoding="utf-8") + named, encoding="utf-8")
    assert begin(folder, add=True).left == ()
