"""Shots that are there twice: the same file or row again, one measurement under two names, and real repeats."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import AGAIN
from geoqa.steps.shots.flags import all_flags, as_columns, flagged, noted
from geoqa.steps.shots.listings import Listings, listings_of


class Doubles(Step):
    """Tell four kinds of doubles apart; the fifth, one name for two places, is told by the step `doubtful-records`.

    ``row-twice``: one row listed twice: by the bytes of its file, by what most rows of two files hold, or by its own
    name, code, time and place. The first counts, check shots and tilt tests too; the others are nowhere counted.
    ``two-names``: same time and place to the last digit under other names or codes: one measurement, listed twice.
    ``re-shot``: same name and place at another time. ``same-place``: same code and line ID within `apart`
    under another name at another time. Both are repeats; those that come within `independent` minutes share
    their errors and prove nothing. Without times, rows that agree to the last digit count as measured at one time.
    Check shots and tilt tests are meant to repeat, and their repeats are not told. Without a code or a line ID, a
    repeat under another name is not told from another feature that meets the first, and nothing is said.
    """

    name = "doubles"
    needs = ("shots",)
    wants = ("shots.role", "sources")
    adds = ("flags", "notes")

    apart: Length = Field(Length.parse("0.10 ft"), description="Distance, elevation included, up to which two shots "
                          "are of one place")  # fmt: skip
    independent: float = Field(30.0, gt=0, description="Minutes after which a repeat may count as independent")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """What is listed twice; then pairs within `apart`, each with its kind."""
        shots, unit, listed = layers["shots"], layers.frame.unit, listings_of(layers)
        usable = shots[["easting", "northing"]].notna().all(axis=1).to_numpy() & ~listed.again
        if "role" in shots:
            usable = usable & (shots["role"].isna() | (shots["role"] == "feature")).to_numpy(bool)
        rows = np.flatnonzero(usable)
        pairs = np.stack(_pairs(shots, rows, self.apart.to(unit)))
        facts_of: dict[str, dict[int, dict[str, Any]]] = {"two-names": {}, "re-shot": {}, "same-place": {}}
        # only the few shots that lie at another one are looked at one by one
        near, place = np.unique(pairs, return_inverse=True)
        facts = _facts(shots.iloc[near])
        for one, two in place.reshape(2, -1).T.tolist():
            self._tell(facts, *((one, two) if facts["when"][one] <= facts["when"][two] else (two, one)), facts_of)
        parts = [
            flagged(
                shots, near[sorted(found)], flag=flag, reject=False, step=self.name,
                **as_columns([found[row] for row in sorted(found)]),
            )
            for flag, found in facts_of.items()
        ]  # fmt: skip
        again = np.flatnonzero(listed.again)
        other = shots["shot_key"].take(listed.first[again])
        parts.append(flagged(shots, again, flag=AGAIN, reject=True, step=self.name, other=other))
        return {"flags": all_flags(parts), "notes": noted(self.name, _notes(layers, listed))}

    def _tell(self, facts: dict[str, Any], one: int, two: int, facts_of: dict[str, dict[int, dict[str, Any]]]) -> None:
        name, code, place, seconds = (facts[key] for key in ("name", "code", "place", "seconds"))
        exact = place[one] == place[two]
        known = not (np.isnan(seconds[one]) or np.isnan(seconds[two]))
        together = exact and (
            seconds[one] == seconds[two] if known else np.isnan(seconds[one]) == np.isnan(seconds[two])
        )
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


def _notes(layers: Layers, listed: Listings) -> list[dict[str, Any]]:
    """Whole files that stand twice, then single rows file by file."""
    shots = layers["shots"]
    called = {name: name for name in shots["source"].dropna().unique()}
    if "sources" in layers:
        files = layers["sources"]
        called |= dict(zip(files["source"], files["path"].where(files["path"].notna(), files["source"]), strict=True))
    told = [
        {"note": "listed-twice", "variant": each.variant, "subject": called[each.source], "other": called[each.of],
         "count": each.rows, "total": each.total}
        for each in listed.copies
    ]  # fmt: skip
    whole = shots["source"].isin({each.source for each in listed.copies}).to_numpy(bool)
    single = shots.loc[listed.again & ~whole, "source"].value_counts().sort_index()
    told += [
        {"note": "listed-twice", "variant": "single", "subject": called[name], "count": count}
        for name, count in single.items()
    ]
    return told


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
