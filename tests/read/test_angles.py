"""Tilt and azimuth of the lean: degrees, gon, radians, and what is none of them."""

import re

import numpy as np
import pandas as pd
import pytest

from geoqa.errors import GeometryInputError, SourceError
from geoqa.read.shots import ShotsText

TURNS = {"deg": 360.0, "gon": 400.0, "rad": 2 * np.pi}


@pytest.fixture
def read(tmp_path):
    def go(text, **options):
        path = tmp_path / "day1.csv"
        path.write_text(text, encoding="utf-8")
        return ShotsText(**options).read(path, source="day1")

    return go


def leans(tilt, azimuth, unit, heads=("Lean Angle", "Lean Direction"), places=(2228500.0, 446000.0)):
    """A file of shots whose angles are written in a unit; tilt and azimuth in degrees."""
    turn = TURNS[unit] / 360.0
    rows = [
        f"{n},{places[0] + n},{places[1]},1460.5,CTB,{one * turn:.5f},{two * turn:.5f}"
        for n, (one, two) in enumerate(zip(tilt, azimuth, strict=True), 1)
    ]
    return "\n".join([f"Pt,Easting,Northing,Elev,Code,{','.join(heads)}", *rows, ""])


def drawn(seed, count=40):
    draw = np.random.default_rng(seed)
    return draw.uniform(0.0, 25.0, count).round(3), draw.uniform(0.0, 360.0, count).round(3)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("unit", ["deg", "gon", "rad"])
def test_a_stated_unit_makes_degrees_of_both(read, unit, seed):
    tilt, azimuth = drawn(seed)
    source = read(leans(tilt, azimuth, unit), angle_unit=unit)
    shots = source.layers["shots"]
    np.testing.assert_allclose(shots["tilt"], tilt, atol=0.001)
    np.testing.assert_allclose(shots["tilt_azimuth"], azimuth, atol=0.001)
    assert not source.troubles
    assert not source.facts.get("angle_doubt")


@pytest.mark.parametrize(
    ("unit", "heads"),
    [
        ("gon", ("tilt_gon", "tilt_azimuth_gon")),
        ("rad", ("Tilt (rad)", "Tilt Azimuth (radians)")),
        ("deg", ("tilt_deg", "tilt_azimuth_deg")),
    ],
)
def test_a_heading_may_state_it(read, unit, heads):
    tilt, azimuth = drawn(5)
    shots = read(leans(tilt, azimuth, unit, heads)).layers["shots"]
    np.testing.assert_allclose(shots["tilt"], tilt, atol=0.001)
    np.testing.assert_allclose(shots["tilt_azimuth"], azimuth, atol=0.001)


def test_a_heading_and_a_job_that_differ_are_refused(read):
    told = r"heading of the tilt states gon, and angle_unit .* degrees; take angle_unit out"
    with pytest.raises(SourceError, match=told):
        read(leans(*drawn(1), "gon", ("tilt_gon", "tilt_azimuth_gon")), angle_unit="deg")


@pytest.mark.parametrize("seed", range(8))
def test_gon_that_nobody_states_are_asked_and_not_taken(read, seed):
    tilt, azimuth = drawn(seed)
    source = read(leans(tilt, azimuth, "gon"))
    beyond = np.flatnonzero(azimuth / 0.9 > 360) + 2
    (asked,) = [each for each in source.troubles if each.asks]
    assert source.layers["shots"]["tilt_azimuth"].isna().all()
    np.testing.assert_allclose(source.layers["shots"]["tilt"], tilt / 0.9, atol=0.001)
    assert source.facts["angle_doubt"] == "gon"
    assert f"{len(beyond)} of 40 azimuths" in str(asked)
    assert all(str(line) in str(asked) for line in beyond[:12])
    assert 'angle_unit = "deg", "gon" or "rad"' in str(asked)


@pytest.mark.parametrize("unit", ["gon", "rad"])
def test_the_heading_of_the_tilt_says_nothing_of_the_azimuth(read, unit):
    tilt, azimuth = drawn(3)
    text = leans(tilt * 360.0 / TURNS[unit], azimuth, unit, heads=("tilt_deg", "tilt_azimuth"))
    source = read(text)
    (asked,) = [each for each in source.troubles if each.asks]
    assert source.layers["shots"]["tilt_azimuth"].isna().all()
    np.testing.assert_allclose(source.layers["shots"]["tilt"], tilt, atol=0.001)
    assert "a tilt is taken" not in asked.reason
    followed = read(text, angle_unit=unit).layers["shots"]
    np.testing.assert_allclose(followed["tilt_azimuth"], azimuth, atol=0.001)
    np.testing.assert_allclose(followed["tilt"], tilt, atol=0.001)


@pytest.mark.parametrize("seed", range(8))
def test_radians_that_nobody_states_are_asked_and_the_larger_lean_is_taken(read, seed):
    tilt, azimuth = drawn(seed)
    source = read(leans(tilt, azimuth, "rad"))
    (asked,) = [each for each in source.troubles if each.asks]
    assert source.layers["shots"]["tilt_azimuth"].isna().all()
    np.testing.assert_allclose(source.layers["shots"]["tilt"], tilt, atol=0.001)
    assert "all within 6.2832: are they radians?" in str(asked)


@pytest.mark.parametrize("seed", range(20))
def test_degrees_are_never_asked(read, seed):
    tilt, azimuth = drawn(seed, count=3 + seed)
    signed = np.where(azimuth > 180, azimuth - 360, azimuth)
    for given in (azimuth, signed, np.zeros(len(tilt))):
        source = read(leans(tilt, given, "deg"))
        assert not source.troubles
        np.testing.assert_allclose(source.layers["shots"]["tilt_azimuth"], given, atol=0.001)


@pytest.mark.parametrize("seed", range(6))
def test_single_rows_beyond_a_turn_are_missing_and_told_with_their_line(read, seed):
    tilt, azimuth = drawn(seed)
    draw = np.random.default_rng(100 + seed)
    row, other, lean = draw.choice(40, 3, replace=False)
    azimuth[row], azimuth[other], tilt[lean] = 999.0, -4321.5, -12.0
    source = read(leans(tilt, azimuth, "deg"))
    shots = source.layers["shots"]
    assert np.flatnonzero(shots["tilt_azimuth"].isna()).tolist() == sorted([row, other])
    assert np.flatnonzero(shots["tilt"].isna()).tolist() == [lean]
    assert sorted(each.line for each in source.troubles) == sorted([row + 2, other + 2, lean + 2])
    assert all(re.search(r"0 to (90|360) degrees are allowed", str(each)) for each in source.troubles)
    assert source.facts["tilt_azimuth not taken"] == " ".join(map(str, sorted([row + 2, other + 2])))


def test_stated_degrees_take_the_others_and_leave_the_impossible(read):
    tilt, azimuth = drawn(3)
    source = read(leans(tilt, azimuth, "gon"), angle_unit="deg")
    beyond = azimuth / 0.9 > 360
    assert np.array_equal(source.layers["shots"]["tilt_azimuth"].isna(), beyond)
    assert "gon" not in str(source.troubles[0])


def test_in_code_an_azimuth_beyond_a_turn_is_refused():
    from geoqa.library.logs import azimuths_in

    with pytest.raises(GeometryInputError, match="holds 399"):
        azimuths_in(pd.DataFrame({"a": [1.0, 399.0]}), "a", what="shots")
