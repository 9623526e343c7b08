"""A place with few satellites, where another field of the log worsens too."""

import numpy as np
import pytest

from geoqa.steps.shots.weak_sky import WeakSky

COUNT = 40
UNDER_TREES = range(15, 25)
FLAGGED = {(str(101 + place), "weak-sky", False) for place in UNDER_TREES}


def raised(job, *, poor=UNDER_TREES, satellites=6, pdop=3.0, count=COUNT, spacing=10.0, **columns):
    """Flags of shots along a line; 15 or 16 satellites and a PDOP of 1.5 are usual."""
    rows = [{"station": spacing * place, "satellites": 15 + place % 2, "pdop": 1.5} for place in range(count)]
    for place in poor:
        rows[place] |= {"satellites": satellites, "pdop": pdop}
    shots = job.shots(rows)
    for name, values in columns.items():
        shots[name] = values
    return job.raised(job.run(job.layers(shots=shots), WeakSky()))


def test_few_satellites_and_a_worse_pdop_are_flagged_where_they_are(job):
    assert raised(job) == FLAGGED


def test_an_open_sky_raises_nothing(job):
    assert raised(job, poor=()) == set()


def test_few_satellites_well_placed_are_no_weak_sky(job):
    assert raised(job, pdop=1.5) == set()
    assert raised(job, pdop=1.9) == set()  # 1.27 times the usual; 1.3 counts


def test_a_worse_pdop_with_the_usual_satellites_is_none(job):
    assert raised(job, satellites=15) == set()


@pytest.mark.parametrize("poor", [(20,), (19, 21, 23)])
def test_a_bad_epoch_here_and_there_is_no_place(job, poor):
    assert raised(job, poor=poor) == set()


def test_a_reported_precision_that_worsens_counts_as_well(job):
    reported = [0.06 if place in UNDER_TREES else 0.03 for place in range(COUNT)]
    assert raised(job, pdop=1.5, reported_h=reported) == FLAGGED


def test_poor_shots_beside_such_a_place_belong_to_it_and_those_apart_do_not(job):
    # at 127 three of seven neighbours are poor, fewer than a median tells; it lies next to the place, 134 does not
    found = raised(job, poor=(*UNDER_TREES, 26, 33))
    assert ("127", "weak-sky", False) in found
    assert ("134", "weak-sky", False) not in found
    assert found >= FLAGGED


def test_neighbours_out_of_reach_make_no_place(job):
    assert raised(job, spacing=31.0) == set()  # 60 ft reach only one neighbour on either side


def test_without_satellites_or_with_few_shots_nothing_is_usual(job):
    assert raised(job, satellites=6, poor=range(10, 20), count=30) != set()
    assert raised(job, satellites=6, poor=range(10, 20), count=29) == set()
    assert raised(job, easting=np.nan) == set()
    shots = job.shots([{"station": 10.0 * place, "satellites": None} for place in range(COUNT)])
    assert job.raised(job.run(job.layers(shots=shots), WeakSky())) == set()
