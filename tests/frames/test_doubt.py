"""Unlabelled files at random sites: what is said is right, and what cannot be told is not said."""

import numpy as np
import pytest

from bench.extent import extent
from geoqa.errors import FrameError
from geoqa.frames.readings.doubt import Known, doubt
from geoqa.frames.readings.signatures import epochs
from geoqa.frames.systems.definitions import linear_unit, systems
from geoqa.frames.systems.geographic import from_geographic
from geoqa.frames.systems.resolve import resolve
from geoqa.frames.systems.zone_list import zones_of_the_states
from geoqa.model.quantity import FOOT, METRE, US_SURVEY_FOOT

SITES = extent(200, of_a_change=80)


def sites():
    """Random zone, place, unit and order; six marks within 600 m, shots on them with 2 cm of noise."""
    draw = np.random.default_rng(20260314)
    zones = [
        zone
        for zone in zones_of_the_states()
        if zone.datum == "NAD83" and set(zone.listed()) - {METRE} and not zone.name.startswith(("UTM", "BLM"))
    ]
    for _ in range(SITES):
        zone = zones[draw.integers(len(zones))]
        area = zone.area
        longitude = draw.uniform(area.west, area.east) if area.west < area.east else area.west + 1.0
        latitude = draw.uniform(area.south, area.north)
        unit = (FOOT, US_SURVEY_FOOT, METRE)[draw.choice(3, p=[0.45, 0.45, 0.1])]
        swapped, globally = bool(draw.random() < 0.3), bool(draw.random() < 0.15)
        yield zone, float(longitude), float(latitude), unit, swapped, globally, draw


def file_of(zone, longitude, latitude, unit, swapped, globally, draw):
    frame = resolve(next(code for own, code in zone.listed().items() if own != METRE))
    own = frame.unit.metres_float
    middle = np.array([float(each[0]) for each in from_geographic(frame, [longitude], [latitude])])
    marks = middle + draw.uniform(-300, 300, (6, 2)) / own
    shots = marks + draw.normal(0, 0.02, (6, 2)) / own
    if globally:
        (shown, *_) = epochs(frame, 2026.4)
        shots = shown.shows(np.column_stack([shots, np.zeros(6)]))[:, :2]
    shots = shots * float(frame.unit.metres / unit.metres)
    first, second = (shots[:, 1], shots[:, 0]) if swapped else (shots[:, 0], shots[:, 1])
    return frame, marks, first, second


def truth(zone, unit, swapped, globally):
    order = "northing first" if swapped else "easting first"
    return {"zone": zone.name, "unit": unit.name, "order": order, "datum": "NAD83, global" if globally else "NAD83"}


@pytest.mark.score
@pytest.mark.parametrize("paired", [True, False], ids=["shots on marks", "neighbourhood only"])
def test_of_many_random_sites_nothing_wrong_is_said(paired, capsys):
    said, wrong, complete, leading, feet = 0, [], 0, 0, 0
    for zone, longitude, latitude, unit, swapped, globally, draw in sites():
        frame, marks, first, second = file_of(zone, longitude, latitude, unit, swapped, globally, draw)
        known = Known(
            what="control", frame=frame, easting=marks[:, 0], northing=marks[:, 1], row=np.arange(6) if paired else None
        )
        found = doubt(first, second, references=[known], epoch=2026.4)
        right = truth(zone, unit, swapped, globally)
        said += len(found.settled)
        complete += found.complete
        feet += found.settled.get("unit", "m") != "m"
        wrong += [(zone.name, key, found.settled[key]) for key in found.settled if found.settled[key] != right[key]]
        best = found.readings[0]
        leading += all(getattr(best, key) == value for key, value in right.items())
    with capsys.disabled():
        print(
            f"\n{SITES} sites, {'pairs' if paired else 'neighbourhood'}: {leading} first, {complete} settled whole, "
            f"{said} of {4 * SITES} questions settled, {len(wrong)} wrong"
        )
    assert wrong == []
    if paired:
        assert SITES - leading <= extent(2, of_a_change=1)
        assert complete >= 0.97 * SITES
    else:
        assert said >= SITES
        assert feet == 0  # the foot moves a site by metres: its neighbourhood cannot show that


def test_numbers_alone_lie_in_dozens_of_zones_and_that_is_what_is_said():
    found = doubt([2228511.295, 2229615.095], [445967.361, 446160.238])
    assert not found.complete
    assert "zone" not in found.settled
    assert "unit" not in found.settled
    assert "Cannot tell zone" in found.recommendation
    assert found.tried > 1000


def test_known_points_that_no_reading_fits_settle_nothing():
    frame = resolve("EPSG:6547")
    east, north = np.array([2228515.752, 2229619.554, 2230446.1]), np.array([445968.253, 446161.130, 446085.8])
    known = Known(what="control", frame=frame, easting=east, northing=north, row=np.arange(3))
    found = doubt(east + np.array([12.0, -9.0, 14.0]), north + np.array([-11.0, 8.0, 10.0]), references=[known])
    assert found.settled == {}
    assert "another blunder" in found.recommendation


def test_local_coordinates_are_said_to_be_none_of_the_zones():
    frame = resolve("EPSG:6547")
    known = Known(what="design", frame=frame, easting=np.array([2228515.0]), northing=np.array([445968.0]))
    found = doubt([1000.0, 1200.0], [5000.0, 5100.0], references=[known])
    assert not found.settled
    assert "local coordinates" in found.recommendation


def test_a_file_without_any_position_is_refused():
    with pytest.raises(FrameError, match="nothing to place"):
        doubt([np.nan], [1.0])


def test_where_both_feet_of_a_zone_are_listed_the_control_tells_them_apart():
    # Arizona Central is listed in international feet; the other foot moves the site by (1.11, 2.11) ft
    frame = resolve("EPSG:6405")
    east, north = np.array([553000.0, 553500.0, 554000.0]), np.array([1055000.0, 1055100.0, 1055400.0])
    known = Known(what="control", frame=frame, easting=east, northing=north, row=np.arange(3))
    ratio = float(FOOT.metres / US_SURVEY_FOOT.metres)
    found = doubt(east * ratio, north * ratio, references=[known])
    assert found.settled["unit"] == "ftUS"
    assert found.readings[0].misfit < 0.01
    assert linear_unit(systems(found.readings[0].code)[0], what="").name == "ft"
    assert 'unit = "ftUS"' in found.recommendation


def test_columns_that_have_names_are_not_told_by_which_comes_first():
    # shots read by name from a file that holds P,N,E: "easting first" of them would contradict the file
    frame = resolve("EPSG:6405")
    east, north = np.array([553000.0, 553500.0, 554000.0]), np.array([1055000.0, 1055100.0, 1055400.0])
    near = Known(what="design", frame=frame, easting=east, northing=north)
    marks = Known(what="control", frame=frame, easting=east, northing=north, row=np.arange(3))
    for known in (near, marks):
        said = doubt(east, north, references=[known], named=True).recommendation
        assert "easting first" not in said
        swapped = doubt(north, east, references=[known], named=True).recommendation
        assert "northing in the easting column" in swapped
    assert "order as read" in doubt(east, north, references=[near], named=True).recommendation
    assert "easting first" in doubt(east, north, references=[near]).recommendation
