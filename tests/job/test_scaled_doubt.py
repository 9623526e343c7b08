"""Ground coordinates that nobody declared are told with both distances; declared ones come back onto the grid.

Outside truth: the site's combined factor 0.99987061 is the arithmetic of scale factor and ellipsoid height at
46.885 N 99.46 W, 1,460 ft; 1,000 ft of ground are 999.87061 ft of grid.
"""

import re

import numpy as np
import pytest

from geoqa.errors import AreaError, FrameError, JobError
from geoqa.frames.systems.factors import grid_to_ground, ground_to_grid
from geoqa.frames.systems.resolve import resolve
from geoqa.job.check import check
from geoqa.job.document.load import parse
from geoqa.job.run import run

FACTOR = 0.99987061
EAST, NORTH = 2_228_500.0, 446_000.0
ALONG = np.array([[0.0, 0.0], [420.0, 60.0], [900.0, -30.0], [1500.0, 80.0], [2000.0, 0.0], [2400.0, 100.0]])
GRID = ALONG + np.array([EAST, NORTH])


def written(folder, marks, *, shots=GRID, frame="", control="", seed=3, noise=0.02):
    seen = shots + np.random.default_rng(seed).normal(0, noise, shots.shape)
    rows = [f"{i},{e:.3f},{n:.3f},1460.0,CHK,M{i}" for i, (e, n) in enumerate(seen)]
    (folder / "shots.csv").write_text("point,easting,northing,elevation,code,line_id\n" + "\n".join(rows) + "\n")
    rows = [f"M{i},{e:.3f},{n:.3f},1460.0" for i, (e, n) in enumerate(marks)]
    (folder / "control.csv").write_text("mark,easting,northing,elevation\n" + "\n".join(rows) + "\n")
    (folder / "codes.csv").write_text("code,kind,geometry,role\nCHK,control,point,check\n")
    path = folder / "job.toml"
    path.write_text(
        f'[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n{frame}[[shots]]\nfile = "shots.csv"\n'
        f'[control]\nfile = "control.csv"\n{control}[codes]\nfile = "codes.csv"\n'
    )
    return path


@pytest.mark.long
def test_marks_at_ground_distances_about_one_of_them_are_told_with_both_distances(tmp_path):
    path = written(tmp_path, GRID[0] + (GRID - GRID[0]) / FACTOR)
    (said,) = check(path).doubts
    assert said.startswith("control.csv looks like ground coordinates")
    expected = float(re.search(r"on the ground it would be \+([\d.]+) ppm", said)[1])
    assert expected == pytest.approx((1 / FACTOR - 1) * 1e6, abs=2.0)  # 12 m of the geoid are 2 ppm
    assert "combined factor 0.99987" in said
    # M0 to M5: sqrt(2400^2 + 100^2) = 2402.082 ft on the grid, 0.311 ft more on the ground
    grid, ground = (float(each) for each in re.search(r"M0 to M5: ([\d.]+) ft on the grid, ([\d.]+) ft", said).groups())
    assert grid == pytest.approx(2402.082, abs=0.1)
    assert ground - grid == pytest.approx(0.311, abs=0.005)
    assert "ground = true in [control]" in said
    assert run(path, write=False).notes.count(said) == 1


def test_marks_scaled_about_the_origin_of_the_grid_are_told(tmp_path):
    (said,) = check(written(tmp_path, GRID / FACTOR)).doubts
    assert said.startswith("control.csv looks like ground coordinates")
    # 2,229,700 ft times 129.4 ppm
    assert "Its middle lies easting +288." in said


def test_shortened_ground_coordinates_lie_outside_and_the_message_says_what_was_taken_off(tmp_path):
    path = written(tmp_path, GRID / FACTOR - [2_000_000.0, 400_000.0])
    with pytest.raises(AreaError) as caught:
        run(path, write=False)
    said = str(caught.value)
    assert "control.csv looks like ground coordinates" in said
    assert "exactly easting -2,000,000 ft, northing -400,000 ft: shortened coordinates?" in said


def test_shots_at_ground_distances_are_told_as_shots(tmp_path):
    path = written(tmp_path, GRID, shots=GRID[0] + (GRID - GRID[0]) / FACTOR)
    (said,) = check(path).doubts
    assert said.startswith("shots.csv looks like ground coordinates")
    assert "ground = true in [[shots]] of shots" in said


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.long
def test_of_marks_on_the_grid_nothing_is_said_whatever_the_noise(tmp_path, seed):
    assert check(written(tmp_path, GRID, seed=seed, noise=(0.005, 0.02, 0.05)[seed % 3])).doubts == ()


def test_a_site_too_short_to_show_a_scale_says_nothing(tmp_path):
    near = GRID[0] + (GRID - GRID[0]) / 12
    assert check(written(tmp_path, near[0] + (near - near[0]) / FACTOR, shots=near)).doubts == ()


STATED = (
    f"combined_factor = {FACTOR}\nground_origin = [0.0, 0.0]\nground_shift = [-2000000.0, -400000.0]\n"
    'ground_reference = "Sheet C-001, note 3"\n'
)


@pytest.mark.long
def test_a_stated_scaled_plan_comes_back_onto_the_grid_and_is_printed_with_its_source(tmp_path):
    marks = GRID / FACTOR - [2_000_000.0, 400_000.0]
    frame = STATED.replace("[0.0, 0.0]", f"[{EAST}, {NORTH}]")
    about = np.array([EAST, NORTH])
    marks = about + (GRID - about) / FACTOR - [2_000_000.0, 400_000.0]
    results = run(written(tmp_path, marks, frame=frame, control="ground = true\n"), write=False)
    back = results.layers["control"][["easting", "northing"]].to_numpy()
    assert np.abs(back - GRID).max() < 0.001
    assert not [each for each in results.notes if "ground" in each]
    words = results.layers.frame.describe()
    assert "combined factor 0.99987061 about E 2228500.000 N 446000.000, then E -2000000.000 N -400000.000" in words
    assert "(Sheet C-001, note 3)" in words
    assert results.record["frame"]["ground_reference"] == "Sheet C-001, note 3"


def test_shift_and_scale_undo_each_other():
    frame = resolve(
        "EPSG:6547", combined_factor=FACTOR, ground_origin=(EAST, NORTH), ground_shift=(-2_000_000.0, -400_000.0)
    )
    east, north = grid_to_ground(frame, GRID[:, 0], GRID[:, 1])
    # 2,400 ft of grid are 2,400 / 0.99987061 = 2,400.3106 ft of ground
    assert east[5] - east[0] == pytest.approx(2400.3106, abs=1e-4)
    assert east[0] == pytest.approx(228_500.0)
    back = np.column_stack(ground_to_grid(frame, east, north))
    assert np.abs(back - GRID).max() < 1e-6


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("combined_factor = 0.9999\nground_origin = [2228500.0, 446000.0]\n", "needs ground_reference"),
        ("ground_shift = [-2000000.0, 0.0]\n", "need combined_factor"),
        ('ground_reference = "C-001"\n', "need combined_factor"),
    ],
)
def test_half_a_statement_of_a_scaled_plan_is_refused(lines, said):
    with pytest.raises(JobError, match=said):
        parse(f'[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n{lines}[[shots]]\nfile = "a.csv"\n')


def test_a_shift_alone_says_how_it_is_stated():
    with pytest.raises(FrameError, match=r"only\s+shifted have combined_factor = 1.0"):
        resolve("EPSG:6547", ground_shift=(-2_000_000.0, 0.0))
