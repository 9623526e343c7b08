"""Readings of levels and tapes."""

import pytest

from geoqa.errors import GeoqaError, JobError
from geoqa.job.document.load import parse
from geoqa.read.slope_readings import ReadingsText

HEAD = '[job]\nname = "A"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\nunit = "ft"\n'


def read(tmp_path, text):
    path = tmp_path / "r.csv"
    path.write_text(text, encoding="utf-8")
    return ReadingsText().read(path, source="level").layers["readings"]


def test_slopes_and_widths_with_their_units(tmp_path):
    made = read(tmp_path, "shot,reading,u,length\n101,2.3 %,0.1 %,48 in\n102,1:48,,\nCR-1,48 1/4 in,1/8 in,\n")
    assert made["place"].tolist() == ["101", "102", "CR-1"]
    assert made["quantity"].tolist() == ["slope", "slope", "length"]
    assert made["value"].tolist() == pytest.approx([0.023, 1 / 48, 48.25 * 0.0254])
    assert made["u"].tolist() == pytest.approx([0.001, float("nan"), 0.003175], nan_ok=True)
    assert made["length"].iloc[0] == pytest.approx(1.2192)


@pytest.mark.parametrize("row", ["101,2.3,", "101,,", ",2.3 %,", "101,2.3 %,0.1 ft"])
def test_a_number_without_a_unit_and_what_is_missing_are_refused(tmp_path, row):
    with pytest.raises(GeoqaError, match="line 2"):
        read(tmp_path, f"place,value,u\n{row}\n")


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ('what = "offset"\nu = "0.1 %"', "no reading is taken of 'offset'; use one of cross-slope"),
        ('what = "cross-slope"\nu = "0.01 ft"', "cross-slope is a slope, and u is a length"),
        ('what = "cross-slope"\nu = "0.1"', "is no 1 sigma: write a slope or a length"),
        ('what = "cross-slope"\nu = "0 %"', "is no 1 sigma"),
    ],
)
def test_what_a_job_says_of_its_readings_is_held_to_the_checks(lines, told):
    with pytest.raises(JobError, match=told):
        parse(f'{HEAD}[[readings]]\nfile = "r.csv"\n{lines}\n')


def test_a_job_with_readings_says_the_same_when_written():
    text = f'{HEAD}[[readings]]\nfile = "r.csv"\nwhat = "clear-width"\nu = "1/8 in"\nreference = "tape"\n'
    assert parse(parse(text).to_toml()) == parse(text)


def test_the_unit_of_a_heading_counts_and_a_line_of_the_job_settles_it(tmp_path):
    made = read(tmp_path, "Point,Cross slope (%),Length (ft),Remark\n273,1.3,4,smart\n274,1:48,48 in,\n")
    assert made["value"].tolist() == pytest.approx([0.013, 1 / 48])
    assert made["length"].tolist() == pytest.approx([1.2192, 1.2192])
    path = tmp_path / "r.csv"
    path.write_text("Point,Cross slope\n273,1.3\n", encoding="utf-8")
    with pytest.raises(GeoqaError, match='number_unit = "%"'):
        ReadingsText().read(path, source="level")
    stated = ReadingsText(number_unit="%").read(path, source="level").layers["readings"]
    assert stated["value"].tolist() == pytest.approx([0.013])
    with pytest.raises(ValueError, match="no unit of a slope or a length"):
        ReadingsText(number_unit="furlongs")
