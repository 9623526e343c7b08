"""A design that says one foot and fits the shots in the other is told by a few shots, and by none where it fits."""

import numpy as np
import pandas as pd
import pytest

from geoqa.frames.files import labelled_foot
from geoqa.frames.files.place import place_files
from geoqa.frames.files.reading import FileAsRead
from geoqa.frames.systems.resolve import resolve
from geoqa.model.quantity import FOOT, US_SURVEY_FOOT
from geoqa.model.source import Source
from geoqa.model.tables.columns import conform
from geoqa.steps.causes import other_foot

ZONES = [("EPSG:6547", FOOT, US_SURVEY_FOOT, 2_228_000.0, 446_000.0),
         ("EPSG:6459", US_SURVEY_FOOT, FOOT, 319_000.0, 1_767_000.0)]  # fmt: skip


def doubts(zone, *, shots, wrong, moved=0.0, far=0):
    """A line along which shots lie; the design file says the other foot where it is wrong."""
    code, own, other, east, north = zone
    along = np.array([400.0, 300.0])
    ends = np.array([[east, north, east + along[0], north + along[1]]])
    names = ["start_easting", "start_northing", "end_easting", "end_northing"]
    drawn = conform(
        "design_elements", pd.DataFrame(ends, columns=names).assign(line="L", sequence=0, shape="line", sense=0)
    )
    share = np.linspace(0.1, 0.9, shots)[:, None]
    places = np.vstack([[east + moved, north + 0.01] + share * along, np.full((far, 2), [east + 250, north - 300])])
    table = pd.DataFrame(places, columns=["easting", "northing"])
    table = table.assign(elevation=100.0, shot=[str(n) for n in range(len(table))], line_id=pd.NA, code="K")
    design = Source(layers={"design_elements": drawn}, unit=other if wrong else own)
    files = [
        FileAsRead(role="shots", name="day.csv", source=Source(layers={"shots": table}), key="day"),
        FileAsRead(role="design", name="d.xml", source=design, key="d", accept=True),
    ]
    return place_files(files, resolve(code)).doubts


@pytest.mark.parametrize("zone", ZONES, ids=lambda zone: zone[0])
@pytest.mark.parametrize("shots", [3, 12])
def test_it_is_told_with_both_distances_and_the_line_that_settles_it(zone, shots):
    (said,) = doubts(zone, shots=shots, wrong=True, far=4)
    assert said.file == "d.xml"
    assert (said.better, said.better_misfit < 0.01, said.declared_misfit > 0.3) == (zone[1].full_name, True, True)
    assert f'set unit = "{zone[1].name}" in [[design]] of d' in said.words
    assert len(said.short) <= 160
    assert ("may agree by chance" in said.words) == (shots < 5)


@pytest.mark.parametrize("zone", ZONES, ids=lambda zone: zone[0])
def test_nothing_is_told_of_a_design_that_fits_of_two_shots_or_of_work_that_is_elsewhere(zone):
    assert not doubts(zone, shots=12, wrong=False)
    assert not doubts(zone, shots=2, wrong=True)
    assert not doubts(zone, shots=12, wrong=False, moved=0.9)


def test_the_words_say_from_when_a_run_lets_verdicts_wait():
    assert (labelled_foot.HELD_FROM, labelled_foot.HELD_LINES) == (other_foot.FEWEST, other_foot.FEWEST_LINES)
