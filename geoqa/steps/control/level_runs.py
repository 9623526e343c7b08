"""Level runs: their misclosure against what is allowed, and the elevations they give to points that were also shot."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.errors import GeometryInputError, SourceError
from geoqa.kernels.control.level_run import LevelRun, level_run
from geoqa.model.quantity import FOOT
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import stated_or_assumed
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.shots.flags import noted


class LevelRuns(Step):
    """Adjust level runs between marks, and find the shots whose points were levelled.

    Between two marks the misclosure is spread in proportion to the length levelled. A part that misses by more than
    the job allows is not taken, and neither is one of whose ends only one stands on a mark: nothing proves it. A point
    is the shot of the same name; a name that several shots bear is not taken. Elevations that were reduced elsewhere
    are taken as they stand, with their own 1 sigma. A levelled elevation is judged instead of the elevation of its
    shot, where it was levelled at the very point that was shot.

    The limit, a constant times the root of the length levelled, is common practice; the job states it and its source.
    """

    name = "level-runs"
    needs = ("levels", "level_rules", "shots.shot")
    wants = ("control",)
    gives = ("level_runs", "levelled")
    adds = ("notes",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One part after the other, in the order of the files."""
        levels, rules = layers["levels"], layers["level_rules"]
        parts: list[pd.DataFrame] = []
        points: list[pd.DataFrame] = []
        notes: list[dict[str, Any]] = []
        for source, rows in levels.groupby("source", sort=False):
            rule = rules.iloc[int(rows_of([source], rules["source"])[0])]
            noted_rows = rows[["backsight", "intermediate", "foresight"]].notna().any(axis=None)
            run, found = _adjusted(layers, rows, rule) if noted_rows else _as_reduced(rows)
            shot, unsure = _shots_of(layers, rows["point"])
            found = found.assign(shot_key=shot)
            parts.append(run)
            points.append(found[found["shot_key"].notna() & found["elevation"].notna()])
            notes += _notes(str(source), rule, run, points[-1], unsure)
        if not parts:
            return {"level_runs": empty("level_runs"), "levelled": empty("levelled"), "notes": empty("notes")}
        levelled = pd.concat(points, ignore_index=True).sort_values("taken", ascending=False, kind="stable")
        levelled = levelled.drop_duplicates("shot_key").sort_values("shot_key", ignore_index=True)
        return {
            "level_runs": conform("level_runs", pd.concat(parts, ignore_index=True)),
            "levelled": conform("levelled", levelled),
            "notes": noted(self.name, notes),
        }


def _adjusted(layers: Layers, rows: pd.DataFrame, rule: pd.Series) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Parts of a run between its marks, and the elevation of every row."""
    source = str(rule["source"])
    if not rule["closure"] > 0:
        raise SourceError(
            f'[[levels]] of {source}: state what the run may miss, e.g. closure = "0.05 ft" and per = "mile", '
            "and where that is written (reference)."
        )
    control = layers["control"] if "control" in layers else empty("control")
    mark = rows_of(rows["point"], control["mark"])
    known = np.append(control["elevation"].to_numpy(float), np.nan)[mark]
    feet = FOOT.metres_float / layers.frame.unit.metres_float
    u_known = np.append(stated_or_assumed(control["u_v"], feet), np.nan)[mark]
    distance = _distances(rows, rule)
    # a reading lies anywhere within half its last digit: a uniform error
    reading = float(np.nan_to_num(rows["resolution"].max()) / np.sqrt(12.0))
    try:
        run = level_run(
            rows["backsight"], rows["intermediate"], rows["foresight"], distance=distance, known=known, u_known=u_known,
            sigma=float(rule["sigma"] / np.sqrt(rule["per"])), reading=reading,
        )  # fmt: skip
    except GeometryInputError as error:
        place, _, what = str(error).partition(": ")
        at = int("".join(each for each in place if each.isdigit()) or 1) - 1
        raise SourceError(f"[[levels]] of {source}, line {rows['line'].iloc[at]}: {what}") from None
    return _parts(rows, rule, run)


def _distances(rows: pd.DataFrame, rule: pd.Series) -> np.ndarray:
    """Length levelled to each row; a set-up length of the job stands in between turning points."""
    distance = rows["distance"].to_numpy(float, copy=True)
    turning = rows["foresight"].notna().to_numpy()
    setup = float(rule["setup_length"])
    if np.isnan(distance[turning]).any():
        if np.isnan(setup):
            line = rows["line"].to_numpy()[turning & np.isnan(distance)][0]
            raise SourceError(
                f"[[levels]] of {rule['source']}, line {line}: no distance, and no setup_length in the job. What a run "
                'may miss grows with its length: give a column distance, or setup_length = "200 ft".'
            )
        distance[turning & np.isnan(distance)] = setup
    # a side reading without a distance is taken as far away as a turning point on the mean
    half = float(np.mean(distance[turning])) / 2 if turning.any() else 0.0
    return np.where(np.isnan(distance), np.where(rows["intermediate"].notna(), half, 0.0), distance)


def _parts(rows: pd.DataFrame, rule: pd.Series, run: LevelRun) -> tuple[pd.DataFrame, pd.DataFrame]:
    point = rows["point"].to_numpy(dtype=object)
    allowed = float(rule["closure"]) * np.sqrt(run.length / float(rule["per"]))
    kept = np.abs(run.misclosure) <= allowed
    count = len(rows)
    part = np.clip(np.searchsorted(run.last, np.arange(count)), 0, max(len(run.last) - 1, 0))
    taken_rows = run.closed & (kept[part] if len(kept) else np.zeros(count, bool))
    inner = [
        int(np.sum((np.arange(count) > a) & (np.arange(count) < b))) for a, b in zip(run.first, run.last, strict=True)
    ]
    parts = pd.DataFrame(
        {"source": rule["source"], "first": point[run.first], "last": point[run.last], "points": inner}
        | {"length": run.length, "misclosure": run.misclosure, "allowed": allowed, "taken": kept}
    )
    if not len(parts):
        open_end = {"source": rule["source"], "first": point[0], "last": None, "points": count - 1}
        parts = pd.DataFrame([open_end | {"length": np.nan, "misclosure": np.nan, "allowed": np.nan, "taken": False}])
    found = pd.DataFrame({"source": rule["source"], "elevation": run.elevation, "u_random": run.u_random}
                         | {"u_common": run.u_common, "taken": taken_rows}, index=rows.index)  # fmt: skip
    return parts, found


def _as_reduced(rows: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Elevations that were reduced elsewhere: each with its own sigma, and nothing known of what they share."""
    source = rows["source"].iloc[0]
    part = {"source": source, "first": rows["point"].iloc[0], "last": None, "points": len(rows), "taken": True}
    found = pd.DataFrame({"source": source, "elevation": rows["elevation"], "u_random": rows["u_v"]}
                         | {"u_common": 0.0, "taken": True}, index=rows.index)  # fmt: skip
    return conform("level_runs", pd.DataFrame([part])), found


def _shots_of(layers: Layers, points: pd.Series) -> tuple[pd.Series, list[str]]:
    """Key of the shot that bears each point's name; null for none. And the names that several shots bear."""
    shots = layers["shots"]
    named = shots[shots["shot"].notna()]
    several = set(named.loc[named["shot"].duplicated(keep=False), "shot"])
    names = points.where(points != "")
    row = np.where(names.isin(several), -1, rows_of(names, named["shot"]))
    unsure = sorted(set(names.dropna()) & several)
    return taken(named["shot_key"], row).set_axis(points.index), unsure


def _notes(
    source: str, rule: pd.Series, run: pd.DataFrame, points: pd.DataFrame, unsure: list[str]
) -> list[dict[str, Any]]:
    counted = {"count": int(points["taken"].sum()), "total": len(points), "reference": rule["reference"]}
    notes: list[dict[str, Any]] = []
    for part in run.to_dict("records"):
        variant = "reduced" if part["taken"] else "open"
        if pd.notna(part["last"]):
            variant = "closed" if part["taken"] else "over"
        facts = {"number": part["misclosure"], "limit": part["allowed"], "second": part["length"], "unit": "job"}
        between = {"place": part["first"], "other": part["last"] if pd.notna(part["last"]) else ""}
        notes.append({"note": "level-run", "variant": variant, "subject": source} | facts | between | counted)
    if unsure:
        several = {"variant": "several", "count": len(unsure), "written": ", ".join(unsure[:5])}
        notes.append({"note": "level-run", "subject": source} | several)
    return notes
