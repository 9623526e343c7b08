"""Deviations of matched shots, in one place for all who judge them.

Across a line the deviation is the offset, positive right. In elevation it is taken at the as-built plan
position: against the design elevation at the shot's own station, never at the nearest design
node. A shot past the end of its line, by more than the horizontal limit and 3 u, is not judged; up to there
it is judged by its offset alone: where a line ends along its own direction is not a check of its own.
"""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.work import ELEVATION
from geoqa.model.reasons import SHARED, WHY
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import AGAIN, has_flag
from geoqa.steps.causes.open_blunders import both_numbers, code_asked, moved_by, rejected_otherwise, under_blunder
from geoqa.steps.causes.survey_doubt import in_doubt, widened_by_control
from geoqa.steps.design.applied_shifts import take_off
from geoqa.steps.design.arc_offsets import arc_offsets, two_offsets
from geoqa.steps.design.both_ways import at_design_points, beside_lines
from geoqa.steps.design.design_apart import BESIDE, lies_apart, lines_apart
from geoqa.steps.design.file_apart import apart_from_a_file
from geoqa.steps.design.grade_at_points import MATTERS, grade_at_points, two_elevations
from geoqa.steps.design.less_shift import read_less_shift
from geoqa.steps.design.levelled_elevations import levelled_instead
from geoqa.steps.design.older_numbers import held_by_older_design
from geoqa.steps.design.zero_design import at_zero, zero_points
from geoqa.steps.judging.drawn_at import lines_without_tops
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.shots.flags import ZERO

FIRST = {
    "weak-sky": "re-shoot it first, in another way: few satellites round here, and more scatter than its u says",
    "spike": "re-shoot it first: this shot alone strays from its line, and may be a slip of measuring",
}
"""Flags under which a shot may be out of tolerance and still prove nothing about what was built; the last one that
holds is said."""
THEN = ("re-shoot it first", "clear the blunder first: see the diagnosis; then re-shoot it")
"""What is said of such a shot that waits for a survey blunder."""


SURE = 3.0
"""Standard uncertainties that a number in doubt must lie beyond its limit and all that the survey may be off by."""


def along_lines(layers: Layers, check: str) -> pd.DataFrame:
    """Deviations of shots from their design lines.

    Parameters
    ----------
    layers : Layers
        With `line_matches`, `shots` with `use` and uncertainties, `design_lines`, `limits`.
    check : {"offset", "elevation"}

    Returns
    -------
    DataFrame
        One row for each shot that has a candidate line, or that should have one but no position. Columns
        of findings, and `row` (place in shots), `source` (of the design) and `why` (code; 0 = can be judged).
        A shot whose match is ambiguous has the subject "-". Several steps share it: it must not be changed.
    """
    made: pd.DataFrame = layers.derived(f"{check} along lines", _READ, lambda: _along_lines(layers, check))
    return made


_READ = (
    *("shots", "line_matches", "design_lines", "limits", "flags", "cause_shots", "survey_doubt", "design_elements"),
    *("chorded_curves", "session_shifts", "believed_parts", "levelled", "older_designs", "structure_notes", "drawn_at"),
    *("loose_sessions", "loose_shots", "apart_shots"),
)
"""All tables that deviations along lines come from."""


def _along_lines(layers: Layers, check: str) -> pd.DataFrame:
    shots = layers["shots"]
    beside: pd.DataFrame = layers.derived("shots beside lines", _READ[:3], lambda: _beside_lines(layers))
    rows = beside.copy(deep=False)
    u = np.hypot(*_u(shots, rows["row"], "h"))
    widest = _widest_limit(rows["kind"], layers["limits"], "offset")
    past = np.abs(rows["along"].to_numpy(float)) > widest + 3 * np.nan_to_num(u)
    if check == "elevation":
        rows["design"], rows["measured"] = rows["design_elevation"], rows["elevation"]
        return _finished(layers, rows, past, check=check, lines=True)
    arc, held = arc_offsets(layers, rows)
    rows["offset"] = np.where(held, arc, rows["offset"])
    rows["design"], rows["measured"] = 0.0, rows["offset"]
    rows.loc[rows["offset"].isna(), "design"] = np.nan
    rows = _finished(layers, rows, past, check=check, lines=True)
    if np.isfinite(arc).any():
        two_offsets(rows, arc, held, layers.frame.unit.name, MATTERS.to(layers.frame.unit))
    return rows


def _beside_lines(layers: Layers) -> pd.DataFrame:
    """Matched and lost shots with the source of their line, for every check."""
    shots, lines = layers["shots"], layers["design_lines"]
    lost = (shots["role"] == "feature") & shots["easting"].add(shots["northing"]).isna()
    lost &= shots["kind"].isin(set(lines["kind"])) & ~has_flag(shots, AGAIN)
    rows = _matched(shots, layers["line_matches"], np.flatnonzero(lost))
    return rows.assign(source=taken(lines["source"], rows_of(rows["subject"], lines["line"])))


def at_points(layers: Layers, check: str) -> pd.DataFrame:
    """Deviations of shots from their design points.

    Parameters
    ----------
    layers : Layers
        With `point_matches`, `shots` with `use` and uncertainties, `design_points`.
    check : {"position", "elevation"}
        Position is the distance in plan, without a sign.

    Returns
    -------
    DataFrame
        As of `along_lines`, and shared like that.
    """
    made: pd.DataFrame = layers.derived(f"{check} at points", _READ_AT_POINTS, lambda: _at_points(layers, check))
    return made


_READ_AT_POINTS = (*_READ, "point_matches", "design_points")


def _at_points(layers: Layers, check: str) -> pd.DataFrame:
    shots, matches, points = layers["shots"], layers["point_matches"], layers["design_points"]
    lost = (shots["role"] == "feature") & shots["easting"].add(shots["northing"]).isna()
    lost &= shots["kind"].isin(set(points["kind"])) & ~has_flag(shots, AGAIN)
    rows = _matched(shots, matches, np.flatnonzero(lost))
    rows["source"] = taken(points["source"], rows_of(rows["subject"], points["point"]))
    rows["offset"] = np.nan
    if check == "position":
        rows["design"], rows["measured"] = np.where(rows["distance"].notna(), 0.0, np.nan), rows["distance"]
    else:
        rows["design"], rows["measured"] = rows["design_elevation"], rows["elevation"]
    return _finished(layers, rows, np.zeros(len(rows), bool), check=check, lines=False)


def _on_grade(layers: Layers, rows: pd.DataFrame) -> None:
    """Compare elevations of points at the as-built place too, where the grade from the design point to it counts."""
    grade = grade_at_points(layers, rows, np.hypot(*_u(layers["shots"], rows["row"], "h")))
    least = MATTERS.to(layers.frame.unit)
    counts = np.abs(np.nan_to_num(grade.rise)) >= least
    if not (counts | np.isfinite(grade.steepest)).any():
        return
    rows["u_common"] = np.where(counts, np.hypot(rows["u_common"], grade.u), rows["u_common"])
    two_elevations(rows, grade, layers.frame.unit.name, least)


_OF_SHOTS = ("kind", "easting", "northing", "elevation", "geometry")


def _matched(shots: pd.DataFrame, matches: pd.DataFrame, lost: np.ndarray) -> pd.DataFrame:
    """The chosen match of every shot that counts, one empty row for an ambiguous shot, one for each lost one."""
    again = shots.loc[has_flag(shots, AGAIN), "shot_key"]
    if len(again):
        matches = matches[rows_of(matches["shot_key"], again) < 0]
    ambiguous = matches["ambiguous"] & ~matches["shot_key"].duplicated()
    kept = matches[matches["chosen"] | ambiguous]
    row = np.append(rows_of(kept["shot_key"], shots["shot_key"]), lost).astype(np.int64)
    open_match = np.append(~kept["chosen"].to_numpy(bool), np.full(len(lost), True))
    numbers = {
        name: np.where(open_match, np.nan, np.append(kept[name].to_numpy(float), np.full(len(lost), np.nan)))
        for name in ("station", "offset", "along", "distance", "design_elevation", "azimuth")
    }
    subject = pd.concat([kept["design"], pd.Series(["-"] * len(lost), dtype="str")], ignore_index=True)
    subject = subject.mask(open_match, "-")
    return pd.DataFrame(
        {"row": row, "open": open_match, "subject": subject, **numbers}
        | {name: shots[name].take(row).reset_index(drop=True) for name in _OF_SHOTS if name in shots}
    )


def _finished(layers: Layers, rows: pd.DataFrame, past: np.ndarray, *, check: str, lines: bool) -> pd.DataFrame:
    """With deviation, uncertainty, names, what keeps a row from being judged, and both readings under a blunder."""
    shots = layers["shots"]
    rows["deviation"] = rows["measured"] - rows["design"]
    rows["shot"] = shots["shot_key"].take(rows["row"]).reset_index(drop=True)
    vertical = check == "elevation"
    u = _u(shots, rows["row"], "v" if vertical else "h")
    rows["u_common"], rows["u_random"] = widened_by_control(layers, rows["shot"], *u, vertical=vertical)
    name = shots["shot"].where(shots["shot"].notna(), shots["shot_key"])
    rows["label"] = "shot " + name.take(rows["row"]).reset_index(drop=True)
    blunder = under_blunder(layers, vertical=vertical)[rows["row"].to_numpy()]
    otherwise = _why(layers, rows, past, check, lines=lines)
    hidden = np.isin(otherwise, [0, *(WHY[name] for name in _AFTER_BLUNDER)])
    rows["why"] = np.where(blunder & hidden, WHY["open-blunder"], otherwise)
    _add_both(layers, rows, otherwise == 0, check=check, lines=lines)
    doubt = np.full(len(shots), -1)
    for number, flag in enumerate(FIRST):
        doubt[has_flag(shots, flag)] = number
    doubt[code_asked(layers)] = -1  # it strays because it was taken for something else
    doubt = doubt[rows["row"].to_numpy()]
    # a shot that waits for a survey blunder is not shot again before that is cleared
    doubt = np.where((doubt >= 0) & (rows["why"] == WHY["open-blunder"]), doubt + len(FIRST), doubt)
    rows["remedy"] = taken([*FIRST.values(), *(text.replace(*THEN) for text in FIRST.values())], doubt)
    take_off(layers, rows, check=check, lines=lines)
    read_less_shift(layers, rows, check)
    if vertical:
        levelled_instead(layers, rows, moved=under_blunder(layers, vertical=False)[rows["row"].to_numpy()])
    if vertical and not lines:
        _on_grade(layers, rows)
    held_by_older_design(layers, rows, check=check)
    _held_apart(layers, rows, lines=lines)
    return rows.drop(columns=["open", "along", "distance", "design_elevation", "azimuth"])


def _held_apart(layers: Layers, rows: pd.DataFrame, *, lines: bool) -> None:
    """Let all numbers wait where design and shots lie apart as a whole; a point that lies at its own is no chance."""
    of_file = apart_from_a_file(layers)[rows["row"].to_numpy()]
    whole = lines_apart(layers) if lines else lies_apart(layers)
    if not whole and not of_file.any():
        return
    judged = np.array([0, *(code for code, reason in enumerate(SHARED, start=1) if reason.judged)])
    held = rows["why"].isin([*judged, *(WHY[name] for name in ("open-blunder", "survey-doubt"))]).to_numpy(bool)
    held = held & (whole | of_file)
    if not lines:
        held = held & ~(rows["distance"].to_numpy(float) <= BESIDE.to(layers.frame.unit))
    rows["why"] = np.where(held, WHY["design-apart"], rows["why"])
    for name in ("without", "without_own"):
        if name in rows:
            rows[name] = rows[name].mask(held)


def _add_both(layers: Layers, rows: pd.DataFrame, judged: np.ndarray, *, check: str, lines: bool) -> None:
    """Add the number without the blunder, its u, and the words for either outcome, where something acts on a shot."""
    rows["cause"] = taken([], np.full(len(rows), -1))
    moved = moved_by(layers, rows["shot"])
    if moved is None or not moved.acts.any():
        return
    if check != "elevation":  # what acts in elevation alone is no matter of a place in plan
        unknown = under_blunder(layers, vertical=False)[rows["row"].to_numpy()]
        moved = replace(moved, acts=moved.acts & (unknown | (np.hypot(*moved.shift[:, :2].T) > 0)))
    found = (beside_lines if lines else at_design_points)(layers, rows, moved, check=check)
    rows["cause"], rows["cause_both"] = both_numbers(
        moved, rows["deviation"].to_numpy(float), found.same, layers.frame.unit.name
    )
    # a signed number feels the shift along one axis only; which one is not worth an azimuth: the larger is taken
    u = moved.u[:, 2] if check == "elevation" else moved.u[:, :2].max(axis=1)
    known = moved.holds & judged
    if moved.unsure is not None and check != "position":
        # what may have begun slowly or in between can make all that lies between two sides
        known &= ~(moved.unsure & (rows["deviation"].to_numpy(float) * found.least < 0.0))
    rows["without"], rows["without_own"] = np.where(known, [found.least, found.same], np.nan)
    rows["u_without"] = u


def _u(shots: pd.DataFrame, row: Any, axis: str) -> tuple[np.ndarray, np.ndarray]:
    columns = (shots[f"u_{axis}_{part}"].to_numpy(float) for part in ("common", "random"))
    common, random = (column[np.asarray(row)] for column in columns)
    return common, random


def _widest_limit(kind: pd.Series, limits: pd.DataFrame, check: str) -> np.ndarray:
    """Limit of a check for each row's kind; 0 where there is none."""
    mine = limits[limits["check"] == check]
    widest: dict[str, float] = {}
    for name, *both in zip(mine["kind"], mine["lower"], mine["upper"], strict=True):
        for bound in both:
            if np.isfinite(bound):
                widest[name] = max(widest.get(name, 0.0), abs(bound))
    code, names = pd.factorize(kind)
    return np.array([*(widest.get(name, 0.0) for name in names), 0.0])[code]


_AFTER_BLUNDER = (
    *("no-position", "ambiguous-match", "past-end", "zero-elevation", "no-elevation", "no-design-elevation"),
    *("no-design", "survey-doubt"),
)
"""What is not said of a shot under a blunder: it may be otherwise without it."""


def _waits(layers: Layers, rows: pd.DataFrame, check: str) -> np.ndarray:
    """Rows that an error of a session in doubt could have made: no farther beyond the limit than it reaches."""
    vertical = check == "elevation"
    row = rows["row"].to_numpy()
    keys = layers["shots"]["shot_key"].take(row).reset_index(drop=True)
    off = in_doubt(layers, keys, vertical=vertical)
    u = np.hypot(
        *widened_by_control(layers, keys, *_u(layers["shots"], row, "v" if vertical else "h"), vertical=vertical)
    )
    beyond = (rows["measured"] - rows["design"]).abs() - _widest_limit(rows["kind"], layers["limits"], check)
    return np.isfinite(off) & ~(beyond.to_numpy(float) > off + SURE * u)


def _why(layers: Layers, rows: pd.DataFrame, past: np.ndarray, check: str, *, lines: bool) -> np.ndarray:
    """What keeps each row from being judged, a blunder apart; the first that holds."""
    shots, row, vertical = layers["shots"], rows["row"].to_numpy(), check == "elevation"
    copied = has_flag(shots, "identical-to-design")[row]
    reasons = {
        "identical-to-design": copied,
        "own-code-question": code_asked(layers)[row],
        "screened": rejected_otherwise(layers)[row],
        "no-position": rows[["easting", "northing"]].isna().any(axis=1).to_numpy(bool),
        "ambiguous-match": rows["open"].to_numpy(bool),
        "past-end": past,
    }
    if vertical:
        reasons["zero-elevation"] = has_flag(shots, ZERO)[row]
        reasons["no-elevation"] = rows["elevation"].isna().to_numpy(bool)
        reasons["no-design-elevation"] = rows["design"].isna().to_numpy(bool)
    else:
        reasons["no-design"] = rows["measured"].isna().to_numpy(bool)
    reasons["survey-doubt"] = _waits(layers, rows, check)
    why = np.select(list(reasons.values()), [WHY[name] for name in reasons], 0)
    if vertical:
        at_none = at_zero(layers, rows) if lines else rows["subject"].isin(zero_points(layers)).to_numpy(bool)
        why = np.where(at_none & (why == 0), ELEVATION.why("zero-design-elevation"), why)
    if vertical and lines:
        no_top = rows["subject"].isin(lines_without_tops(layers)).to_numpy(bool)
        why = np.where(no_top & (why == 0), ELEVATION.why("drawn-at-invert"), why)
    return why
