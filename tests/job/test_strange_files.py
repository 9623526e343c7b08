"""Files in other people's shapes: an order of columns nobody states, three things in one field, a day in two files."""

import numpy as np
import pytest

from geoqa.errors import JobError, OrderError
from geoqa.job.check import check
from geoqa.job.day import DayFiles, day
from geoqa.job.document.load import load, parse
from geoqa.job.inputs.descriptions import Splitter, previews, splitter
from geoqa.job.inputs.intake import take_in
from geoqa.job.plan import default_steps

ZONES = {
    "EPSG:6565": (1_415_000.0, 415_000.0),  # US survey feet
    "EPSG:6547": (2_228_000.0, 444_000.0),  # international feet
    "EPSG:26915": (500_300.0, 4_901_000.0),  # metres
}
CODES = "code,kind,geometry,role\nSWF,walk-front,line,feature\nCTB,curb-top,line,feature\nMH,manhole,point,feature\n"
CHECKS = "CHK,control,point,check\n"
FIELD = ("SWF2 12 cracked", "SWF 12", "CTB-3 wet", "MH 12 in. pipe", "SWFF2")


def job(folder, frame, *, control=True, codes=CODES + CHECKS, shots='file = "day1.txt"', more=""):
    east, north = ZONES[frame]
    rows = [f"{n},{north + 10 * n:.2f},{east + 7 * n:.2f},{200 + n / 10:.2f},{FIELD[n % 5]}" for n in range(20)]
    rows += [f"9{n},{north + 50 * n + 0.01:.2f},{east + 40 * n:.2f},{210 + n}.01,CK CP-{n}" for n in (1, 2)]
    (folder / "day1.txt").write_text("\n".join(rows) + "\n", encoding="utf-8")
    marks = [f"CP{n},{east + 40 * n},{north + 50 * n},{210 + n}" for n in (1, 2)]
    (folder / "control.csv").write_text("\n".join(["mark,easting,northing,elevation", *marks]) + "\n", encoding="utf-8")
    (folder / "codes.csv").write_text(codes, encoding="utf-8")
    text = (
        f'[job]\nname = "Strange"\n[frame]\nhorizontal = "{frame}"\n[[shots]]\n{shots}\n[codes]\nfile = "codes.csv"\n'
    )
    text += '[control]\nfile = "control.csv"\n' * control + more
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path


def why(intake, what):
    return [line for line in intake.evidence if f": {what}:" in line]


@pytest.mark.parametrize("frame", ZONES)
def test_the_order_of_columns_is_settled_by_control(tmp_path, frame):
    intake = take_in(load(job(tmp_path, frame)))
    shots = intake.layers["shots"]
    east, north = ZONES[frame]
    assert len(shots) == 22
    assert shots["easting"].between(east - 1, east + 500).all()
    assert shots["northing"].between(north - 1, north + 500).all()
    assert "from control.csv" in why(intake, "columns")[0]


def test_without_other_files_the_area_of_use_settles_the_order_and_says_so(tmp_path):
    intake = take_in(load(job(tmp_path, "EPSG:6547", control=False)))
    assert intake.layers["shots"]["easting"].between(2_227_000, 2_229_000).all()
    assert "outside the area of use" in why(intake, "columns")[0]


def test_an_order_that_nothing_settles_is_asked_with_the_lines_to_add(tmp_path):
    path = job(tmp_path, "EPSG:6547", control=False)
    near = "1,2228000.1,2228090.2,900.1,SWF\n2,2228010.1,2228080.2,900.2,MH\n"
    path.with_name("day1.txt").write_text(near, encoding="utf-8")
    path.write_text(path.read_text().replace("EPSG:6547", "EPSG:26915"), encoding="utf-8")
    with pytest.raises(OrderError, match=r'(?s)columns = \["shot", "easting".*columns = \["shot", "northing"'):
        take_in(load(path))
    assert any("columns = [" in each for each in check(path).problems)


def test_a_wrong_order_is_never_taken_because_a_control_list_lies_elsewhere(tmp_path):
    path = job(tmp_path, "EPSG:26915")
    path.with_name("control.csv").write_text("mark,easting,northing\nA,300000.0,300000.0\n", encoding="utf-8")
    path.with_name("day1.txt").write_text(
        "1,400000.1,500000.2,90.1,SWF\n2,400010.1,500010.2,90.2,MH\n", encoding="utf-8"
    )
    with pytest.raises(OrderError):
        take_in(load(path))


def test_code_line_and_note_are_taken_apart_where_the_job_says_so(tmp_path):
    intake = take_in(load(job(tmp_path, "EPSG:6565", shots='file = "day1.txt"\ndescription = "code line note"')))
    shots = intake.layers["shots"].iloc[:5]
    assert shots["code"].tolist() == ["SWF", "SWF", "CTB", "MH", "SWFF2"]
    assert shots["line_id"].fillna("").tolist() == ["2", "12", "3", "", ""]
    assert shots["note"].fillna("").tolist() == ["12 cracked", "", "wet", "12 in. pipe", ""]
    assert why(intake, "descriptions")


def test_a_check_word_and_the_name_of_a_mark_are_a_check_shot_whatever_the_code_list_calls_it(tmp_path):
    intake = take_in(load(job(tmp_path, "EPSG:6565")))
    checks = intake.layers["shots"].iloc[-2:]
    assert checks["code"].tolist() == ["CK", "CK"]
    assert checks["line_id"].tolist() == ["CP1", "CP2"]
    codes = intake.layers["codes"].set_index("code")
    assert codes.loc["CK", ["kind", "role"]].tolist() == ["control", "check"]
    assert intake.layers["shots"]["code"].iloc[0] == FIELD[0], "the rest is left as written"
    assert why(intake, "check shots")
    assert why(intake, "check word")


def test_check_says_what_the_codes_would_become_and_the_line_to_add(tmp_path):
    remarks = check(job(tmp_path, "EPSG:6565")).remarks
    assert any('with description = "code line note"' in each for each in remarks)
    assert any("SWF: 8 shots, 2 lines (2, 12)" in each for each in remarks)
    assert any("SWFF2: 4 shots, not in the code list; did the crew mean SWF?" in each for each in remarks)


@pytest.mark.parametrize(
    ("written", "code", "line", "note"),
    [
        ("SWF2", "SWF", "2", ""),
        ("SWF_2 low", "SWF", "2", "low"),
        ("SWF B 2 low", "SWF", "", "B 2 low"),
        ("C12", "C12", "", ""),
        ("C1", "C1", "", ""),
        ("MH12", "MH", "12", ""),
        ("swf2", "swf2", "", ""),
    ],
)
def test_a_description_is_taken_apart_by_the_code_list_and_never_beyond_it(written, code, line, note):
    by = Splitter(dict.fromkeys(("SWF", "C", "C1"), ("line", "feature")) | {"MH": ("point", "feature")})
    split = by.split(written)
    assert (split.code, split.line, split.note) == (code, line, note)


def test_what_can_be_two_codes_is_left_as_written_and_told():
    by = Splitter({"C": ("line", "feature"), "C1": ("line", "feature")})
    assert by.split("C12").trouble == "can be C line 12 or C1 line 2"
    assert by.split("swf2").proposal == ""
    assert Splitter({"SWF": ("line", "feature")}).split("swf2").proposal == "SWF"


def test_control_words_are_stepped_over_where_the_pattern_has_them():
    by = Splitter({"SWF": ("line", "feature")}, pattern=("code", "word", "line", "note"), words=("B", "E"))
    split = by.split("SWF B 2 low")
    assert (split.line, split.note) == ("2", "B low")


def test_without_lists_only_letters_and_figures_are_taken_apart():
    assert [str(each) for each in previews(["SW2 old", "SW2 old"], splitter(None, None))] == [
        "SW: 2 shots, 1 line (2); e.g. 'SW2 old' = SW line 2, note 'old'"
    ]


@pytest.mark.parametrize(
    "line",
    ['description = "line code"', 'description = "code code"', 'description = "code word note"', 'line_words = ["B"]'],
)
def test_a_description_that_says_nothing_is_refused_with_its_place(line):
    with pytest.raises(JobError, match=r"shots"):
        parse(f'[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6565"\n[[shots]]\nfile = "a.csv"\n{line}\n')


SPLIT_DAY = "Pt,East,North,Elev,Code,Time\n{n},1415000.5,415000.5,900.5,SWF,2026-04-14T1{n}:00:00Z\n"


def test_two_files_of_one_crew_day_are_one_session_where_the_job_says_so(tmp_path):
    for n in (1, 2):
        (tmp_path / f"part{n}.csv").write_text(SPLIT_DAY.format(n=n), encoding="utf-8")
    files = "".join(f'[[shots]]\nfile = "part{n}.csv"\nsession = "A"\nsetup = "base {n}"\n' for n in (1, 2))
    text = f'[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6565"\n{files}'
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    shots = take_in(load(tmp_path / "job.toml")).layers["shots"]
    assert shots["session"].tolist() == ["A", "A"]
    assert shots["initialization"].tolist() == ["base 1", "base 2"]
    assert shots["source"].tolist() == ["part1", "part2"]


@pytest.mark.long
def test_side_shots_of_a_total_station_bring_their_own_uncertainty(tmp_path):
    from geoqa.job.run import run

    for n in (1, 2):
        (tmp_path / f"part{n}.csv").write_text(SPLIT_DAY.format(n=n), encoding="utf-8")
    of_file = '{ horizontal_random = "0.005 ft", horizontal_common = "0.006 ft", reference = "station, sheet 2" }'
    (tmp_path / "job.toml").write_text(
        '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6565"\n[[shots]]\nfile = "part1.csv"\n'
        f'[[shots]]\nfile = "part2.csv"\nsetup = "S 2"\nuncertainty = {of_file}\n'
        '[uncertainty.default]\nhorizontal_random = "0.02 ft"\nreference = "repeats"\n',
        encoding="utf-8",
    )
    layers = run(tmp_path / "job.toml", write=False).layers
    shots, budget = layers["shots"], layers["budget"]
    assert shots["u_h_random"].tolist() == pytest.approx([0.02, 0.005], rel=1e-5)  # of the other foot
    assert shots["u_h_common"][1] == pytest.approx(0.006, rel=1e-5)
    assert "declared for the file: station, sheet 2" in set(budget["source"])
    job = load(tmp_path / "job.toml").job
    assert parse(job.to_toml()) == job


@pytest.mark.long
def test_day_takes_several_files_and_the_lines_its_messages_name(tmp_path):
    job(tmp_path, "EPSG:6565")
    (tmp_path / "part2.csv").write_text(SPLIT_DAY.format(n=1), encoding="utf-8")
    files = {"shots": (tmp_path / "day1.txt", tmp_path / "part2.csv"), "frame": "EPSG:6565"}
    lines = ('session = "A"', 'day1.txt: columns = ["shot", "northing", "easting", "elevation", "code"]')
    results = day(DayFiles(**files, lines=lines))
    shots = results.layers["shots"]
    assert shots["session"].unique().tolist() == ["A"]
    assert shots["source"].nunique() == 2
    assert np.isclose(shots["easting"].iloc[0], 1_415_000.0)
    assert results.title.name == "day1.txt and 1 other file"


def test_day_asks_for_the_order_in_its_own_words_and_doubts_offsets(tmp_path):
    path = tmp_path / "shots.csv"
    path.write_text("1,415000.1,1415000.2,900.1,SWF\n", encoding="utf-8")
    with pytest.raises(OrderError, match="--columns shot,northing,easting,elevation,code"):
        day(DayFiles(shots=path))
    path.write_text("Band,North,East,Up\nL1,0.58,-1.20,66.31\nL2,-0.11,0.74,65.02\n", encoding="utf-8")
    with pytest.raises(JobError, match="offsets, not shots"):
        day(DayFiles(shots=path, frame="EPSG:6565"))


def test_a_job_that_names_the_page_of_a_day_runs_what_it_shows(tmp_path):
    text = job(tmp_path, "EPSG:6565").read_text() + '[outputs]\npages = ["day"]\n'
    loaded = parse(text)
    names = [step.name for step in default_steps(loaded.steps, loaded.outputs.every)]
    assert "day-items" in names
    assert "day-items" not in [step.name for step in default_steps()]
    with pytest.raises(JobError, match="switches that off"):
        parse(text + '[[steps]]\nuse = "day-items"\noff = true\n')


@pytest.mark.long
def test_the_page_of_a_day_is_written_by_a_run(tmp_path):
    from geoqa.job.run import run

    path = job(tmp_path, "EPSG:6565", more='[outputs]\nlayers = []\npages = ["day"]\n')
    run(path)
    assert "Code is not in the code list" in (tmp_path / "out" / "day.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("shots", "control", "doubts"), [("GEOID18", "geoid 18", 0), ("GEOID12B", "GEOID18", 1), ("", "GEOID18", 0)]
)
def test_elevations_of_two_geoid_models_are_told_where_the_files_state_them(tmp_path, shots, control, doubts):
    line = f'\ngeoid = "{shots}"' if shots else ""
    path = job(tmp_path, "EPSG:6565", shots=f'file = "day1.txt"{line}')
    path.write_text(path.read_text().replace('"control.csv"', f'"control.csv"\ngeoid = "{control}"'), encoding="utf-8")
    told = [each.words for each in take_in(load(path)).doubts]
    assert len(told) == doubts
    assert all("day1.txt are by GEOID12B, those of control.csv by GEOID18" in each for each in told)


@pytest.mark.parametrize(
    ("written", "mark", "word", "note"),
    [
        ("CK CP11", "CP11", "CK", ""),
        ("CKCP11 leaning", "CP11", "CK", "leaning"),
        ("chk-CP-11", "CP11", "chk", ""),
        ("CP11 CHK", "CP11", "CHK", ""),
        ("CP11 check before rain", "CP11", "check", "before rain"),
        ("CK BM 7 low", "BM 7", "CK", "low"),
        ("BM 7 CK", "BM 7", "CK", ""),
    ],
)
def test_a_check_is_found_in_whatever_order_word_and_mark_are_written(written, mark, word, note):
    split = Splitter({"SWF": ("line", "feature")}, marks=("CP11", "BM 7")).split(written)
    assert (split.check, split.line, split.code, split.note) == (True, mark, word, note)


@pytest.mark.parametrize("written", ["CK", "CKCP12", "CP11", "CKP1", "SWF CP11", "CKS2"])
def test_what_names_no_mark_or_is_a_code_with_a_number_is_no_check(written):
    codes = {"SWF": ("line", "feature"), "CKP": ("line", "feature"), "CKS": ("line", "feature")}
    assert not Splitter(codes, marks=("CP11", "P1", "S2")).split(written).check


def test_a_file_whose_order_is_open_is_named_among_what_was_looked_at(tmp_path):
    shots, marks = tmp_path / "day.txt", tmp_path / "marks.txt"
    shots.write_text("1,319097.1,1767293.2,848.1,K\n2,319099.1,1767299.2,848.2,K\n", encoding="utf-8")
    marks.write_text("CP1,319000.1,1767200.2,848.1\nCP2,319100.1,1767210.2,848.2\n", encoding="utf-8")
    with pytest.raises(OrderError, match=r"Looked at: marks.txt \(its own order is open too\)"):
        day(DayFiles(shots=shots, control=marks))
