"""Small jobs in memory: straight lines along the north axis, so that station is northing and offset is easting."""

from typing import Any

import numpy as np
import pytest

from geoqa import testing


@pytest.fixture(scope="session")
def frame():
    return testing.frame()


class Desk:
    """Builds small jobs and runs steps over them."""

    shots, known, design, limits, run, told = (
        staticmethod(testing.shots),
        staticmethod(testing.known),
        staticmethod(testing.design),
        staticmethod(testing.limits),
        staticmethod(testing.run),
        staticmethod(testing.verdicts),
    )
    layers = staticmethod(testing.layers)
    origin = np.array(testing.ORIGIN)

    def __init__(self, frame: Any) -> None:
        self.frame = frame


@pytest.fixture
def job(frame):
    return Desk(frame)
