"""What it would change if a log that does not say what its precisions mean had meant 95 %: counted, in one line."""

import numpy as np
import pandas as pd

from geoqa.contract.work import ELEVATION
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.shots.flags import noted
from geoqa.steps.unproven.shifted_verdicts import counted, deviations_of, verdicts_in


class LogConfidence(Step):
    """Ask for the meaning of the log's precisions where verdicts rest on it and the job does not state it.

    1 sigma is taken, the larger uncertainty. The verdicts of the other reading are counted beside: a reading for a
    person, no verdict is changed by it.
    """

    name = "log-confidence"
    needs = ("otherwise_read", "limits", "shots.use", "shots.flags", "shots.u_h_random", "shots.u_v_random")
    wants = ("line_matches", "design_lines", "design_elements", "point_matches", "design_points", "cause_shots",
             "believed_parts")  # fmt: skip
    adds = ("notes",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One note, or none."""
        other = layers["otherwise_read"]
        read, otherwise, shots = [], [], set()
        for check, rows in deviations_of(layers) if len(other) else []:
            place = rows_of(rows["shot"], other["shot_key"])
            mine = (place >= 0) & (rows["why"] == 0).to_numpy(bool)
            if not mine.any():
                continue
            here, place = rows[mine].drop(columns=["row"]), place[mine]
            plane = "v" if check is ELEVATION else "h"
            random, common = (other[f"u_{plane}_{part}"].to_numpy(float)[place] for part in ("random", "common"))
            read.append(verdicts_in(layers, here, check))
            otherwise.append(verdicts_in(layers, here.assign(u_random=random, u_common=common), check))
            shots |= set(here["shot"])
        if not read:
            return {"notes": noted(self.name, [])}
        before, after = (pd.concat(each, ignore_index=True) for each in (read, otherwise))
        fact = {
            "note": "log-confidence", "written": counted(before), "proposal": counted(after), "total": len(shots),
            "count": int(np.sum(before.to_numpy() != after.to_numpy())),
        }  # fmt: skip
        return {"notes": noted(self.name, [fact] if len(before) else [])}
