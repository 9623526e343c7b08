"""The printed list of what a file may be in: foot, name and code of each line are of one system.

Outside truth: the unit of a code is what the projection library says of it.
"""

import re

import pyproj
import pytest

from geoqa.frames.files.better import _remedy
from geoqa.frames.files.candidates import ranked_lines
from geoqa.frames.readings.doubt import Known, doubt
from geoqa.frames.systems.geographic import from_geographic
from geoqa.frames.systems.resolve import resolve
from geoqa.model.quantity import FOOT, US_SURVEY_FOOT

# zones the database lists in one foot only, and one that it lists in both
SITES = {
    "EPSG:6494": (-84.7, 44.3),
    "EPSG:6547": (-99.46, 46.885),
    "EPSG:6559": (-122.6, 45.4),
    "EPSG:2264": (-79, 35.5),
}
FULL = {"international foot": "foot", "US survey foot": "US survey foot", "metre": "metre"}


def of(code, *, other_foot=False):
    longitude, latitude = SITES[code]
    east, north = from_geographic(
        code, [longitude, longitude + 0.002, longitude], [latitude, latitude, latitude + 0.003]
    )
    known = Known(what="control", frame=resolve(code), easting=east, northing=north, row=None)
    factor = float(FOOT.metres / US_SURVEY_FOOT.metres) if other_foot else 1.0
    return doubt(east * factor, north * factor, references=[known], named=True)


@pytest.mark.parametrize("code", SITES)
def test_the_code_of_a_line_is_in_the_foot_of_the_line_or_says_in_which_it_is(code):
    lines = [line for line in ranked_lines("a.csv", of(code), "") if re.match(r"\d+\. ", line)]
    assert lines
    for line in lines:
        unit = re.search(f" in ({'|'.join(FULL)})", line)[1]
        shown = re.search(r"EPSG:\d+", line)[0]
        own = pyproj.CRS(shown).axis_info[0].unit_name
        if own == FULL[unit]:
            assert f"({shown})" in line
        else:
            stated = next(each for each, name in FULL.items() if name == own)
            assert f"not listed in it: {shown}, itself in {stated}, and unit = " in line


def test_a_zone_of_one_foot_shows_the_other_as_a_unit_to_declare():
    said = "\n".join(ranked_lines("a.csv", of("EPSG:6494"), ""))
    assert "in international foot (EPSG:6494)" in said
    assert '(not listed in it: EPSG:6494, itself in international foot, and unit = "ftUS")' in said


def test_a_frame_to_set_comes_with_its_unit_where_the_code_is_the_other_foot():
    reading = next(each for each in of("EPSG:6494").readings if each.unit == "ftUS" and each.datum == "NAD83")

    class File:
        table = "[[shots]]"

    assert _remedy({"zone": reading.zone}, reading, File) == (
        'set frame = "EPSG:6494" in [[shots]] and set unit = "ftUS" in [[shots]]'
    )


def test_where_nothing_tells_zones_apart_they_are_listed_with_the_place_each_makes_of_the_numbers():
    east, north = from_geographic("EPSG:6459", [-85.7, -85.69], [40.1, 40.11])
    alone = doubt(east, north, named=True, shown=400)
    head, zones, line, *_ = ranked_lines("a.csv", alone, "")
    assert "and none is chosen" in head
    assert "EPSG:6459 (latitude 40.1, longitude -85.7)" in zones
    assert 'horizontal = "EPSG:' in line
    head, fewer, *_ = ranked_lines("a.csv", alone, "", {US_SURVEY_FOOT: "plan.xml"})
    assert "in US survey foot, which plan.xml states for numbers beside these" in head
    assert "EPSG:6459 (latitude" in fewer
    assert fewer.count("EPSG:") < zones.count("EPSG:")
    both, *_ = ranked_lines("a.csv", alone, "", {FOOT: "plan.xml", US_SURVEY_FOOT: "b.csv"})
    assert "which plan.xml states" not in both
