"""Small jobs in memory: straight lines along the north axis, so that station is northing and offset is easting."""

from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from geoqa import testing
from geoqa.contract.sentences import reasons_of


@pytest.fixture(scope="session")
def frame():
    return testing.frame()


class Desk:
    """Builds small jobs and runs steps over them."""

    shots, prepared, design, limits, run, told = (
        staticmethod(testing.shots),
        staticmethod(testing.prepared),
        staticmethod(testing.design),
        staticmethod(testing.limits),
        staticmethod(testing.run),
        staticmethod(testing.verdicts),
    )
    layers = staticmethod(testing.layers)
    origin = np.array(testing.ORIGIN)

    def __init__(self, frame: Any) -> None:
        self.frame = frame

    @staticmethod
    def raised(layers: Any) -> set[tuple[str, str, bool]]:
        """Every flag as shot name without its source, flag, and whether it rejects."""
        rows = layers["flags"]
        names = [key.rpartition("/")[2] for key in rows["shot_key"]]
        return set(zip(names, rows["flag"], rows["reject"].tolist(), strict=True))

    @staticmethod
    def chance(deviation: float, u: float, lower: float, upper: float) -> float:
        """Probability that the true value lies within limits, by another library than the code's own."""
        return float(stats.norm.cdf(upper, deviation, u) - stats.norm.cdf(lower, deviation, u))

    @staticmethod
    def chance_in_circle(distance: float, u: float, radius: float) -> float:
        """The same for a radius: a distance with a scatter of u on each of two axes follows Rice's distribution."""
        return float(stats.rice.cdf(radius / u, distance / u))

    @staticmethod
    def reasons(layers: Any) -> pd.DataFrame:
        """Flags with their reason in a sentence, in the job's unit."""
        return layers["flags"].assign(reason=reasons_of(layers["flags"], layers.frame.unit.name))


@pytest.fixture
def job(frame):
    return Desk(frame)
