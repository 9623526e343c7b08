"""Whether new work meets existing work: the step at the ends of as-built lines."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.walks import TIE_IN
from geoqa.kernels.walks.numbers import Numbers
from geoqa.kernels.walks.tie_ins import Ahead, ahead_of
from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.remedies import NOTHING_AGAIN
from geoqa.steps.linework.observed import NEEDS, WANTS, observed
from geoqa.steps.linework.observed_strings import strings_among
from geoqa.steps.shots.strings import String
from geoqa.steps.walks.judged import judged

EXISTING = "existing"
"""Kind of shots of existing work, by itself or before the kind that it goes on as."""


class TieIns(Step):
    """Judge the step at either end of as-built lines where existing work goes on.

    The kinds are those with `tie_in` in the job. An end is held against the nearest shot of existing work ahead of it,
    of its own kind before one of any, or else a design point of the kind `tie-in`. A line with existing work at neither
    end is told; an end without any, where the other has some, is the end of the work.
    """

    name = "tie-ins"
    needs = ("limits", "design_points", "shots.kind", "shots.role", *NEEDS)
    wants = (*WANTS, "line_matches")
    adds = ("findings", "evidence")

    ahead: Length = Field(Length.parse("10 ft"), description="Farthest that existing work is looked for past an end")
    beside: Length = Field(Length.parse("2 ft"), description="Farthest that it may lie beside the line carried on")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One finding an end with existing work, and one a line without."""
        limits, unit = layers["limits"], layers.frame.unit
        kinds = set(limits.loc[limits["check"] == TIE_IN.name, "kind"])
        shots = observed(layers)
        if not kinds or not len(shots):
            return {"findings": empty("findings"), "evidence": empty("evidence")}
        existing = _existing(layers, shots)
        rows: list[dict[str, Any]] = []
        known = shots[(shots["why_plan"] == 0)].reset_index()
        for string in strings_among(layers, known, least=1):
            line = known["index"].to_numpy()[string.rows]
            kind = str(shots["kind"].iloc[line[0]])
            if kind in kinds and not kind.startswith(EXISTING):
                rows += _of_line(
                    shots, string, line, kind, existing, self.ahead.to(unit), self.beside.to(unit), unit.name
                )
        if not rows:
            return {"findings": empty("findings"), "evidence": empty("evidence")}
        table = pd.DataFrame(rows)
        members = np.array(table.pop("members").tolist(), dtype=np.int64)
        gradient = np.array(table.pop("gradient").tolist(), dtype=float)
        flat = np.zeros(gradient.shape)
        numbers = Numbers(value=table.pop("value").to_numpy(float), members=members, easting=flat, northing=flat,
                          elevation=gradient)  # fmt: skip
        made = judged(layers, numbers, table, check=TIE_IN, u_more=table["bend"].to_numpy(float),
                      again=NOTHING_AGAIN)  # fmt: skip
        return {"findings": made.findings, "evidence": made.evidence}


def _existing(layers: Layers, shots: pd.DataFrame) -> pd.DataFrame:
    """Existing work: row of `observed` (-1 for the design), the kind it goes on as ('' for any), place, elevation."""
    is_one = (shots["kind"] == EXISTING) | shots["kind"].str.startswith(f"{EXISTING}-")
    rows = np.flatnonzero((is_one & (shots["why_plan"] == 0)).fillna(False).to_numpy(bool))
    shot = shots.iloc[rows]
    points = layers["design_points"]
    points = points[(points["kind"] == "tie-in") & points["elevation"].notna()]
    columns = ["easting", "northing", "elevation"]
    as_shot = shot[columns].assign(row=rows, kind=shot["kind"].str.removeprefix(EXISTING).str.removeprefix("-"),
                                   name="existing shot " + shot["name"].astype(str))  # fmt: skip
    drawn = pd.DataFrame(points[columns]).assign(row=-1, kind="", name="design point " + points["point"].astype(str))
    return pd.concat([as_shot, drawn], ignore_index=True)


def _of_line(
    shots: pd.DataFrame, string: String, line: np.ndarray, kind: str, existing: pd.DataFrame, ahead: float,
    beside: float, unit: str,
) -> list[dict[str, Any]]:  # fmt: skip
    """What is said of both ends of a line."""
    place = shots[["easting", "northing", "elevation"]].to_numpy(float)
    made: list[dict[str, Any]] = []
    if len(line) > 2 and np.hypot(*(place[line[0], :2] - place[line[-1], :2])) <= beside:
        return made  # closed: it has no end
    mine = [name == "" or kind == name or kind.startswith(f"{name}-") for name in existing["kind"]]
    there = existing[np.array(mine, dtype=bool)]
    for way in (line[::-1], line):
        found = ahead_of(
            place[way[-3:]], there[["easting", "northing", "elevation"]].to_numpy(float), ahead=ahead, beside=beside
        )
        if found is not None:
            made.append(_row(shots, string, way, kind, there, found, beside, unit))
        if len(line) == 1:
            break
    if not made and not string.turn:  # a part of a line that is shot again has ends where the work has none
        rear = int(line[-1]) if len(line) > 1 else -1
        ends = " and ".join(dict.fromkeys(shots["name"].iloc[line[[0, -1]]].astype(str)))
        made.append(
            {"kind": kind, "subject": string.name, "value": np.nan, "bend": 0.0, "gradient": (0.0, 0.0, 0.0),
             "members": (int(line[0]), rear, -1), "own": TIE_IN.why("no-existing-work"), "label": f"ends at {ends}",
             "easting": place[line[0], 0], "northing": place[line[0], 1]}
        )  # fmt: skip
    return made


def _row(
    shots: pd.DataFrame, string: String, way: np.ndarray, kind: str, there: pd.DataFrame, found: Ahead, beside: float,
    unit: str,
) -> dict[str, Any]:  # fmt: skip
    """One end and the existing work ahead of it."""
    own = there["kind"].to_numpy(dtype=object)[found.nearest] != ""
    # of its own kind before one of any
    order = np.lexsort((found.away, ~own))
    nth, at = int(order[0]), int(found.nearest[order[0]])
    rivals = [k for k in order[1:] if own[k] == own[nth] and found.away[k] - found.away[nth] <= beside / 4]
    spread = 2.0 * float(np.nan_to_num(shots["u_v_random"].iloc[way[-1]])) * np.sqrt(2.0)
    unclear = any(abs(found.step[k] - found.step[nth]) > 2.0 * spread for k in rivals)
    end, back = int(way[-1]), int(way[-2]) if len(way) > 1 else -1
    reason = "no-leg" if len(way) == 1 else "which-existing" if unclear else ""
    share = float(found.share[nth]) if len(way) > 1 else 0.0
    along, across = (words.length(abs(float(each[nth])), unit) for each in (found.along, found.across))
    return {
        "kind": kind, "subject": string.name, "value": float(found.step[nth]), "bend": float(found.bend[nth]),
        "members": (end, back, int(there["row"].iloc[at])), "gradient": (-1.0 - share, share, 1.0),
        "own": TIE_IN.why(reason) if reason else 0,
        "label": f"end at shot {shots['name'].iloc[end]}, {there['name'].iloc[at]} {along} on and {across} aside",
        "easting": float(shots["easting"].iloc[end]), "northing": float(shots["northing"].iloc[end]),
    }  # fmt: skip
