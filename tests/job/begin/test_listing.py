"""Every file of a folder is listed with what it is taken for, and why not where it is left out."""

import pytest
from click.testing import CliRunner

from geoqa.cli import main
from geoqa.errors import JobError
from geoqa.job.begin.begin import begin
from geoqa.job.begin.draft import listed_files
from geoqa.job.begin.listing import look
from geoqa.job.begin.reading import read_folder

SHOTS = "point,easting,northing,elevation,code\n1,2228500.1,446000.2,1460.1,CTB\n2,2228520.1,446000.2,1460.2,CTB\n"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "day.csv").write_text(SHOTS, encoding="utf-8")
    return tmp_path


def left(folder):
    return {each.shown: each.why for each in read_folder(look(folder)).listing.left}


@pytest.mark.parametrize(
    ("name", "content", "why"),
    [
        ("nul.csv", b"point,easting\x00,northing\n1,2,3\n", ""),
        ("wide.csv", SHOTS.encode("utf-16-le"), ""),
        ("plan.pdf", b"%PDF-1.7\n\x00\x01", "no reader takes .pdf: a document, of which nothing is read"),
        ("shots.zip", b"PK\x03\x04", "packed files, which are not opened"),
        ("readme", b"\n", "it is empty"),
        ("a\u00a0b.csv", SHOTS.encode(), "U+00A0 at place 2"),
        ("control.csv", b"who,where\nA,B\n", "needed: mark"),
        ("lines.dxf", b"no drawing", "no sound DXF drawing"),
        ("lines.shp", b"no shapefile", "no shapefile"),
        ("old.toml", b"[job]\n", "a job file"),
        ("aerial.tif", b"II*\x00", "a picture"),
        ("antenna.csv", b"part,North,East,Up\nL1,0.58,-1.20,66.31\nL2,-0.11,0.74,65.02\n", "offsets"),
    ],
)
def test_a_file_that_is_left_out_says_why_in_one_line(folder, name, content, why):
    (folder / name).write_bytes(content)
    [(shown, said)] = left(folder).items()
    assert why in said
    assert said
    assert "\n" not in said
    assert "geoqa/" not in said
    assert shown.replace(" ", "\u00a0") == name
    assert f"#   {shown}: left out: {said}" in listed_files(look(folder)).splitlines() or why == "offsets"


@pytest.mark.long
def test_text_with_an_ending_nobody_knows_is_read_by_name(folder):
    (folder / "crew.dat").write_text(SHOTS, encoding="utf-8")
    text = begin(folder).path.read_text(encoding="utf-8")
    assert 'file = "crew.dat"\nuse = "shots.csv"' in text


def test_results_hidden_and_deep_files_are_counted(folder):
    for name in ("out/shots.csv", ".hidden.csv", "a/b/c/d.csv"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(SHOTS, encoding="utf-8")
    whys = [each.why for each in look(folder).left]
    assert len(whys) == 3
    assert all(any(word in why for why in whys) for word in ("results", "hidden", "deep"))


def test_without_shots_every_file_says_why_not(tmp_path):
    (tmp_path / "x.csv").write_text("a,b\n1,2\n", encoding="utf-8")
    with pytest.raises(JobError, match=r"x\.csv: .*no column for easting"):
        begin(tmp_path)


@pytest.mark.parametrize("swapped", [False, True])
def test_the_order_without_a_header_is_settled_by_the_other_files(folder, swapped):
    pair = "446000.11,2228510.25" if swapped else "2228510.25,446000.11"
    (folder / "bare.txt").write_text("".join(f"{n},{pair},1460.10,CTB\n" for n in range(5)), encoding="utf-8")
    read = read_folder(look(folder))
    assert "bare.txt" in read.sources
    assert read.sources["bare.txt"].layers["shots"]["northing"].tolist() == [446000.11] * 5


def test_a_list_whose_names_the_shots_speak_of_is_control(folder):
    (folder / "sheet.csv").write_text(
        "name,north,east,elev\nBM7,446000.0,2228510.0,1460\nBM8,446010.0,2228520.0,1460\n", encoding="utf-8"
    )
    (folder / "checks.csv").write_text(SHOTS + "8,2228510,446000,1460,CK BM7\n9,2228520,446010,1460,CK BM8\n")
    roles = {each.shown: each.role for each in read_folder(look(folder)).listing.found}
    assert roles == {"day.csv": "shots", "checks.csv": "shots", "sheet.csv": "control"}


def test_a_terminal_shows_no_place_in_a_source(folder):
    (folder / "control.csv").write_text("mark,easting,northing,elevation\nA,,,\nB,,,\n", encoding="utf-8")
    said = CliRunner().invoke(main, ["init", str(folder)])
    assert said.exit_code == 0, said.output
    assert ".py" not in said.output


@pytest.mark.parametrize(
    ("name", "content", "role"),
    [
        ("run.csv", "point,BS,FS\nCP1,4.21,\nT1,3.10,5.02\nCP1,,2.29\n", "levels"),
        ("lines.csv", "line,kind,easting,northing\nA,curb-top,2228500,446000\nA,curb-top,2228600,446000\n", "design"),
        ("list.txt", "code,kind\nCTB,curb-top\n", "codes"),
        ("more.csv", SHOTS, "shots"),
    ],
)
def test_a_delimited_file_is_what_its_columns_say(folder, name, content, role):
    (folder / name).write_text(content, encoding="utf-8")
    found = {each.shown: each.role for each in look(folder).found}
    assert found[name] == role


def test_slopes_read_on_a_level_are_known_by_the_words_of_their_heading(tmp_path):
    (tmp_path / "slopes.csv").write_text(
        "Point,Cross slope (%),Length (ft),Remark\n273,1.3,4,smart\n", encoding="utf-8"
    )
    (tmp_path / "shots.csv").write_text(
        "Point,Grid Northing (ft),Grid Easting (ft),Slope\n1,1200000.1,650000.1,2 %\n2,1200010.1,650000.1,2 %\n",
        encoding="utf-8",
    )
    assert {each.shown: each.role for each in look(tmp_path).found} == {"slopes.csv": "readings", "shots.csv": "shots"}
    [readings] = [each for each in look(tmp_path).found if each.role == "readings"]
    assert readings.asks["what"].startswith('"cross-slope"?')
    assert "number_unit" not in readings.asks
    assert "0.1 %" in readings.asks["u"]


@pytest.mark.long
def test_lines_above_a_header_are_drafted_as_skip(tmp_path):
    (tmp_path / "day.csv").write_text(
        "Survey report\nCrew 2\n\nPoint,Northing,Easting,Elevation,Code\n"
        "1,445566.1,2231543.2,10.5,TC\n2,445567.1,2231544.2,10.5,TC\n",
        encoding="utf-8",
    )
    begin(tmp_path, frame="EPSG:6547")
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    assert "skip = 3   # lines above the header, blank ones counted" in text
    [file] = read_folder(look(tmp_path)).sources.values()
    assert file.layers["shots"]["line"].tolist() == [5, 6]


def test_a_sheet_with_titles_is_drafted_with_skip_and_sheet(tmp_path):
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for row in (
        ["Report"],
        ["Crew"],
        [],
        ["Point", "Northing", "Easting", "Elevation", "Code"],
        ["7", 1.5, 2.5, 3, "T"],
    ):
        book.active.append(row)
    book.active.title = "Export"
    book.create_sheet("Notes").append(["made here"])
    book.save(tmp_path / "wide.xlsx")
    [file] = look(tmp_path).found
    assert {key: value for key, (value, _) in file.options.items()} == {"skip": 3, "sheet": "Export"}
    assert file.reader().read(file.path, source="w").layers["shots"]["shot"].tolist() == ["7"]


@pytest.mark.parametrize(
    "header",
    [
        "Punto\tNorte\tEste\tCota\tCódigo\tFecha\tHora",
        "Punkt\tHochwert\tRechtswert\tHöhe\tCode\tDatum\tUhrzeit",
        "Point\tNord\tEst\tQuota\tCodice\tX1\tHeure",
    ],
)
def test_headings_of_other_languages_and_tabs_in_a_tab_file(tmp_path, header):
    row = "7\t445566.1\t2231543.2\t10.5\tTC1\t2026-04-15\t08:00:00\n"
    (tmp_path / "dia.tab").write_bytes(f"{header}\n{row}{row.replace('7', '8', 1)}".encode("cp1252"))
    [file] = look(tmp_path).found
    assert file.role == "shots"
    shots = file.reader().read(file.path, source="d").layers["shots"]
    first = shots[["shot", "northing", "easting", "elevation", "code"]].iloc[0].tolist()
    assert first == ["7", 445566.1, 2231543.2, 10.5, "TC1"]


def test_a_surer_heading_goes_before_a_word_of_another_language(tmp_path):
    (tmp_path / "a.csv").write_text(
        "P,N,E,Est,Z\n1,445566.1,2231543.2,9,10\n2,445567.1,2231543.2,9,10\n", encoding="utf-8"
    )
    [file] = look(tmp_path).found
    assert file.peek.columns[file.peek.places[file.peek.holds.index("easting")]] == "E"


def test_photos_that_shots_name_are_no_background(tmp_path):
    (tmp_path / "day.csv").write_text(
        "point,easting,northing,photo\n1,2231543.2,445566.1,DCIM\\IMG_1.JPG\n2,2231543.2,445567.1,\n", encoding="utf-8"
    )
    for name in ("img_1.jpg", "ground.jpg"):
        (tmp_path / name).write_bytes(b"\xff\xd8\xff\x00")
    left = {each.shown: each for each in read_folder(look(tmp_path)).listing.left}
    assert left["ground.jpg"].settles[0] == "[background]"
    assert "img_1.jpg" not in left
    assert left["1 picture"].why.startswith("photos that the shots name, such as img_1.jpg: not opened")


def test_alignments_of_ifc_and_drawings_of_a_program_are_left_out_with_what_to_export(tmp_path):
    (tmp_path / "road.ifc").write_text("ISO-10303-21;\nHEADER;\n#1=IFCALIGNMENT(1,2,3);\n", encoding="utf-8")
    (tmp_path / "plan.dwg").write_bytes(b"AC1032\0\0")
    left = {each.shown: each.why for each in look(tmp_path).left}
    assert "export them as LandXML" in left["road.ifc"]
    assert "save it as DXF" in left["plan.dwg"]
