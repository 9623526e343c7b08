"""Every file of a job is resolved once: what it is declared, detected, assumed to be, and where that is in doubt.

Outside truth: the exact ratio of the two feet, 0.3048 m to 1200/3937 m, moves a place by two parts in a million.
"""

from dataclasses import FrozenInstanceError

import numpy as np
import pandas as pd
import pytest

from geoqa.errors import AreaError
from geoqa.frames.files.place import place_files
from geoqa.frames.files.reading import FileAsRead, evidence_lines, frame_lines
from geoqa.frames.systems.resolve import resolve
from geoqa.model.quantity import US_SURVEY_FOOT
from geoqa.model.source import Evidence, Source

CODE = "EPSG:6547"
EAST = np.array([2228000.0, 2229000.0, 2228500.0, 2229500.0])
NORTH = np.array([444000.0, 444500.0, 445000.0, 445500.0])
SURVEY_FEET = 0.3048 / (1200 / 3937)
HEADER = Evidence(what="delimiter", answer="comma", because="every line has as many")


def shots(ratio=1.0, *, crs=None, **more):
    table = pd.DataFrame(
        {
            "easting": EAST * ratio,
            "northing": NORTH * ratio,
            "elevation": 1400.0,
            "shot": ["1", "2", "3", "4"],
            "line_id": ["A", "B", "C", "D"],
            "code": "CHK",
        }
    )
    source = Source(layers={"shots": table}, crs=crs, evidence=(HEADER,))
    return FileAsRead(role="shots", name="day1.csv", source=source, key="day1", **more)


def control(twice=False):
    marks = ["A", "A" if twice else "B", "C", "D"]
    table = pd.DataFrame({"mark": marks, "easting": EAST, "northing": NORTH, "elevation": 1400.0})
    return FileAsRead(role="control", name="control.csv", source=Source(layers={"control": table}), key="control")


def test_a_record_keeps_what_was_declared_detected_and_assumed_apart():
    silent, labelled = place_files([shots(unit=US_SURVEY_FOOT), control()], resolve(CODE)).files
    assert (silent.declared, silent.own, silent.labelled) == (None, None, False)
    assert silent.detected == (HEADER,)
    assert silent.assumed[0].answer == "assumed: the job's frame, NAD83(2011) / North Dakota South (ft)"
    assert silent.meaning.unit == US_SURVEY_FOOT
    assert silent.layers["shots"]["easting"].iloc[0] == pytest.approx(2228000.0 / SURVEY_FEET, abs=1e-6)
    assert silent.tables["shots"]["easting"].iloc[0] == 2228000.0
    assert labelled.layers["control"]["easting"].tolist() == EAST.tolist()
    with pytest.raises(FrozenInstanceError):
        silent.declared = CODE


@pytest.mark.long
def test_a_file_that_says_its_system_is_labelled_unless_it_lies_on_the_ground_or_has_another_unit():
    def labelled(file):
        return place_files([file], None).files[0].labelled

    assert labelled(shots(crs=CODE))
    assert labelled(shots(declared=CODE))
    assert not labelled(shots(crs=CODE, ground=True))
    assert not labelled(shots(crs=CODE, unit=US_SURVEY_FOOT))
    assert not labelled(shots(crs="no system"))


def test_lines_are_the_evidence_in_order_then_the_doubts():
    placement = place_files([shots(SURVEY_FEET), control()], resolve(CODE))
    first = placement.files[0]
    assert evidence_lines(first) == tuple(f"day1.csv: {item}" for item in (HEADER, *first.assumed))
    assert frame_lines(placement) == tuple(doubt.words for doubt in placement.doubts)


def test_a_doubt_holds_both_readings_as_numbers_and_stands_with_its_file():
    placement = place_files([shots(SURVEY_FEET), control()], resolve(CODE))
    (doubt,) = placement.doubts
    assert placement.files[0].doubts == (doubt,)
    assert placement.files[1].doubts == ()
    # metres off: the middle of the marks times two parts in a million
    off = np.median(np.hypot(EAST, NORTH)) * (1 - SURVEY_FEET) * 0.3048
    assert doubt.declared_misfit == pytest.approx(abs(off), abs=2e-3)
    assert doubt.better_misfit < 0.01
    assert doubt.better == "NAD83 / North Dakota South in US survey foot"


def test_without_a_frame_nothing_is_moved_and_the_candidates_are_ranked():
    placement = place_files([shots(), control()], None)
    assert placement.frame is None
    assert placement.files[0].layers == {}
    assert placement.candidates[0].startswith("What day1.csv may be in (")
    assert frame_lines(placement) == placement.candidates
    assert "read alike" in placement.files[0].candidate


def test_a_frame_asks_the_check_shots_only_where_it_is_wanted():
    files = [shots(), control()]
    assert place_files(files, resolve(CODE)).files[0].candidate == ""
    asked = place_files(files, resolve(CODE), ranked=True)
    assert "read alike" in asked.files[0].candidate
    assert asked.candidates == ()


def test_a_list_in_which_a_mark_stands_twice_tells_nothing():
    placement = place_files([shots(SURVEY_FEET), control(twice=True)], resolve(CODE))
    assert placement.doubts == ()
    assert place_files([shots(), control(twice=True)], None).files[0].candidate == ""


def test_a_file_outside_the_frame_is_refused_with_what_it_may_be_instead():
    with pytest.raises(AreaError, match=r"(?s)day1\.csv.*outside the area of use.*none is chosen"):
        place_files([shots(), control()], resolve("EPSG:6405"))
