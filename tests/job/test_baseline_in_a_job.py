"""A baseline in a whole job: the same stations in both feet and in metres, in two zones; its section is design."""

import ezdxf
import numpy as np
import pandas as pd
import pytest

import geoqa
from geoqa.errors import FrameError, JobError, SourceError
from geoqa.job.check import check
from geoqa.job.document.load import load
from geoqa.kernels.baseline.course import place
from geoqa.model.baseline import course_of
from geoqa.model.quantity import length_unit
from geoqa.read.baseline.intersections import Intersection, pieces_of

ZONES = {"EPSG:6547": ("ft", 2_228_000.0, 446_000.0), "EPSG:6543": ("ftUS", 2_010_000.0, 700_000.0)}
POINTS = [
    (0.0, 0.0, np.nan, 0.0),
    (150.0, 900.0, 600.0, 120.0),
    (1100.0, 1500.0, 500.0, 0.0),
    (1300.0, 2300.0, np.nan, 0.0),
]
PROFILE = [(1000.0, 800.0, 0.0), (1700.0, 786.0, 400.0), (3400.0, 820.0, 0.0)]
SECTION = [("FL", -16.0, -0.02, 0.0, ""), ("TB", -0.5, 0.0, 0.5, "FL")]


def course(east, north):
    """A curve to the right with spirals, then one to the left without."""
    points = [
        Intersection(easting=east + x, northing=north + y, radius=r, spiral_in=s, spiral_out=s) for x, y, r, s in POINTS
    ]
    return course_of(pieces_of(points, start=1000.0, kink=0.05))


def write(folder, zone, *, unit=None, more=""):
    """Shots on the top of curb of a typical section, and a job; the baseline's files in `unit`."""
    own, east, north = ZONES[zone]
    factor = float(length_unit(own).metres / length_unit(unit or own).metres)
    digits = 7

    def told(value):
        return "" if np.isnan(value) else f"{value * factor:.{digits}f}"

    lines = [f"{told(east + x)},{told(north + y)},{told(r)},{told(s)}" for x, y, r, s in POINTS]
    (folder / "cl.csv").write_text("easting,northing,radius,spiral\n" + "\n".join(lines) + "\n")
    lines = [f"{told(s)},{told(z)},{told(length)}" for s, z, length in PROFILE]
    (folder / "pvi.csv").write_text("station,elevation,curve\n" + "\n".join(lines) + "\n")
    lines = [f"{name},curb-{name.lower()},{told(1000.0)},{told(3100.0)},{after},{told(w)},{s},{told(r)}"
             for name, w, s, r, after in SECTION]  # fmt: skip
    (folder / "section.csv").write_text("line,kind,from,to,after,width,slope,rise\n" + "\n".join(lines) + "\n")
    stations = np.linspace(1050.0, 3050.0, 41)
    at = place(course(east, north), stations, -16.48)
    height = np.where(stations < 1500, 800 - 0.02 * (stations - 1000), np.nan)
    rows = [f"{n + 1},{e:.3f},{m:.3f},{'' if np.isnan(z) else f'{z - 0.32 + 0.51:.3f}'},TB"
            for n, (e, m, z) in enumerate(zip(at[0], at[1], height, strict=True))]  # fmt: skip
    (folder / "day1.csv").write_text("point,easting,northing,elevation,code\n" + "\n".join(rows) + "\n")
    (folder / "codes.csv").write_text("code,kind,geometry,role\nTB,curb-tb,line,feature\n")
    stated = f'unit = "{unit}"\n' if unit else ""
    start = f'start = "{told(1000.0)}"\n'
    (folder / "job.toml").write_text(f"""
[job]
name = "Stations"
[frame]
horizontal = "{zone}"
[[shots]]
file = "day1.csv"
[codes]
file = "codes.csv"
[baseline]
file = "cl.csv"
name = "A"
{start}{stated}{more}
[profile]
file = "pvi.csv"
{stated}
[section]
file = "section.csv"
{stated}
[tolerance.curb-tb]
horizontal = "0.10 ft"
vertical = "0.10 ft"
spacing = "60 ft"
reference = "Drawing"
[uncertainty.default]
horizontal_random = "0.015 ft"
vertical_random = "0.015 ft"
reference = "Crew"
""")
    return load(folder / "job.toml"), stations


@pytest.mark.long
@pytest.mark.parametrize(("zone", "unit"), [("EPSG:6547", "ftUS"), ("EPSG:6543", "m")])
def test_stations_and_section_whatever_the_unit(tmp_path, zone, unit):
    loaded, stations = write(tmp_path, zone, unit=unit)
    results = geoqa.run(loaded, write=False)
    shots = results.shots.sort_values("line")
    np.testing.assert_allclose(shots["baseline_station"], stations, atol=0.002)
    np.testing.assert_allclose(shots["baseline_offset"], -16.48, atol=0.001)
    found = results.findings
    judged = found[found["check"].isin(["offset", "elevation"]) & found["shot"].notna()]
    assert set(judged.loc[judged["check"] == "offset", "verdict"]) == {"IN"}
    level = judged[(judged["check"] == "elevation") & judged["measured"].notna()]
    assert len(level) == 9
    assert (level["deviation"] - 0.01).abs().max() < 0.002
    assert found["baseline_place"].notna().all()


@pytest.mark.long
def test_written_out_and_back(tmp_path):
    loaded, _ = write(tmp_path, "EPSG:6547", more='equations = [["20+00", "30+00"]]\n')
    section = (tmp_path / "section.csv").read_text().replace("3100.0000000", "41+00")
    (tmp_path / "section.csv").write_text(section)
    (tmp_path / "pvi.csv").write_text("station,elevation,curve\n10+00,800,\n17+00,786,400\n42+00,816,\n")
    loaded = loaded.changed(outputs={"layers": ["csv", "sheets"], "pages": []})
    geoqa.run(loaded)
    shots = (tmp_path / "out" / "shots.csv").read_text()
    assert "A 30+50.00 (after equation 1), 16.48 ft left" in shots
    assert "A 19+50.00 (before equation 1), 16.48 ft left" in shots
    listed = (tmp_path / "out" / "findings_list.csv").read_text()
    assert listed.splitlines()[0].count("baseline_") == 5
    assert " (after equation 1), 16.48 ft left" in listed


@pytest.mark.long
def test_a_drawing_gives_the_same_stations(tmp_path):
    """Without spirals an alignment is a polyline with bulges."""
    zone = "EPSG:6547"
    loaded, _ = write(tmp_path, zone)
    _, east, north = ZONES[zone]
    points = [Intersection(easting=east + x, northing=north + y, radius=r) for x, y, r, _ in POINTS]
    line = pieces_of(points, start=1000.0, kink=0.05)
    vertices = [(p.easting, p.northing, -np.tan(p.length / p.start_radius / 4)) for p in line]
    document = ezdxf.new(units=2)
    document.modelspace().add_lwpolyline(
        [*vertices, (east + 1300, north + 2300, 0)], format="xyb", dxfattribs={"layer": "CL"}
    )
    document.saveas(tmp_path / "cl.dxf")
    rows = (tmp_path / "cl.csv").read_text().replace("120.0000000", "0")
    (tmp_path / "cl.csv").write_text(rows)
    table = geoqa.run(loaded, write=False).shots
    job = (tmp_path / "job.toml").read_text().replace('file = "cl.csv"', 'file = "cl.dxf"\nlayer = "CL"')
    (tmp_path / "job.toml").write_text(job)
    drawn = load(tmp_path / "job.toml")
    np.testing.assert_allclose(
        geoqa.run(drawn, write=False).shots["baseline_station"], table["baseline_station"], atol=1e-6
    )


def test_another_projection_is_refused(tmp_path):
    loaded, _ = write(tmp_path, "EPSG:6547")
    with pytest.raises(FrameError, match="would not keep its curves and stations"):
        geoqa.run(loaded.changed(baseline={"frame": "EPSG:6545"}), write=False)


def test_points_of_the_profile_out_of_order_are_refused(tmp_path):
    loaded, _ = write(tmp_path, "EPSG:6547")
    (tmp_path / "pvi.csv").write_text("station,elevation\n10+00,800\n30+00,790\n20+00,795\n")
    with pytest.raises(SourceError, match=r"'pvi.csv', line 4: this point of the profile does not come after"):
        geoqa.run(loaded, write=False)


@pytest.mark.parametrize(("text", "said"), [
    ('[profile]\nfile = "p.csv"\n', r"\[profile\] hangs on a centre line"),
    ('[baseline]\nfile = "cl.csv"\nstart = "10+5"\n', "'10[+]5' is no station; write 12[+]50.25"),
    ('[baseline]\nfile = "cl.csv"\nequations = [["15+00", "x"]]\n', "'x' is no station"),
    ('[baseline]\nfile = "cl.dxf"\n', "layer"),
])  # fmt: skip
def test_a_job_that_cannot_be_is_refused_with_its_place(tmp_path, text, said):
    (tmp_path / "job.toml").write_text(
        f'[job]\nname = "A"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n{text}'
    )
    with pytest.raises(JobError, match=said):
        load(tmp_path / "job.toml")


def test_check_finds_nothing_wrong_with_it(tmp_path):
    loaded, _ = write(tmp_path, "EPSG:6547")
    report = check(loaded.path)
    assert report.problems == ()
    assert not [line for line in report.remarks if "section-lines" in line or "shot-stations" in line]


@pytest.mark.long
def test_points_in_the_job_give_the_stations_and_verdicts_of_the_files(tmp_path):
    """The same numbers in the job file, in a file of another unit than the job's; nothing else is read."""
    loaded, _ = write(tmp_path, "EPSG:6543", unit="m")
    files = geoqa.run(loaded, write=False)
    job = (tmp_path / "job.toml").read_text()
    for name in ("cl.csv", "pvi.csv"):
        head, *lines = (tmp_path / name).read_text().splitlines()
        cells = [zip(head.split(","), line.split(","), strict=True) for line in lines]
        rows = ["{ " + ", ".join(f"{key} = {value}" for key, value in row if value) + " }" for row in cells]
        job = job.replace(f'file = "{name}"', "points = [\n" + ",\n".join(rows) + "\n]")
        (tmp_path / name).unlink()
    (tmp_path / "job.toml").write_text(job)
    loaded = load(tmp_path / "job.toml")
    assert check(loaded.path).problems == ()
    held = geoqa.run(loaded)
    for one, other, names in (
        (held.shots, files.shots, ["baseline_station", "baseline_offset", "baseline_place"]),
        (held.findings, files.findings, ["verdict", "deviation", "measured", "baseline_place"]),
    ):
        pd.testing.assert_frame_equal(one[names], other[names], rtol=0, atol=1e-9)
    record = (tmp_path / "out" / "record.json").read_text()
    assert "[baseline] points" in record
    assert "[profile] points" in record
