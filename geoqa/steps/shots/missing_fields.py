"""What could not be checked, because the log does not hold the field it takes."""

import numpy as np
import pandas as pd

from geoqa.model.step import Step
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.steps.shots.flags import noted

TAKES: tuple[tuple[str, str, str], ...] = (
    ("solution", "screening: solution", "float and autonomous shots cannot be told from fixed ones"),
    ("satellites", "screening: satellites; weak sky", "places near trees and walls cannot be found from the log"),
    ("pdop", "screening: PDOP", "poor geometry of satellites cannot be seen"),
    ("correction_age", "screening: correction age", "stale corrections cannot be seen"),
    ("epochs", "screening: epochs", "shots taken too quickly cannot be seen"),
    ("tilt", "screening: tilt; tilt compensation", "a leaning rod cannot be found, and its uncertainty is left out"),
    ("tilt_azimuth", "tilt compensation", "errors along the lean cannot be told from others"),
    ("rod_height", "rod entries", "a change of rod height shows only as a step in elevation"),
    ("reported_h", "uncertainty: reported precision", "typical values stand in for the receiver's own report"),
    ("reported_v", "uncertainty: reported precision", "typical values stand in for the receiver's own report"),
    ("time", "motion; repeats; opening and closing checks", "order, pace and independence of shots are unknown"),
    ("session", "control per session; opening and closing checks", "the whole file stands for one session"),
    ("initialization", "bad initialization", "blocks of shots that share a wrong start cannot be told apart"),
    (
        "line_id",
        "strings: spikes, closing, jumps; repeats under another name",
        "shots cannot be joined to lines; marks are named by shot or note",
    ),
    ("sequence", "strings: order", "the order within a line is taken from the time, else from the file"),
    ("elevation", "elevations", "nothing vertical can be judged"),
    ("code", "kinds", "nothing is known to be a curb, a walk or a check shot"),
    ("shot", "duplicates: names", "names used twice cannot be found"),
)
"""Field of the log, what it takes it, and what is lost without it."""


class MissingFields(Step):
    """List the checks that were impossible, wholly or for some shots, because a log field is missing."""

    name = "missing-fields"
    needs = ("shots",)
    gives = ("impossible_checks",)
    adds = ("notes",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Count the shots without each field; most first."""
        shots = layers["shots"]
        rows = []
        for field, check, lost in TAKES:
            missing = int(shots[field].isna().sum()) if field in shots else len(shots)
            if missing:
                rows.append({"check": check, "field": field, "shots": missing, "of": len(shots), "reason": lost})
        listed = pd.DataFrame(rows, columns=["check", "field", "shots", "of", "reason"])
        order = np.argsort(-listed["shots"].to_numpy(np.int64), kind="stable")
        listed = listed.iloc[order].reset_index(drop=True)
        wholly = listed[listed["shots"] == listed["of"]]
        notes = [
            {"note": "impossible", "subject": row["field"], "place": row["check"], "written": row["reason"],
             "count": row["shots"], "total": row["of"]}
            for row in wholly.to_dict("records")
        ]  # fmt: skip
        return {"impossible_checks": conform("impossible_checks", listed), "notes": noted(self.name, notes)}
