"""Which shots are judged: the flags, drawn together."""

import numpy as np
import pandas as pd

from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import BETWEEN
from geoqa.steps.judging.text_columns import rows_of, taken


class UsableShots(Step):
    """Mark the shots that are judged, and list the flags of each.

    A shot with a rejecting flag is not judged; it stays listed and mapped.
    """

    name = "usable-shots"
    needs = ("flags", "shots")
    extends = ("shots.use", "shots.flags")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Draw flags together, shot by shot."""
        shots, flags = layers["shots"], layers["flags"]
        use = np.ones(len(shots), dtype=bool)
        use[rows_of(flags.loc[flags["reject"], "shot_key"], shots["shot_key"])] = False
        return {"shots": pd.DataFrame({"use": use, "flags": _listed(shots, flags)}, index=shots.index)}


def _listed(shots: pd.DataFrame, flags: pd.DataFrame) -> pd.Series:
    """Flags of every shot, sorted and joined; written once for each different set of flags, not for each shot."""
    names = np.sort(np.asarray(flags["flag"].unique(), dtype=object))
    raised = np.zeros((len(shots), len(names)), dtype=bool)
    row = rows_of(flags["shot_key"], shots["shot_key"])
    raised[row, rows_of(flags["flag"], pd.Series(names, dtype="str"))] = True
    # one after another, for sorting rows of many columns takes ten times as long
    which, sets = np.zeros(len(shots), dtype=np.int64), np.zeros((1, 0), dtype=bool)
    for column in raised.T:
        there, which = np.unique(2 * which + column, return_inverse=True)
        sets = np.column_stack([sets[there // 2], there % 2 == 1])
    return taken([BETWEEN.join(names[each]) for each in sets], which).set_axis(shots.index)
