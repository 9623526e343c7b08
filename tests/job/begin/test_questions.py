"""What a draft asks, put on a terminal: the same lines, filled in."""

import tomllib

import click
import pytest
from click.testing import CliRunner

from geoqa.cli import main
from geoqa.job.begin.answers import refusal
from geoqa.job.begin.questions import answered, questions

SHOTS = "point,easting,northing,elevation,code\n1,2228500.1,446000.2,1460.1,CTB\n2,2228520.1,446000.2,1460.2,CTB\n"


@pytest.mark.long
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


def folder_of_shots(tmp_path):
    (tmp_path / "day1.csv").write_text(SHOTS, encoding="utf-8")
    (tmp_path / "codes.csv").write_text("code,kind,geometry\nCTB,curb-top,line\n", encoding="utf-8")


@pytest.mark.long
def test_an_answer_that_cannot_stand_is_asked_again_with_the_reason(tmp_path):
    folder_of_shots(tmp_path)
    answers = ["EPSG:99999", "EPSG:6547", "wide; 1 in; 30; sheet 4", "0.10; 1 in; 30;", "0.10; 1 in; 30; sheet 4"]
    said = CliRunner().invoke(main, ["init", str(tmp_path), "--ask"], input="\n".join(answers) + "\n")
    assert said.exit_code == 0, said.output
    for reason in ("'EPSG:99999' is not in", "'wide' is no length", "where it is written is missing"):
        assert reason in said.output
    table = tomllib.loads((tmp_path / "job.toml").read_text(encoding="utf-8"))
    assert table["frame"]["horizontal"] == "EPSG:6547"
    assert table["tolerance"]["curb-top"]["reference"] == "sheet 4"


@pytest.mark.long
def test_where_the_answers_end_those_given_are_kept(tmp_path):
    folder_of_shots(tmp_path)
    said = CliRunner().invoke(main, ["init", str(tmp_path), "--ask"], input="EPSG:6547\n")
    assert said.exit_code == 0, said.output
    assert "those that were given stand in the draft" in said.output
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    assert 'horizontal = "EPSG:6547"' in text
    assert "# curb-top = {" in text


def test_lines_of_kinds_are_taken_or_stay_comments():
    text = (
        '[[design]]\nfile = "a b.dxf"\n#   layer TC: 2 lines; curb-top\n#   block H: 1 point; hydrant\n'
        'layers = { "TC" = "curb-top" }\nblocks = { "H" = "hydrant" }\n'
    )
    layers, blocks = questions(text)
    assert "layer TC" in layers.why
    assert "block H" not in layers.why
    assert refusal(layers, "perhaps")
    assert not refusal(layers, "Yes")
    lines = answered(text, {layers: "yes", blocks: "no"}).splitlines()
    assert lines[4:] == ['layers = { "TC" = "curb-top" }', '# blocks = { "H" = "hydrant" }']
    assert tomllib.loads("\n".join(lines))["design"][0]["layers"] == {"TC": "curb-top"}


def test_the_rest_is_drafted_anew_in_the_frame_that_was_answered():
    from geoqa.cli.init import _asked

    first = '[frame]\nhorizontal = "REQUIRED"   # why\n'
    asked = []

    def anew(frame):
        asked.append(frame)
        return f'[frame]\nhorizontal = "{frame}"\n[[design]]\nfile = "a.dxf"\nunit = "REQUIRED"   # "ft"? said\n'

    @click.command()
    def command():
        click.echo(_asked(first, anew))

    said = CliRunner().invoke(command, input="EPSG:6459\nfurlong\nftUS\n")
    assert asked == ["EPSG:6459"]
    assert "not taken" in said.output
    assert 'unit = "ftUS"' in said.output
