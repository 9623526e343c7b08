"""What a draft asks, put on a terminal: the same lines, filled in."""

import tomllib

from click.testing import CliRunner

from geoqa.cli import main
from geoqa.job.begin.questions import answered, questions

SHOTS = "point,easting,northing,elevation,code\n1,2228500.1,446000.2,1460.1,CTB\n2,2228520.1,446000.2,1460.2,CTB\n"


def test_answers_go_into_the_draft(tmp_path):
    (tmp_path / "day1.csv").write_text(SHOTS, encoding="utf-8")
    (tmp_path / "codes.csv").write_text("code,kind,geometry\nCTB,curb-top,line\nRIM,rim,point\n", encoding="utf-8")
    answers = ["EPSG:6547", "0.10; 1 in; 30; sheet 4", ""]
    said = CliRunner().invoke(main, ["init", str(tmp_path), "--ask"], input="\n".join(answers) + "\n")
    assert said.exit_code == 0, said.output
    table = tomllib.loads((tmp_path / "job.toml").read_text(encoding="utf-8"))
    assert table["frame"]["horizontal"] == "EPSG:6547"
    limits = {"horizontal": "0.10 ft", "vertical": "1 in", "spacing": "30 ft", "reference": "sheet 4"}
    assert table["tolerance"] == {"curb-top": limits}


def test_a_list_is_answered_as_a_list():
    text = 'columns = "REQUIRED"   # ["mark", "easting"] or ["mark", "northing"]? Nothing tells which.\n'
    [question] = questions(text)
    assert answered(text, {question: '["mark", "easting"]'}) == 'columns = ["mark", "easting"]\n'
    assert answered(text, {question: "[a"}) == 'columns = "[a"\n'


def test_limits_in_percent_are_answered_too():
    text = '[tolerance]\n# walk = { cross_slope = "… %", width = "… ft", reference = "clause" }\n'
    [question] = questions(text)
    said = answered(text, {question: "2; 4; clause 7"}).splitlines()[1]
    assert said == 'walk = { cross_slope = "2 %", width = "4 ft", reference = "clause 7" }'
