"""Shots that are there twice: the same row again, one measurement under two names, and real repeats told apart."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.shots.flags import all_flags, as_columns, flagged


class Doubles(Step):
    """Tell four kinds of doubles apart; the fifth, one name for two places, is told by the step `doubtful-records`.

    ``row-twice``: same name, code, time and place: one row exported twice; the first is judged, the others are not.
    ``two-names``: same time and place to the last digit under other names or codes: one measurement, listed twice.
    ``re-shot``: same name and place at another time. ``same-place``: same code and line ID within `apart`
    under another name at another time. Both are repeats; those that come within `independent` minutes share
    their errors and prove nothing. Without times, rows that agree to the last digit count as measured at one time.
    Check shots and tilt tests are meant to repeat and are left out. Without a code or a line ID, a repeat under
    another name is not told from another feature that meets the first, and nothing is said.
    """

    name = "doubles"
    needs = ("shots",)
    wants = ("shots.role",)
    adds = ("flags",)

    apart: Length = Field(Length.parse("0.10 ft"), description="Distance, elevation included, up to which two shots "
                          "are of one place")  # fmt: skip
    independent: float = Field(30.0, gt=0, description="Minutes after which a repeat may count as independent")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Pairs within `apart`, each with its kind."""
        shots, unit = layers["shots"], layers.frame.unit
        usable = shots[["easting", "northing"]].notna().all(axis=1).to_numpy()
        if "role" in shots:
            usable = usable & (shots["role"].isna() | (shots["role"] == "feature")).to_numpy(bool)
        rows = np.flatnonzero(usable)
        pairs = np.stack(_pairs(shots, rows, self.apart.to(unit)))
        facts_of: dict[str, dict[int, dict[str, Any]]] = {
            "row-twice": {}, "two-names": {}, "re-shot": {}, "same-place": {}
        }  # fmt: skip
        # only the few shots that lie at another one are looked at one by one
        near, place = np.unique(pairs, return_inverse=True)
        facts = _facts(shots.iloc[near])
        for one, two in place.reshape(2, -1).T.tolist():
            self._tell(facts, *((one, two) if facts["when"][one] <= facts["when"][two] else (two, one)), facts_of)
        parts = [
            flagged(
                shots, near[sorted(found)], flag=flag, reject=flag == "row-twice", step=self.name,
                **as_columns([found[row] for row in sorted(found)]),
            )
            for flag, found in facts_of.items()
        ]  # fmt: skip
        return {"flags": all_flags(parts)}

    def _tell(self, facts: dict[str, Any], one: int, two: int, facts_of: dict[str, dict[int, dict[str, Any]]]) -> None:
        name, code, place, seconds = (facts[key] for key in ("name", "code", "place", "seconds"))
        exact = place[one] == place[two]
        known = not (np.isnan(seconds[one]) or np.isnan(seconds[two]))
        together = exact and (
            seconds[one] == seconds[two] if known else np.isnan(seconds[one]) == np.isnan(seconds[two])
        )
        if together and name[one] == name[two] and code[one] == code[two]:
            facts_of["row-twice"].setdefault(two, {"other": facts["key"][one]})
            return
        if together:
            for mine, other in ((one, two), (two, one)):
                facts_of["two-names"].setdefault(mine, {"other": facts["key"][other], "written": code[other]})
            return
        same_name = name[one] is not None and name[one] == name[two]
        unlike = any(facts[key][one] is None or facts[key][one] != facts[key][two] for key in ("code", "line"))
        if not same_name and unlike:
            return  # two features that meet, such as the pipes at a manhole
        minutes = float((seconds[two] - seconds[one]) / 60.0)
        repeat = {"other": facts["key"][one], "number": minutes, "limit": self.independent, "unit": "min"}
        facts_of["re-shot" if same_name else "same-place"].setdefault(two, repeat)


def _facts(shots: pd.DataFrame) -> dict[str, Any]:
    seconds = np.where(shots["time"].notna(), shots["time"].astype("int64") / 1e6, np.nan)
    columns = [shots[name].to_numpy(float) for name in ("easting", "northing", "elevation")]
    return {
        "name": shots["shot"].astype(object).where(shots["shot"].notna(), None).tolist(),
        "code": shots["code"].astype(object).where(shots["code"].notna(), None).tolist(),
        "line": shots["line_id"].astype(object).where(shots["line_id"].notna(), None).tolist(),
        "key": shots["shot_key"].tolist(),
        "place": [tuple(None if np.isnan(value) else value for value in row) for row in zip(*columns, strict=True)],
        "seconds": seconds,
        "when": np.where(np.isnan(seconds), shots["line"].to_numpy(float), seconds),
    }


def _pairs(shots: pd.DataFrame, rows: np.ndarray, apart: float) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of rows within `apart` of each other; a missing elevation is compared in plan."""
    from scipy.spatial import cKDTree

    if len(rows) < 2:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    place = shots[["easting", "northing"]].to_numpy(float)[rows]
    near = cKDTree(place - place.mean(axis=0)).query_pairs(apart, output_type="ndarray")
    level = shots["elevation"].to_numpy(float)[rows]
    rise = np.abs(level[near[:, 0]] - level[near[:, 1]])
    plan = np.hypot(*(place[near[:, 0]] - place[near[:, 1]]).T)
    missing = np.isnan(level[near]).any(axis=1)
    both = np.isnan(level[near]).all(axis=1)
    keep = np.where(missing, both, np.hypot(plan, np.nan_to_num(rise)) <= apart)
    near = near[keep]
    near = near[np.lexsort((near[:, 1], near[:, 0]))]
    return rows[near[:, 0]], rows[near[:, 1]]
