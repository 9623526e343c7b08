"""How the verdicts of a session that is shifted as a whole would stand without the shift: counted, in one line."""

from collections.abc import Collection, Iterator
from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.work import ELEVATION, OFFSET, POSITION
from geoqa.model import words
from geoqa.model.check import Check
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.applied_shifts import as_read, sessions, taken_off
from geoqa.steps.design.deviations import along_lines, at_points
from geoqa.steps.judging.findings import asked, verdicts_of, with_limits
from geoqa.steps.shots.flags import noted


class ShiftedVerdicts(Step):
    """Tell in one line a session how its single shots would be judged without a proven shift.

    The shift is taken off every number of the session that feels it, as a line of the job would, and its own u stands
    in place of what the session shares. That is a reading for a person: no verdict is changed by it. Where the job has
    the shift taken off, the line says so, and how the verdicts stood as read.
    """

    name = "shifted-verdicts"
    needs = ("session_shifts", "limits", "shots.use", "shots.flags", "shots.u_h_random", "shots.u_v_random")
    wants = ("line_matches", "design_lines", "design_elements", "point_matches", "design_points", "cause_shots",
             "believed_parts", "older_designs", "apart_shots", "loose_sessions", "loose_shots")  # fmt: skip
    adds = ("notes",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One note a session."""
        shifts = layers["session_shifts"]
        without = taken_off(layers, by_one_mark=True)
        if without is None:
            return {"notes": noted(self.name, [])}
        proven = shifts[shifts["proven"]]
        read, its = (
            [(check, of_sessions(layers, rows, set(proven["session"]))) for check, rows in deviations_of(each)]
            for each in (as_read(layers), without)
        )
        both = [(check, rows, other) for (check, rows), (_, other) in zip(read, its, strict=True)]
        facts = [self._told(layers, both, str(session), mine) for session, mine in proven.groupby("session", sort=True)]
        return {"notes": noted(self.name, facts)}

    def _told(
        self, layers: Layers, both: list[tuple[Check, pd.DataFrame, pd.DataFrame]], session: str, proven: pd.DataFrame
    ) -> dict[str, Any]:
        taken = "applied" in proven and bool(proven["applied"].any())
        alone = bool(proven["u_applied"].isna().all())
        moved = set(proven["axis"])
        read, without = [], []
        for check, rows, its in both:
            aware = "elevation" in moved if check is ELEVATION else bool(moved - {"elevation"})
            mine = ((rows["session"] == session) & (rows["why"] == 0)).to_numpy(bool)
            if aware and mine.any():
                read.append(verdicts_in(layers, rows[mine].drop(columns=["row", "session"]), check))
                without.append(verdicts_in(layers, its[mine].drop(columns=["row", "session"]), check))
        before, after = (pd.concat(each, ignore_index=True) if each else pd.Series(dtype="str")
                         for each in (read, without))  # fmt: skip
        most = proven.iloc[int(np.argmax(proven["t"].abs()))]
        others = proven[proven["axis"] != most["axis"]].sort_values("axis")
        unit = layers.frame.unit.name
        also = [
            f"{axis} by {words.length(by, unit)} ± {words.length(its, unit)}" if taken else axis
            for axis, by, its in zip(others["axis"], others["shift"], others["u"], strict=True)
        ]
        return {
            "note": "session-shift", "session": session,
            "variant": "applied" if taken else "by-one-mark" if alone else "",
            "number": most["shift"], "u": most["u"], "third": most["u_applied"], "unit": "job",
            "second": most["t"], "place": most["axis"], "other": "; ".join(also),
            "written": counted(before), "proposal": counted(after),
            "count": int((before != after).sum()), "total": len(before),
        }  # fmt: skip


def deviations_of(layers: Layers) -> Iterator[tuple[Check, pd.DataFrame]]:
    """Every table of deviations against the design, one after the other."""
    if "line_matches" in layers and "design_lines" in layers:
        yield from ((check, along_lines(layers, check.name)) for check in (OFFSET, ELEVATION))
    if "point_matches" in layers and "design_points" in layers:
        yield from ((check, at_points(layers, check.name)) for check in (POSITION, ELEVATION))


def of_sessions(layers: Layers, rows: pd.DataFrame, asked: Collection[str]) -> pd.DataFrame:
    """Rows whose shot is of one of a few sessions, or of a file without sessions, with its `session`."""
    of = sessions(layers["shots"])
    rows = rows[of.isin(list(asked)).to_numpy(bool)[rows["row"].to_numpy()]]
    return rows.assign(session=of.take(rows["row"].to_numpy()).to_numpy())


def verdicts_in(layers: Layers, rows: pd.DataFrame, check: Check) -> pd.Series:
    """Verdicts of rows under every limit that is set for them."""
    limited = asked(with_limits(rows.reset_index(drop=True), layers["limits"], check=check))
    return verdicts_of(limited, check=check, limits=layers["limits"])


def counted(verdicts: pd.Series) -> str:
    """How many of each, in words."""
    count = verdicts.value_counts()
    return ", ".join(f"{count.get(name, 0)} {name.lower()}" for name in ("OUT", "UNDECIDED", "IN"))
