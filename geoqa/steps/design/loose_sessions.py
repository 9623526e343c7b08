"""Sessions of which no check shot tells where they lie: what their numbers may be off by as a whole."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.work import ELEVATION, OFFSET
from geoqa.kernels.design.levels_in_time import Levels, levels_in_time, step_together, untold
from geoqa.kernels.design.shared_level import shared_level
from geoqa.model.check import Check
from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import mark_of
from geoqa.model.words import listed, many
from geoqa.steps.design.applied_shifts import freed, sessions
from geoqa.steps.design.deviations import along_lines, at_points
from geoqa.steps.design.loose_in_plan import in_plan, in_plan_of, places_off
from geoqa.steps.design.repeated_shots import PLACE, one_each
from geoqa.steps.judging.findings import asked, judged_rows, with_limits
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.precision.uncertainty import declared_of
from geoqa.steps.shots.flags import noted

NOISE = 2.0
"""Standard uncertainties up to which what a session shares is no shift."""
NEAR = 4
"""Shots to either side of a step that may belong to the other one of its levels."""
NAMES = 6
"""Sessions that are named."""
LINES = 3
"""Lines from which what they share bounds what the session may be off by: one or two may be built off."""


@dataclass(frozen=True, kw_only=True)
class _Others:
    """1 sigma of the shifts of checked sessions, enlarged for their number; in plan an axis; 0 if none is."""

    elevation: float
    plan: float


class LooseSessions(Step):
    """Ask of every session without a check shot whether most of its numbers lie off the design together.

    Where they do, nothing in the job tells the work from the session: that is one question, told once, and each of its
    numbers is read both ways, as measured and with what the session shares taken off. A verdict that only one of
    the two gives is none; what is out both ways stays out. Along one or two lines only a shift of no more than
    `largest`, in plan `largest_plan`, is taken for one that the session may have; a larger one is the work's. Where no
    shift is measurable, the elevations of the session share at least what is left open of it: by its own lines, by what
    the checked sessions are off by, and where it has fewer than three lines by `assumed`, unless the job itself states
    what a session shares: that is the word of who answers for it, and nothing in the files speaks against it.

    A rod that is changed within such a session leaves steps: at one moment the elevations of more lines than one go
    to another level. Then each is read without the level of its own time. A reach of one line after which the
    elevations come back to where they were is the work's; one that lasts from the first shot of the session, or to the
    last, is read both ways: a change of the survey looks the same.
    """

    name = "loose-sessions"
    needs = ("limits", "shots.use", "shots.flags", "shots.u_h_random", "shots.u_v_random")
    wants = ("line_matches", "design_lines", "design_elements", "session_shifts", "believed_parts", "chorded_curves",
             "point_matches", "design_points", "levelled", "structure_notes", "drawn_at", "cause_shots",
             "survey_doubt", "control", "precision")  # fmt: skip
    gives = ("loose_sessions", "loose_shots")
    adds = ("notes",)

    fewest: int = Field(6, ge=3, description="Fewest shots whose middle is taken for what a session shares")
    most: float = Field(
        0.6, gt=0.5, le=1, description="Share of its shots that must lie nearer to it than to the design"
    )
    largest: Length = Field(
        Length.parse("0.35 ft"), description="Largest shift in elevation of a session that one line may show"
    )
    largest_plan: Length = Field(Length.parse("0.15 ft"), description="The same in plan")
    assumed: Length = Field(
        Length.parse("0.03 ft"), description="What a session may be off by (1 sigma) where no three lines tell"
    )
    step: Length = Field(
        Length.parse("0.05 ft"), description="Smallest step in elevation within a session that is asked about"
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Session by session; nothing is looked at where control tells of all."""
        shots = layers["shots"]
        of, told = sessions(shots), _checked(layers)
        feature = (shots["role"] == "feature").to_numpy(bool)
        names = sorted({str(each) for each in of[feature].dropna()} - told)
        rows = _numbers(layers) if names else None
        if rows is None:
            return {"loose_sessions": empty("loose_sessions"), "loose_shots": empty("loose_shots"),
                    "notes": noted(self.name, [])}  # fmt: skip
        rows["session"] = of.take(rows["row"].to_numpy()).astype("str").to_numpy()
        rows["declared"] = _declared(layers)[rows["row"].to_numpy()]
        places = in_plan_of(layers)
        flat = places_off([(check, _once_in_plan(layers, found, of, check)) for check, found in places])
        flat["session"] = of.take(flat["row"].to_numpy(np.int64)).astype("str").to_numpy()
        rows = rows.iloc[in_time(shots, rows["row"])].reset_index(drop=True)
        others, unit, held = _of_others(layers), layers.frame.unit, _held(layers, of)
        made, moved = [], []
        for name in names:
            mine = rows[rows["session"] == name].reset_index(drop=True)
            once = _once(layers, mine)
            level = self._levels(mine, name in held, unit) if len(once) >= 2 * self.fewest else None
            row = (
                self._of(name, once, others, unit) if level is None else self._stepped(name, mine, level, others, unit)
            )
            row["places"] = level is None and len(once) < len(mine)
            row |= self._in_plan(flat[flat["session"] == name], others, layers)
            made.append(row)
            moved.append(_moved(shots, np.flatnonzero(feature & (of == name).to_numpy(bool)), row, mine, level))
        facts = [_fact(row, level, rows, layers) for row, level in zip(made, moved, strict=True)
                 if np.isfinite(row["shift"])]  # fmt: skip
        facts += [_fact_in_plan(row, places, of, layers) for row in made if np.isfinite(row["easting"])]
        table = pd.DataFrame(made)
        return {"loose_sessions": conform("loose_sessions", table[list(empty("loose_sessions"))]),
                "loose_shots": conform("loose_shots", pd.concat(moved, ignore_index=True)),
                "notes": noted(self.name, [*facts, *_left_open(made)])}  # fmt: skip

    def _of(self, name: str, rows: pd.DataFrame, others: _Others, unit: LengthUnit) -> dict[str, Any]:
        """Row of `loose_sessions` for one that is off in elevation as a whole, or not."""
        line = pd.factorize(rows["group"])[0]
        seen = shared_level(line, rows["deviation"].to_numpy(float), rows["u_random"].to_numpy(float))
        stated = _stated(rows)
        assumed = 0.0 if len(rows) and bool(rows["declared"].all()) else self.assumed.to(unit)
        row = {"session": name, "shots": seen.shots, "lines": seen.lines, "shift": np.nan, "u": np.nan,
               "stated": stated, "steps": 0}  # fmt: skip
        if seen.shots < self.fewest:
            return row | {"least": max(stated, others.elevation, assumed)}
        alone = seen.lines < LINES
        u = float(np.hypot(seen.u, self.assumed.to(unit) / 2)) if alone else seen.u
        off = abs(seen.shift) > NOISE * np.hypot(stated, u) and seen.share >= self.most
        if off and not (alone and abs(seen.shift) > self.largest.to(unit)):
            return row | {"shift": seen.shift, "u": seen.u, "least": float(np.hypot(stated, u))}
        if alone:
            return row | {"least": max(stated, others.elevation, assumed)}
        # a line that is built off is no shift of the session: what is left open is the noise of its middle
        open_by = min(abs(seen.shift), NOISE * float(np.hypot(stated, u)))
        return row | {"least": max(others.elevation, float(np.hypot(open_by, u)), stated)}

    def _levels(self, rows: pd.DataFrame, held: bool, unit: LengthUnit) -> Levels | None:
        """Levels between which a session steps; None where what is not level may be the work of one line."""
        known = rows["deviation"].notna() & rows["u_random"].notna()
        if not known.all():
            return None
        line = pd.factorize(rows["group"])[0]
        value, u = rows["deviation"].to_numpy(float), rows["u_random"].to_numpy(float)
        found = levels_in_time(value, u, line, least=self.step.to(unit))
        noise = NOISE * np.hypot(_stated(rows), found.u)
        beside_held = held and len(found.level) > 1 and bool((np.abs(found.level) > noise).any())
        asked = beside_held or step_together(found, noise) or bool(untold(found, noise).any())
        return found if asked else None

    def _stepped(
        self, name: str, rows: pd.DataFrame, level: Levels, others: _Others, unit: LengthUnit
    ) -> dict[str, Any]:
        """Row of `loose_sessions` for one whose elevations step."""
        stated, worst = _stated(rows), int(np.argmax(np.abs(level.level)))
        row = {
            "session": name, "shots": len(rows), "lines": int(rows["group"].nunique()), "stated": stated,
            "shift": float(level.level[worst]), "u": float(level.u[worst]), "steps": len(level.level) - 1,
            "least": float(np.hypot(stated, level.u.max())),
        }  # fmt: skip
        open_ones = np.flatnonzero(untold(level, NOISE * np.hypot(stated, level.u)))
        if len(level.level) != 2 or open_ones.tolist() != [worst]:
            return row
        # one line is built off at an end of the session, or the survey changed: of the rest more lines may tell
        step = int(level.begin[1])
        rest, count = (rows.iloc[step:], step) if worst == 0 else (rows.iloc[:step], len(rows) - step)
        least = max(row["least"], self._of(name, rest, others, unit)["least"])
        return row | {"least": least, "shots": count, "end": "last" if worst else "first"}

    def _in_plan(self, rows: pd.DataFrame, others: _Others, layers: Layers) -> dict[str, float]:
        """Of the same row: what a session shares in plan."""
        unit = layers.frame.unit
        common = layers["shots"]["u_h_common"].to_numpy(float)[rows["row"].to_numpy(np.int64)]
        stated = float(np.nan_to_num(common).mean()) if len(common) else 0.0
        none = {"easting": np.nan, "northing": np.nan, "u_plan": np.nan, "least_plan": max(stated, others.plan)}
        if rows["row"].nunique() < self.fewest:
            return none
        seen = in_plan(rows, stated, Length.parse("1 ft").to(unit))
        size, alone = float(np.hypot(*seen.shift)), seen.lines < LINES
        if size > 0 and seen.share >= self.most and not (alone and size > self.largest_plan.to(unit)):
            u = float(np.hypot(stated, seen.u))
            return {
                "easting": float(seen.shift[0]),
                "northing": float(seen.shift[1]),
                "u_plan": seen.u,
                "least_plan": u,
            }
        if alone:
            return none
        return none | {"least_plan": max(none["least_plan"], float(np.hypot(seen.open_by, seen.u)))}


def _stated(rows: pd.DataFrame) -> float:
    """1 sigma that elevations of a session are stated to share."""
    return float(np.nan_to_num(rows["u_common"].mean())) if len(rows) else 0.0


def _held(layers: Layers, of: pd.Series) -> set[str]:
    """Sessions of which a part is held by a named cause: they do not lie at one level."""
    if "cause_shots" not in layers or not len(layers["cause_shots"]):
        return set()
    acts = layers["shots"]["shot_key"].isin(layers["cause_shots"]["shot_key"]).to_numpy(bool)
    return {str(name) for name in of[acts].dropna()}


def _moved(
    shots: pd.DataFrame, row: np.ndarray, session: dict[str, Any], seen: pd.DataFrame, level: Levels | None
) -> pd.DataFrame:
    """Rows of `loose_shots` for the shots of one session."""
    made = pd.DataFrame({"shot_key": shots["shot_key"].take(row).to_numpy(), "session": session["session"]})
    made = made.assign(easting=session["easting"], northing=session["northing"])
    made["elevation"] = session["shift"] if level is None else np.nan
    if level is not None:
        at = rows_of(made["shot_key"], seen["shot"])
        made["elevation"] = np.append(_levels_of(seen, level, session["stated"]), np.nan)[at]
    open_ones = made[["easting", "northing", "elevation"]].notna().any(axis=1)
    return made[open_ones].reset_index(drop=True)


def _levels_of(rows: pd.DataFrame, level: Levels, stated: float) -> np.ndarray:
    """Level of each number's time, NaN where it is noise; near a step, the level that is nearer to the number."""
    off = np.abs(level.level) > NOISE * np.hypot(stated, level.u)
    size = np.where(off, level.level, 0.0)
    place = np.arange(len(rows))
    part = np.searchsorted(level.begin, place, side="right") - 1
    value, made = rows["deviation"].to_numpy(float), size[part]
    for number in range(1, len(size)):
        near = np.abs(place - level.begin[number] + 0.5) < NEAR
        for one in (size[number - 1], size[number]):
            made = np.where(near & (np.abs(value - one) < np.abs(value - made)), one, made)
    return np.where(made != 0, made, np.nan)


def in_time(shots: pd.DataFrame, row: pd.Series) -> np.ndarray:
    """Order of rows by the time of their shots; where times are not known, as the files have them."""
    place = row.to_numpy(np.int64)
    if "time" not in shots or shots["time"].isna().any():
        return np.argsort(place, kind="stable")
    return np.lexsort((place, shots["time"].astype("int64").to_numpy()[place]))


def _checked(layers: Layers) -> set[str]:
    """Sessions that were checked on a known mark, be it by a check shot that a blunder keeps out of statistics."""
    told: set[str] = set()
    if "session_shifts" in layers:
        table = layers["session_shifts"]
        told = set(table.loc[(table["axis"] == "elevation") & table["u"].notna(), "session"].map(str))
    if "control" not in layers or not len(layers["control"]):
        return told
    shots = layers["shots"]
    row = np.flatnonzero((shots["role"] == "check").to_numpy(bool) & shots["elevation"].notna().to_numpy(bool))
    control = pd.DataFrame(layers["control"].drop(columns="geometry", errors="ignore")).reset_index(drop=True)
    known = mark_of(shots.iloc[row].reset_index(drop=True), control) >= 0
    return told | {str(name) for name in sessions(shots).iloc[row[known]].dropna()}


def _declared(layers: Layers) -> np.ndarray:
    """Shots of which the job itself states what they share in elevation with their session."""
    if "precision" not in layers:
        return np.zeros(len(layers["shots"]), dtype=bool)
    of_kind, of_all = declared_of(layers["shots"], layers["precision"], "u_v_common")
    return np.isfinite(of_kind) | np.isfinite(of_all)


def _of_others(layers: Layers) -> _Others:
    """What sessions are off by of which check shots tell."""
    if "session_shifts" not in layers:
        return _Others(elevation=0.0, plan=0.0)
    table = layers["session_shifts"]
    table = table[table["u"].notna() & table["shift"].notna()]

    def size(axes: tuple[str, ...]) -> float:
        mine = table[table["axis"].isin(axes)]
        count = mine["session"].nunique()
        return float(np.sqrt((mine["shift"].to_numpy(float) ** 2).mean() * (count + 1) / count)) if count else 0.0

    return _Others(elevation=size(("elevation",)), plan=size(("easting", "northing")))


def _numbers(layers: Layers) -> pd.DataFrame | None:
    """Elevations against design that can be judged; points of one kind are one line."""
    parts = []
    if "line_matches" in layers and "design_lines" in layers:
        rows = along_lines(layers, ELEVATION.name)
        parts.append(rows.assign(group=rows["subject"]))
    if "point_matches" in layers and "design_points" in layers:
        points = at_points(layers, ELEVATION.name)
        parts.append(points.assign(group="\x1f" + points["kind"].astype("str")))
    parts = [each[(each["why"] == 0) & each["deviation"].notna()] for each in parts]
    parts = [each for each in parts if len(each)]
    if not parts:
        return None
    made = pd.concat(parts, ignore_index=True)
    return made[[name for name in made if name not in ("cause", "remedy")]]


def _once(layers: Layers, rows: pd.DataFrame) -> pd.DataFrame:
    """Numbers of one session, a row a place: what is shot again at a place tells no more of a session."""
    point = rows["group"].str.startswith("\x1f").to_numpy(bool)
    made = [one_each(layers, rows[~point], reach=PLACE.to(layers.frame.unit), vertical=True)] if not point.all() else []
    if point.any():
        made.append(one_each(layers, rows[point], reach=0.0, vertical=True, at_points=True))
    return pd.concat(made, ignore_index=True) if made else rows


def _once_in_plan(layers: Layers, rows: pd.DataFrame, of: pd.Series, check: Check) -> pd.DataFrame:
    """Offsets, or positions of points, with one row a place in each session; of a point the first shot."""
    session = of.take(rows["row"].to_numpy()).astype("str").to_numpy()
    if check is not OFFSET:
        return rows[~rows.assign(session=session).duplicated(["session", "kind", "subject"])].reset_index(drop=True)
    reach = PLACE.to(layers.frame.unit)
    parts = [one_each(layers, rows[session == name], reach=reach, vertical=False) for name in np.unique(session)]
    return pd.concat(parts, ignore_index=True) if parts else rows


def _fact(row: dict[str, Any], moved: pd.DataFrame, rows: pd.DataFrame, layers: Layers) -> dict[str, Any]:
    """The one question that elevations of a session ask, and how many verdicts hang on it."""
    mine = rows[rows["session"] == row["session"]].reset_index(drop=True)
    part = np.append(moved["elevation"].to_numpy(float), np.nan)[rows_of(mine["shot"], moved["shot_key"])]
    mine = mine.assign(u_common=np.maximum(mine["u_common"].to_numpy(float), row["least"]))
    steps = row["steps"]
    end = row.get("end", "")
    return {
        "note": "loose-session", "variant": end or ("steps" if steps else "shared"), "subject": row["session"],
        "number": row["shift"], "u": row["u"] if steps else row["least"], "unit": "job", "count": row["shots"],
        "second": float(steps or row["lines"]), "total": _waiting(mine, np.nan_to_num(part), ELEVATION, layers),
        "written": "place" if row["places"] else None,
    }  # fmt: skip


def _waiting(rows: pd.DataFrame, part: np.ndarray, check: Check, layers: Layers) -> int:
    """Numbers that are out as read alone."""
    rows = with_limits(rows.assign(part=part), layers["limits"], check=check)
    rows = asked(rows)
    part = rows.pop("part").to_numpy(float)
    read = judged_rows(rows, check=check, limits=layers["limits"])["verdict"]
    less = rows.assign(deviation=rows["deviation"] - part)
    bare = judged_rows(less, check=check, limits=layers["limits"])["verdict"]
    return int(((read == "OUT") & (bare != "OUT")).sum())


def _fact_in_plan(
    row: dict[str, Any], places: list[tuple[Check, pd.DataFrame]], of: pd.Series, layers: Layers
) -> dict[str, Any]:
    """The one question that places of a session ask."""
    shift, total = np.array([[row["easting"], row["northing"], np.nan]]), 0
    for check, rows in places:
        mine = rows[(of.take(rows["row"].to_numpy()) == row["session"]).to_numpy(bool)].reset_index(drop=True)
        read = mine["deviation"].to_numpy(float)
        part = read - freed(check.name, read, mine["azimuth"].to_numpy(float), shift)
        mine = mine.assign(u_common=np.maximum(mine["u_common"].to_numpy(float), row["least_plan"]))
        total += _waiting(mine, part, check, layers)
    return {
        "note": "loose-session", "variant": "plan", "subject": row["session"], "unit": "job",
        "number": row["easting"], "second": row["northing"], "u": row["u_plan"], "total": total,
    }  # fmt: skip


def _left_open(made: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What is taken of all sessions in which no shift is measurable, said once."""
    open_ones = [row for row in made if not np.isfinite(row["shift"]) and row["least"] > row["stated"]]
    if not open_ones:
        return []
    names = [row["session"] for row in open_ones]
    return [
        {
            "note": "loose-session", "variant": "open", "subject": listed([*names[:NAMES], *_more(names)]),
            "unit": "job", "limit": min(row["least"] for row in open_ones), "count": len(names),
        }
    ]  # fmt: skip


def _more(names: list[str]) -> list[str]:
    return [many(len(names) - NAMES, "more", "more")] if len(names) > NAMES else []
