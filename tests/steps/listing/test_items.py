"""What is out at one place is one item; what is open is one item a kind, check and reason."""

import pytest

from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.listing.items import Items

LINE = {"CTB-L": ("curb-top", 0.0, 0, 8000), "CTB-R": ("curb-top", 60.0, 0, 8000)}


@pytest.fixture
def judged(job):
    def done(*rows, **options):
        layers = job.layers(
            shots=job.prepared(job.shots(list(rows))),
            limits=job.limits(("curb-top", "offset", -0.10, 0.10), ("curb-top", "elevation", -0.10, 0.10)),
            **job.design(LINE),
        )
        return job.run(layers, MatchLines(), Offsets(), Elevations(), Items(**options))

    return done


def shot(station, offset, **more):
    return {"station": station, "offset": offset, **more}


def by_item(made):
    return made["findings"].dropna(subset=["item"]).groupby("item")["shot"].agg(sorted).to_dict()


def test_shots_within_thirty_feet_of_one_line_are_one_item_and_farther_ones_another(judged):
    made = judged(shot(20.0, 0.5), shot(45.0, 0.6), shot(200.0, 0.7), shot(100.0, 0.0))
    assert [len(shots) for _, shots in sorted(by_item(made).items())] == [1, 2]
    assert made["items"]["findings"].tolist() == [1, 2]
    # the farthest beyond its limit leads the list
    assert made["items"]["finding"].iloc[0] == made["findings"].sort_values("excess").iloc[-1]["finding"]


def test_nothing_within_tolerance_has_a_number(judged):
    made = judged(shot(20.0, 0.0), shot(45.0, 0.01))
    assert made["findings"]["item"].isna().all()
    assert not len(made["items"])


def test_what_cannot_be_decided_is_one_item_of_its_kind_and_check_wherever_it_lies(judged):
    made = judged(shot(20.0, 0.09), shot(700.0, 0.095), shot(1500.0, -0.09))
    (item,) = made["items"].to_dict("records")
    assert (item["verdict"], item["check"], item["findings"]) == ("UNDECIDED", "offset", 3)
    assert set(made["findings"].query("verdict == 'UNDECIDED'")["item"]) == {"1"}


def test_how_near_is_an_option(judged):
    made = judged(shot(20.0, 0.5), shot(45.0, 0.6), near="10 ft")
    assert made["items"]["findings"].tolist() == [1, 1]
