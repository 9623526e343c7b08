"""How much processor time a million rows take; printed, and held against the standard library in the same process."""

import csv
import sys
import time

import numpy as np
import pytest

from geoqa.read.shots import ShotsText

ROWS = 1_000_000
HEADER = "point,easting,northing,elevation,code,line_id,sequence,note,time_utc,solution,satellites,pdop\n"


@pytest.fixture(scope="module")
def large(tmp_path_factory):
    rng = np.random.default_rng(7)
    places = np.round(rng.random((ROWS, 3)) * 5000.0 + 400_000.0, 3)
    path = tmp_path_factory.mktemp("large") / "shots.csv"
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.write(HEADER)
        for number, (easting, northing, elevation) in enumerate(places.tolist()):
            row = f"{number:07d},{easting:.3f},{northing:.3f},{elevation:.3f},CTB,CTB-L,{number},by the wall,"
            file.write(row + f"2026-03-14T14:{number // 60 % 60:02d}:{number % 60:02d}Z,fixed,14,1.6\n")
    return path, places


@pytest.mark.benchmark
def test_a_million_rows_are_read_within_three_times_what_the_standard_library_takes_to_cut_them(
    large, capsys, measured
):
    path, places = large
    start = time.process_time()
    source = ShotsText().read(path, source="day1")
    ours = time.process_time() - start
    start = time.process_time()
    with path.open(encoding="utf-8", newline="") as file:
        theirs_rows = sum(1 for _ in csv.DictReader(file))
    theirs = time.process_time() - start
    shots = source.layers["shots"]
    assert len(shots) == theirs_rows == ROWS
    assert shots["line"].iloc[-1] == ROWS + 1
    np.testing.assert_array_equal(shots[["easting", "northing", "elevation"]].to_numpy(), places)
    with capsys.disabled():
        size = path.stat().st_size / 1e6
        sys.stdout.write(f"\n{ROWS:,} rows, {size:.0f} MB: {ours:.1f} s; csv.DictReader alone {theirs:.1f} s\n")
    measured.add(
        "reading",
        "A log of twelve columns, every value checked, against cutting the rows into texts with the standard library "
        "and keeping none. Seconds of processor time; at most 3 times.",
        rows=f"{ROWS:,}",
        file=f"{size:.0f} MB",
        geoqa=f"{ours:.1f}",
        standard_library=f"{theirs:.1f}",
        ratio=f"{ours / theirs:.2f}",
    )
    assert ours < 3.0 * theirs


@pytest.mark.benchmark
def test_quoted_rows_cost_more_but_stay_linear(tmp_path, capsys):
    spent = {}
    for rows in (50_000, 200_000):
        path = tmp_path / f"{rows}.csv"
        path.write_text("point,easting,northing,note\n" + '1,1.5,2.5,"a, b"\n' * rows, encoding="utf-8")
        start = time.process_time()
        assert len(ShotsText().read(path, source="d").layers["shots"]) == rows
        spent[rows] = time.process_time() - start
    with capsys.disabled():
        sys.stdout.write(f"\nquoted rows: {spent}")
    assert spent[200_000] < 8.0 * spent[50_000]
