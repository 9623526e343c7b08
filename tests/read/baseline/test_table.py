"""An alignment from a table: published curves, spirals by textbook formulas, and what is refused with its line."""

import math

import numpy as np
import pytest

from geoqa.errors import SourceError
from geoqa.read.baseline.table import AlignmentTable


def read(tmp_path, text, **options):
    file = tmp_path / "cl.csv"
    file.write_text(text)
    return AlignmentTable(**options).read(file, source="baseline").layers


def pieces(layers):
    return layers["baseline"].to_dict("records")


def test_published_curve_from_its_intersection(tmp_path):
    """Ghilani and Wolf, Elementary Surveying, example 24.1: I 8d24', PI 64+27.46: PC 62+17.083, PT 66+37.083."""
    begin, turn = 6000.0, math.radians(8.4)
    ahead = 6427.46 - begin
    end = (800 * math.sin(turn), ahead + 800 * math.cos(turn))
    text = f"easting,northing,radius,station\n0,0,,60+00\n0,{ahead},2864.789,\n{end[0]:.9f},{end[1]:.9f},,\n"
    line, arc, last = pieces(read(tmp_path, text))
    assert [line["shape"], arc["shape"], last["shape"]] == ["line", "arc", "line"]
    assert [arc["start_station"], last["start_station"]] == pytest.approx([6217.083, 6637.083], abs=6e-4)
    assert arc["start_radius"] == 2864.789
    assert last["azimuth"] == pytest.approx(8.4)


@pytest.mark.parametrize("side", [1, -1])
def test_spiralled_curve_by_the_textbook(tmp_path, side):
    """Equal spirals: Ts = (R + p) tan(I/2) + k, arc = R I - Ls; p and k by the power series of the clothoid."""
    radius, length, turn = 800.0, 200.0, math.radians(32.0)
    theta = length / (2 * radius)
    x = length * (1 - theta**2 / 10 + theta**4 / 216 - theta**6 / 9360)
    y = length * (theta / 3 - theta**3 / 42 + theta**5 / 1320 - theta**7 / 75600)
    p, k = y - radius * (1 - math.cos(theta)), x - radius * math.sin(theta)
    tangent = (radius + p) * math.tan(turn / 2) + k
    end = (side * 900 * math.sin(turn), 1000 + 900 * math.cos(turn))
    text = f"easting,northing,radius,spiral\n0,0,,\n0,1000,800,200\n{end[0]:.9f},{end[1]:.9f},,\n"
    made = pieces(read(tmp_path, text, start="10+00"))
    assert [each["shape"] for each in made] == ["line", "spiral", "arc", "spiral", "line"]
    assert made[1]["start_station"] == pytest.approx(1000 + 1000 - tangent, abs=1e-6)
    assert made[2]["length"] == pytest.approx(radius * turn - length, abs=1e-6)
    assert made[4]["azimuth"] == pytest.approx(side * 32.0 % 360)
    assert made[2]["start_radius"] == side * 800.0


def test_unequal_spirals_reverse_and_compound_curves_join(tmp_path):
    text = (
        "easting,northing,radius,spiral_in,spiral_out,turn\n1000,2000,,,,\n1100,3000,600,150,90,R\n"
        "1900,3700,450,120,0,L\n2000,4900,700,,,R\n2700,5600,,,,\n"
    )
    made = read(tmp_path, text)["baseline"]
    assert made["shape"].tolist() == ["line", "spiral", "arc", "spiral", "line", "spiral", "arc", "line", "arc", "line"]
    assert np.sign(made["start_radius"].dropna()).tolist() == [1, 1, -1, 1]


def test_curve_data_chains_what_is_not_said(tmp_path):
    text = (
        "shape,easting,northing,bearing,length,radius,end_radius,turn,station\n"
        "tangent,5000,8000,N 45-00-00 E,300,,,,1+00\nspiral,,,,100,,400,L,\ncurve,,,,150,400,,L,5+00\n"
        "spiral,,,,100,400,,L,\nline,,,,50,,,,\n"
    )
    made = pieces(read(tmp_path, text))
    assert [each["start_station"] for each in made] == [100, 400, 500, 650, 750]
    assert made[-1]["azimuth"] == pytest.approx(45 - math.degrees(100 / 400 + 150 / 400))
    assert made[1]["easting"] == pytest.approx(5000 + 300 / math.sqrt(2))


BAD = {
    "easting,northing,radius\n0,0,\n0,500,0\n500,900,\n": "line 3: it has the radius 0; a radius is more than 0",
    "easting,northing,radius\n0,0,\n0,500,-200\n500,900,\n": "line 3: it has the radius -200",
    "easting,northing,radius\n0,0,\n0,500,900\n500,500,\n": "line 3: it has a curve that overlaps .* by 400",
    "easting,northing,radius\n0,0,\n0,500,200\n300,800,900\n900,800,\n": "line 4: it has a curve that overlaps",
    "easting,northing,radius\n0,0,\n0,500,\n500,900,\n": r"line 3: it turns by \+51.3402 .*kink_deg = 51.4",
    "easting,northing,radius\n0,0,\n0,0,100\n500,900,\n": "line 3: it is the same place",
    "easting,northing,radius\n0,0,\n0,500,800\n0,900,\n": "line 3: it has a radius and turns by",
    "easting,northing,radius\n0,0,5\n0,500,\n": "line 2: the first and the last point",
    "easting,northing,radius,spiral\n0,0,,\n0,500,100,300\n500,900,,\n": "line 3: .*its spirals alone turn by",
    "easting,northing,radius,spiral\n0,0,,\n0,500,,300\n1,900,,\n": "line 3: it has a spiral and no radius",
    "easting,northing,radius,turn\n0,0,,\n0,500,200,L\n500,900,,\n": "line 3: turn says L, and the points turn right",
    "easting,northing,radius\n0,0,\n0,abc,200\n500,900,\n": "line 3: northing 'abc' is no number",
    "easting,northing,radius,station\n0,0,,10+5\n0,500,,\n": r"line 2: station '10\+5' is none; write 12\+50.25",
    "shape,easting,northing,azimuth,length,radius\nline,0,0,0,100,\narc,,,90,50,200\n": (
        r"line 3, baseline 'cl': it turns off by \+90.0000 degrees .*\(0.05 is allowed\)"
    ),
    "shape,easting,northing,azimuth,length,radius\nline,0,0,0,100,\nline,0,100.05,0,50,\n": (
        r"line 3, baseline 'cl': it starts 0.050 from the end .*\(0.02 is allowed\)"
    ),
    "shape,easting,northing,azimuth,length,radius,station\nline,0,0,0,100,,0\nline,,,0,50,,150\n": (
        r"line 3.*station \+50.000 from that of the end before it .*is a station equation"
    ),
    "shape,easting,northing,azimuth,length,radius\narc,0,0,0,100,0\n": "line 2: a radius of 0",
    "shape,easting,northing,azimuth,length,radius\narc,0,0,0,100,\n": "line 2: an arc needs a radius",
    "shape,easting,northing,azimuth,length,radius\nloop,0,0,0,100,\n": "line 2: shape 'loop' is none; line, arc",
    "shape,easting,northing,azimuth,length,radius\nline,0,0,north,100,\n": "line 2: direction 'north' is none",
    "shape,easting,northing,azimuth,length,radius\nline,0,0,0,-5,\n": "line 2: a length is more than 0",
    "shape,easting,northing,azimuth,length,radius\nline,0,0,,5,\n": "line 2: the first piece needs",
    "shape,easting,northing,azimuth,length,radius\narc,0,0,0,700,100\n": "line 2.*longer than its full circle",
    "shape,easting,northing,azimuth,length,radius,end_radius\nspiral,0,0,0,100,300,-300\n": "line 2.*from a left curve",
}  # fmt: skip


@pytest.mark.parametrize(("text", "said"), BAD.items(), ids=range(len(BAD)))
def test_what_cannot_be_is_refused_with_file_and_line(tmp_path, text, said):
    with pytest.raises(SourceError, match=f"'cl.csv', {said}"):
        read(tmp_path, text)


def test_angle_points_are_taken_where_the_job_says_so(tmp_path):
    text = "easting,northing,radius\n0,0,\n0,500,\n200,900,\n"
    assert read(tmp_path, text, kink_deg=30)["baseline"]["shape"].tolist() == ["line", "line"]


def test_equations_of_the_job_are_laid_over_the_line(tmp_path):
    text = "easting,northing,radius\n0,0,\n0,500,\n"
    layers = read(tmp_path, text, start="10+00", equations=(("12+00", "20+00"),), name="MAIN")
    assert layers["baseline_equations"].to_numpy().tolist() == [[1200.0, 2000.0]]
    assert layers["baseline"]["baseline"].tolist() == ["MAIN"]
    with pytest.raises(
        SourceError, match=r"equations, baseline 'cl': it Station equation 1, back 1900.00.*from 1000.00 to 1500.00"
    ):
        read(tmp_path, text, start="10+00", equations=(("19+00", "20+00"),))


def test_curves_that_touch_join(tmp_path):
    """Compound and reverse curves without a tangent between them, coordinates to four digits."""
    rng = np.random.default_rng(5)
    for _ in range(12):
        azimuth, place, rows = rng.uniform(0, 2 * np.pi), np.array([2.2e6, 4.4e5]), ["easting,northing,radius"]
        rows.append(f"{place[0]:.4f},{place[1]:.4f},")
        tangent = 0.0
        for _ in range(5):
            radius, turn = rng.uniform(200, 2000), rng.uniform(0.05, 0.8) * rng.choice([-1, 1])
            own = radius * math.tan(abs(turn) / 2)
            place = place + (tangent + own + rng.choice([0.0, 300.0])) * np.array([np.sin(azimuth), np.cos(azimuth)])
            rows.append(f"{place[0]:.4f},{place[1]:.4f},{radius:.4f}")
            azimuth, tangent = azimuth + turn, own
        place = place + (tangent + 100) * np.array([np.sin(azimuth), np.cos(azimuth)])
        rows.append(f"{place[0]:.4f},{place[1]:.4f},")
        made = read(tmp_path, "\n".join(rows) + "\n")
        assert (made["baseline"]["shape"] == "arc").sum() == 5
