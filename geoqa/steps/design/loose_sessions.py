"""Sessions of which no check shot tells how high they lie: what their elevations may be off by as a whole."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.work import ELEVATION
from geoqa.kernels.design.shared_level import shared_level
from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import mark_of
from geoqa.model.words import listed, many
from geoqa.steps.design.applied_shifts import sessions
from geoqa.steps.design.deviations import along_lines, at_points
from geoqa.steps.judging.findings import asked, judged_rows, with_limits
from geoqa.steps.precision.uncertainty import declared_of
from geoqa.steps.shots.flags import noted

NOISE = 2.0
"""Standard uncertainties up to which what a session shares is no shift."""
NAMES = 6
"""Sessions that are named."""
LINES = 3
"""Lines from which what they share bounds what the session may be off by: one or two may be built off."""


class LooseSessions(Step):
    """Ask of every session without a check shot whether most of its elevations lie off the design together.

    Where they do, nothing in the job tells the work from the session: that is one question, told once, and each of its
    elevations is read both ways, as measured and with what the session shares taken off. A verdict that only one of
    the two gives is none; what is out both ways stays out. Along one or two lines only a shift of no more than
    `largest` is taken for one that the session may have; a larger one is the work's. Where no shift is measurable,
    the elevations of the session share at least what is left open of it: by its own lines, by what the checked
    sessions are off by, and where it has fewer than three lines by `assumed`, unless the job itself states what a
    session shares: that is the word of who answers for it, and nothing in the files speaks against it.
    """

    name = "loose-sessions"
    needs = ("limits", "shots.use", "shots.flags", "shots.u_h_random", "shots.u_v_random")
    wants = ("line_matches", "design_lines", "design_elements", "session_shifts", "believed_parts", "chorded_curves",
             "point_matches", "design_points", "levelled", "structure_notes", "drawn_at", "cause_shots",
             "survey_doubt", "control", "precision")  # fmt: skip
    gives = ("loose_sessions",)
    adds = ("notes",)

    fewest: int = Field(6, ge=3, description="Fewest shots whose middle is taken for what a session shares")
    most: float = Field(
        0.6, gt=0.5, le=1, description="Share of its shots that must lie nearer to it than to the design"
    )
    largest: Length = Field(Length.parse("0.35 ft"), description="Largest shift of a session that one line may show")
    assumed: Length = Field(
        Length.parse("0.03 ft"), description="What a session may be off by (1 sigma) where no three lines tell"
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Session by session; nothing is looked at where control tells of all."""
        shots = layers["shots"]
        of, told = sessions(shots), _checked(layers)
        feature = (shots["role"] == "feature").to_numpy(bool)
        names = sorted({str(each) for each in of[feature].dropna()} - told)
        rows = _numbers(layers) if names else None
        if rows is None:
            return {"loose_sessions": empty("loose_sessions"), "notes": noted(self.name, [])}
        rows["session"] = of.take(rows["row"].to_numpy()).astype("str").to_numpy()
        rows["declared"] = _declared(layers)[rows["row"].to_numpy()]
        others = _of_others(layers)
        made = [self._of(name, rows[rows["session"] == name], others, layers.frame.unit) for name in names]
        table = conform("loose_sessions", pd.DataFrame(made).drop(columns="stated"))
        facts = [_fact(row, rows, layers) for row in made if np.isfinite(row["shift"])]
        return {"loose_sessions": table, "notes": noted(self.name, [*facts, *_left_open(made)])}

    def _of(self, name: str, rows: pd.DataFrame, others: float, unit: LengthUnit) -> dict[str, Any]:
        """Row of `loose_sessions`."""
        line = pd.factorize(rows["group"])[0]
        seen = shared_level(line, rows["deviation"].to_numpy(float), rows["u_random"].to_numpy(float))
        stated = float(np.nan_to_num(rows["u_common"].mean())) if len(rows) else 0.0
        assumed = 0.0 if len(rows) and bool(rows["declared"].all()) else self.assumed.to(unit)
        row = {"session": name, "shots": seen.shots, "lines": seen.lines, "shift": np.nan, "u": np.nan,
               "stated": stated}  # fmt: skip
        if seen.shots < self.fewest:
            return row | {"least": max(stated, others, assumed)}
        alone = seen.lines < LINES
        u = float(np.hypot(seen.u, self.assumed.to(unit) / 2)) if alone else seen.u
        off = abs(seen.shift) > NOISE * np.hypot(stated, u) and seen.share >= self.most
        if off and not (alone and abs(seen.shift) > self.largest.to(unit)):
            return row | {"shift": seen.shift, "u": seen.u, "least": float(np.hypot(stated, u))}
        if alone:
            return row | {"least": max(stated, others, assumed)}
        # a line that is built off is no shift of the session: what is left open is the noise of its middle
        open_by = min(abs(seen.shift), NOISE * float(np.hypot(stated, u)))
        return row | {"least": max(others, float(np.hypot(open_by, u)), stated)}


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


def _of_others(layers: Layers) -> float:
    """1 sigma of the shifts of checked sessions, enlarged for their number; 0 where none is checked."""
    if "session_shifts" not in layers:
        return 0.0
    table = layers["session_shifts"]
    shift = table.loc[(table["axis"] == "elevation") & table["u"].notna(), "shift"].dropna().to_numpy(float)
    return float(np.sqrt((shift**2).mean() * (len(shift) + 1) / len(shift))) if len(shift) else 0.0


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


def _fact(row: dict[str, Any], rows: pd.DataFrame, layers: Layers) -> dict[str, Any]:
    """The one question that a session asks, and how many verdicts hang on it."""
    mine = rows[rows["session"] == row["session"]].reset_index(drop=True)
    mine = mine.assign(u_common=np.maximum(mine["u_common"].to_numpy(float), row["least"]))
    mine = asked(with_limits(mine, layers["limits"], check=ELEVATION))
    read = judged_rows(mine, check=ELEVATION, limits=layers["limits"])["verdict"]
    less = mine.assign(deviation=mine["deviation"] - row["shift"])
    bare = judged_rows(less, check=ELEVATION, limits=layers["limits"])["verdict"]
    return {
        "note": "loose-session", "variant": "shared", "subject": row["session"], "number": row["shift"],
        "u": row["least"], "unit": "job", "count": row["shots"], "second": float(row["lines"]),
        "total": int(((read == "OUT") & (bare != "OUT")).sum()),
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
