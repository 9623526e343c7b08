"""How the verdicts of a session that is shifted as a whole would stand without the shift: counted, in one line."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.work import ELEVATION, OFFSET, POSITION
from geoqa.model import words
from geoqa.model.check import Check
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.applied_shifts import AXES, freed, sessions
from geoqa.steps.design.deviations import along_lines, at_points
from geoqa.steps.judging.findings import asked, verdicts_of, with_limits
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.shots.flags import noted


class ShiftedVerdicts(Step):
    """Tell in one line a session how its single shots would be judged without a proven shift.

    The shift is taken off every number of the session that feels it, and its own u stands in place of what the session
    shares. That is a reading for a person: no verdict is changed by it. Where the job has the shift taken off, the line
    says so, and how the verdicts stood as read.
    """

    name = "shifted-verdicts"
    needs = ("session_shifts", "limits", "shots.use", "shots.flags", "shots.u_h_random", "shots.u_v_random")
    wants = ("line_matches", "design_lines", "design_elements", "point_matches", "design_points", "cause_shots",
             "believed_parts")  # fmt: skip
    adds = ("notes",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One note a session."""
        shifts = layers["session_shifts"]
        facts = [
            self._told(layers, str(session), mine)
            for session, mine in shifts[shifts["proven"]].groupby("session", sort=True)
        ]
        return {"notes": noted(self.name, facts)}

    def _told(self, layers: Layers, session: str, proven: pd.DataFrame) -> dict[str, Any]:
        # what rests on one mark alone is not taken off, and then its u as it is estimated is all there is to show
        proven = proven.assign(worth=proven["u_applied"].fillna(proven["u"]))
        axes = proven.set_index("axis")
        shift, u = (axes[name].reindex(list(AXES)).fillna(0.0).to_numpy(float) for name in ("shift", "worth"))
        taken = "applied" in proven and bool(proven["applied"].any())
        alone = bool(proven["u_applied"].isna().all())
        read, without = [], []
        for check, rows, toward in deviations_of(layers):
            aware = shift[2] != 0 if check is ELEVATION else bool(shift[:2].any())
            mine = of_session(layers, rows, session) & (rows["why"] == 0).to_numpy(bool)
            if not (aware and mine.any()):
                continue
            here, toward = rows[mine].drop(columns=["row"]), toward[mine]
            if taken:
                read.append(verdicts_in(layers, _as_read(here), check))
                without.append(verdicts_in(layers, here, check))
                continue
            read.append(verdicts_in(layers, here, check))
            without.append(verdicts_in(layers, without_shift(here, check, toward, shift, u), check))
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


def deviations_of(layers: Layers) -> list[tuple[Check, pd.DataFrame, np.ndarray]]:
    """Every table of deviations with the direction of the design at each row, degrees."""
    made = []
    if "line_matches" in layers and "design_lines" in layers:
        for check in (OFFSET, ELEVATION):
            rows = along_lines(layers, check.name)
            made.append((check, rows, _azimuth(rows, layers["line_matches"])))
    if "point_matches" in layers and "design_points" in layers:
        for check in (POSITION, ELEVATION):
            rows = at_points(layers, check.name)
            made.append((check, rows, _azimuth(rows, layers["point_matches"])))
    return made


def _azimuth(rows: pd.DataFrame, matches: pd.DataFrame) -> np.ndarray:
    chosen = matches[matches["chosen"]]
    place = rows_of(rows["shot"], chosen["shot_key"])
    return np.append(chosen["azimuth"].to_numpy(float), np.nan)[place]


def of_session(layers: Layers, rows: pd.DataFrame, session: str) -> np.ndarray:
    """Rows whose shot is of a session, or of a file without sessions."""
    return (sessions(layers["shots"]) == session).to_numpy(bool)[rows["row"].to_numpy()]


def without_shift(
    rows: pd.DataFrame, check: Check, toward: np.ndarray, shift: np.ndarray, u: np.ndarray
) -> pd.DataFrame:
    """Rows without the shift, one of all (3,) or of each row (n, 3); what its session shares is then known as well."""
    value = freed(check.name, rows["deviation"].to_numpy(float), toward, shift)
    common = u[..., 2] if check is ELEVATION else u[..., :2].max(axis=-1)
    if "second" in rows:
        rows = rows.assign(second=rows["second"] + value - rows["deviation"])
    return rows.assign(deviation=value, u_common=common)


def _as_read(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows as they were before the shift was taken off."""
    if "deviation_read" not in rows:
        return rows
    was = rows["deviation_read"].notna()
    read = {name: rows[name].mask(was, rows[f"{name}_read"]) for name in ("deviation", "u_common")}
    if "second" in rows:
        read["second"] = rows["second"] + read["deviation"] - rows["deviation"]
    return rows.assign(**read)


def verdicts_in(layers: Layers, rows: pd.DataFrame, check: Check) -> pd.Series:
    """Verdicts of rows under every limit that is set for them."""
    limited = asked(with_limits(rows.reset_index(drop=True), layers["limits"], check=check))
    return verdicts_of(limited, check=check, limits=layers["limits"])


def counted(verdicts: pd.Series) -> str:
    """How many of each, in words."""
    count = verdicts.value_counts()
    return ", ".join(f"{count.get(name, 0)} {name.lower()}" for name in ("OUT", "UNDECIDED", "IN"))
