"""A design file that fits all shots in the other foot, and what must not be taken for one."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.quantity import FOOT, METRE
from geoqa.steps.causes.other_foot import other_foot, units_read

PLACES = [(318_000.0, 1_767_000.0), (2_228_000.0, 446_000.0), (6_050_000.0, 2_100_000.0)]
LONGER = 1200 / 3937 / 0.3048 - 1  # 85 FR 62698: the two feet


def numbers(place, moved, *, lines=("A", "B"), azimuths=(20.0, 110.0), shots=6, radial=False, noise=0.02):
    """Shots along lines, or at points, that the design is missed by `moved`."""
    made = []
    for line, azimuth in zip(lines, azimuths, strict=False):
        for n in range(shots):
            angle = np.radians(azimuth)
            size, at = np.hypot(*moved), np.degrees(np.arctan2(*moved))
            off = np.cos(angle) * moved[0] - np.sin(angle) * moved[1] + noise * (-1) ** n
            made.append(
                {"source": "d", "subject": f"{line}{n}" if radial else line, "deviation": size if radial else off,
                 "easting": place[0] + 30 * n, "northing": place[1] + 7 * n, "azimuth": at if radial else azimuth,
                 "limit": 0.15, "u_common": 0.02, "u_random": 0.02, "radial": radial}
            )  # fmt: skip
    return pd.DataFrame(made)


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize(("read", "sign"), [("ft", 1.0), ("ftUS", -1.0)])
@pytest.mark.parametrize("radial", [False, True])
def test_a_file_in_the_other_foot_is_found_in_either_direction(place, read, sign, radial):
    moved = sign * LONGER * np.array(place)
    (one,) = other_foot(numbers(place, moved, radial=radial), {"d": read}, FOOT)
    assert (one.file, one.read, one.other) == ("d", read, {"ft": "ftUS", "ftUS": "ft"}[read])
    assert one.shots == 6
    np.testing.assert_allclose(one.moved, moved, atol=0.001)
    assert one.as_other < 0.03 < 0.2 < one.as_read
    # the other way round it is another matter
    assert not other_foot(numbers(place, -moved, radial=radial), {"d": read}, FOOT)


PLACE = PLACES[0]
MOVED = LONGER * np.array(PLACE)


@pytest.mark.parametrize(
    "rows",
    [
        pytest.param(numbers(PLACE, (0.0, 0.0)), id="sound"),
        pytest.param(numbers(PLACE, MOVED[::-1]), id="built off by another vector of that size"),
        pytest.param(numbers(PLACE, 0.9 * MOVED), id="built off by a little less"),
        pytest.param(numbers(PLACE, MOVED, lines=("A",)), id="one line only"),
        pytest.param(numbers(PLACE, MOVED, shots=4), id="four shots"),
        pytest.param(numbers(PLACE, MOVED, azimuths=(10.2, 10.2)), id="lines that tell nothing"),
        pytest.param(numbers((40_000.0, 60_000.0), LONGER * np.array([4e4, 6e4])), id="too small to tell"),
        pytest.param(pd.concat([numbers(PLACE, MOVED), numbers(PLACE, (0, 0), lines="CD")]), id="half of the lines"),
    ],
)
def test_another_miss_is_not_taken_for_it(rows):
    assert not other_foot(rows, {"d": "ft"}, FOOT)


def test_numbers_in_metres_know_the_feet_too():
    metres = numbers(PLACE, MOVED)
    for name in ("deviation", "easting", "northing", "limit", "u_common", "u_random"):
        metres[name] *= 0.3048
    (one,) = other_foot(metres, {"d": "ft"}, METRE)
    assert one.as_read == pytest.approx(0.3048 * other_foot(numbers(PLACE, MOVED), {"d": "ft"}, FOOT)[0].as_read)
    assert not other_foot(metres, {}, METRE)


def test_only_designs_in_feet_are_asked(job):
    sources = pd.DataFrame(
        {"source": ["a", "b", "c", "s"], "role": ["design"] * 3 + ["shots"], "unit": ["ftUS", "m", None, "ft"],
         "path": ["a.xml", "b.dxf", "c.csv", "s.csv"]}
    )  # fmt: skip
    assert units_read(job.layers(sources=sources)) == {"a": "ftUS", "c": "ft"}
