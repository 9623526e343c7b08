"""What was said about one simulated job, beside its truth."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.contract.sentences import reason_of
from geoqa.model.tables.fact import Fact, facts_of

if TYPE_CHECKING:
    import pandas as pd

    from geoqa.simulate.make import Simulated


@dataclass(frozen=True, kw_only=True, eq=False)
class Said:
    """What was said about one simulated job.

    Attributes
    ----------
    simulated : Simulated
    layers : mapping of str to DataFrame
        After all steps.
    clean : mapping of str to DataFrame
        The same of the same job with nothing planted.
    """

    simulated: "Simulated"
    layers: Mapping[str, Any]
    clean: Mapping[str, Any]

    def keys(self, flag: str) -> list[str]:
        """Shots that must carry a flag."""
        items = self.simulated.truth.items
        return sorted({key for item in items if item["flag"] == flag for key in item["shots"]})

    def facts(self, flag: str) -> dict[str, Fact]:
        """Shot key to the facts of a flag."""
        rows = self.layers["flags"]
        rows = rows[rows["flag"] == flag]
        return dict(zip(rows["shot_key"], facts_of(rows, "flag"), strict=True))

    def reasons(self, flag: str) -> dict[str, str]:
        """Shot key to what people read of a flag."""
        return {key: reason_of(fact, "ft") for key, fact in self.facts(flag).items()}

    def true(self, key: str) -> "pd.Series":
        """The row of the truth about one shot."""
        rows = self.simulated.truth.shots
        return rows[rows["shot_key"] == key].iloc[0]

    def apart(self, one: str, two: str) -> float:
        """True plan distance of two shots."""
        first, second = self.true(one), self.true(two)
        return float(np.hypot(first["easting"] - second["easting"], first["northing"] - second["northing"]))
