"""The unit of a drawing that does not say it for certain: drafted as a question, and what the job states holds."""

import ezdxf
import pytest

from geoqa.job.begin.begin import begin
from geoqa.job.check import check

pytestmark = pytest.mark.long

ZONES = {"ft": ("EPSG:6405", 611_900.0, 1_103_800.0), "ftUS": ("EPSG:2278", 2_131_740.0, 13_702_930.0)}


@pytest.fixture
def folder(tmp_path):
    def of(unit, insunits):
        _, east, north = ZONES[unit]
        document = ezdxf.new("R2010")
        document.header["$INSUNITS"] = insunits
        places = [(east, north), (east, north + 200.0)]
        document.modelspace().add_lwpolyline(places, dxfattribs={"layer": "CURB-TOP"})
        document.saveas(tmp_path / "plan.dxf")
        rows = "".join(f"{n},{east + 0.1},{north + 10.0 * n},300.1,K\n" for n in range(8))
        (tmp_path / "shots.csv").write_text("point,easting,northing,elevation,code\n" + rows, encoding="utf-8")
        return tmp_path

    return of


@pytest.mark.parametrize(("unit", "insunits"), [("ft", 1), ("ftUS", 2), ("ftUS", 4)])
def test_it_is_asked_with_the_unit_in_which_the_drawing_lies_beside_the_shots(folder, unit, insunits):
    code, *_ = ZONES[unit]
    text = begin(folder(unit, insunits), frame=code).path.read_text(encoding="utf-8")
    [line] = [each for each in text.splitlines() if each.startswith("unit = ")]
    assert line.startswith(f'unit = "REQUIRED"   # "{unit}"? INSUNITS {insunits}')


def test_where_the_drawing_says_the_unit_of_the_frame_nothing_is_asked(folder):
    text = begin(folder("ft", 2), frame="EPSG:6405").path.read_text(encoding="utf-8")
    assert 'unit = "REQUIRED"' not in text


@pytest.mark.parametrize(("unit", "insunits"), [("ft", 0), ("ft", 1), ("ftUS", 2), ("ftUS", 4), ("ftUS", 0)])
def test_what_the_job_states_holds_and_is_told(folder, unit, insunits):
    code, *_ = ZONES[unit]
    made = folder(unit, insunits)
    job = made / "job.toml"
    job.write_text(
        f'[job]\nname = "A"\n[frame]\nhorizontal = "{code}"\n[[shots]]\nfile = "shots.csv"\n'
        f'[codes]\nfile = "codes.csv"\n[[design]]\nfile = "plan.dxf"\nunit = "{unit}"\n'
        '[tolerance.curb-top]\nhorizontal = "0.1 ft"\nreference = "C"\n',
        encoding="utf-8",
    )
    (made / "codes.csv").write_text("code,kind,geometry\nK,curb-top,line\n", encoding="utf-8")
    checked = check(job)
    assert checked.problems == ()
    assert checked.doubts == ()
    [compared] = [line for line in checked.run if line.startswith("to be compared")]
    assert "curb-top 8 on 1" in compared
    said = next(each for each in checked.remarks if each.startswith("plan.dxf: unit: "))
    if insunits != 2:
        assert said == f"plan.dxf: unit: {unit} (stated in the job; the file states none to go by)"
