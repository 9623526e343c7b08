"""Which shots are judged: the flags, drawn together."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.model.step import Step
from geoqa.steps.text import filled, rows_of


class Use(Step):
    """Mark the shots that are judged, and list the flags of each.

    A shot with a rejecting flag is not judged; it stays listed and mapped.
    """

    name = "use"
    needs = ("flags", "shots")
    extends = ("shots.use", "shots.flags")

    def run(self, layers: Any) -> dict[str, Any]:
        """Draw flags together, shot by shot."""
        shots, flags = layers["shots"], layers["flags"]
        use = np.ones(len(shots), dtype=bool)
        use[rows_of(flags.loc[flags["reject"], "shot_key"], shots["shot_key"])] = False
        listed = filled("", len(shots)).set_axis(shots.index)
        if len(flags):
            once = flags[["shot_key", "flag"]].drop_duplicates().sort_values(["shot_key", "flag"])
            joined = once.groupby("shot_key", sort=False)["flag"].agg(";".join)
            listed = listed.to_numpy(dtype=object)
            listed[rows_of(joined.index, shots["shot_key"])] = joined.to_numpy(dtype=object)
            listed = pd.Series(listed, dtype="str", index=shots.index)
        return {"shots": pd.DataFrame({"use": use, "flags": listed}, index=shots.index)}
