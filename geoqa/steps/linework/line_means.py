"""What the shots of a line, and those of a session over all lines, share against the design."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from geoqa.kernels.design.run_means import lasting_share, means_of_runs
from geoqa.kernels.linework.shift import FEW, NARROWER, RANDOM, WAVING, WIDER, moved_in_plan, proven_shift, rest_of
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.applied_shifts import sessions
from geoqa.steps.design.arc_offsets import from_the_arc
from geoqa.steps.design.deviations import along_lines
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.linework.beside_design import Beside

RESTS = {RANDOM: "random", WIDER: "wider", NARROWER: "narrower", WAVING: "waving", FEW: "few"}
AXES = {"offset": ("offset", "h"), "elevation": ("elevation", "v")}
FEWEST_LINES = 3
"""Lines that have to share what is said of a session: one line alone may be built off."""
_WORDS = {"offset": ("left", "right"), "elevation": ("low", "high")}


def _numbers(layers: Layers, stretches: Sequence[Beside], check: str) -> pd.DataFrame:
    """Judged numbers of the shots of all lines: line after line, in the order of the design."""
    found = along_lines(layers, check)
    shots = pd.concat([pair.rows[["shot", "station", "group_h", "group_v", "minutes"]] for pair in stretches])
    # what a curve leaves its chords by is nothing that its shots share
    found = found.assign(deviation=found["deviation"].where(from_the_arc(found) == 0.0))
    own = found[["row", "deviation", "u_random", "u_common", "why"]].iloc[rows_of(shots["shot"], found["shot"])]
    rows = pd.concat([shots.reset_index(drop=True), own.reset_index(drop=True)], axis=1).assign(
        azimuth=np.concatenate([_azimuth(pair) for pair in stretches]),
        line=np.repeat(np.arange(len(stretches)), [len(pair.rows) for pair in stretches]),
    )
    rows = rows.sort_values(["line", "station"], kind="stable", ignore_index=True)
    known = (rows["why"] == 0) & rows[["deviation", "u_random", "u_common"]].notna().all(axis=1)
    return rows[known].reset_index(drop=True)


def _azimuth(pair: Beside) -> np.ndarray:
    """Direction of the design at each shot: of the leg of the stretch nearest to its station."""
    legs = np.diff(pair.stretch, axis=0)
    reached = pair.station + np.cumsum(np.hypot(*legs.T))
    at = np.minimum(np.searchsorted(reached, pair.rows["station"].to_numpy(float)), len(legs) - 1)
    return np.asarray(np.degrees(np.arctan2(legs[at, 0], legs[at, 1])) % 360.0)


def numbers_of_lines(layers: Layers, stretches: Sequence[Beside]) -> dict[str, pd.DataFrame]:
    """Judged numbers of the shots of all lines, for each check of `AXES`: line after line, in the design's order."""
    return {check: _numbers(layers, stretches, check) for check in AXES}


def line_means(stretches: Sequence[Beside], numbers: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Mean, scatter and what is left of the numbers of every line: columns of `line_comparison`, one row a stretch."""
    made = pd.DataFrame({"line": [pair.line for pair in stretches], "design": [pair.design for pair in stretches]})
    for check, (name, plane) in AXES.items():
        rows = numbers[check]
        columns = {
            column: np.full(len(stretches), np.nan)
            for column in (f"mean_{name}", f"sd_{name}", f"u_{name}_common", f"u_{name}_random")
        }
        rest = np.full(len(stretches), None, dtype=object)
        if len(rows):
            line, run = np.unique(rows["line"].to_numpy(), return_inverse=True)
            group, minutes = rows[f"group_{plane}"], rows["minutes"]
            lasts = lasting_share(run, rows["station"], rows["deviation"], rows["u_random"], group, minutes=minutes)
            means = means_of_runs(
                run, rows["deviation"], rows["u_random"], rows["u_common"], group, minutes=minutes, lasting=lasts
            )
            left = rest_of(run, rows["deviation"], rows["u_random"])
            values = (means.mean, left.spread, means.u_common, means.u_random)
            for column, value in zip(columns.values(), values, strict=True):
                column[line] = value
            rest[line] = [RESTS[int(each)] for each in left.verdict]
        made = made.assign(**columns, **{f"rest_{name}": pd.Series(rest, dtype="str")})
    return made


def session_means(layers: Layers, numbers: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """What each session's shots share against the design, over all lines: rows of `session_means`.

    A line that is built off is one of several here: the uncertainty holds how far the lines differ among each other, by
    Student's t, and it takes `FEWEST_LINES` at the least.
    """
    names = sessions(layers["shots"])
    rows: list[dict[str, Any]] = []
    for check in AXES:
        table = numbers[check].assign(session=names.take(numbers[check]["row"].to_numpy()).to_numpy())
        for session, mine in table.groupby("session", sort=True):
            common = float(mine["u_common"].mean())
            base = {
                "session": str(session),
                "shots": len(mine),
                "lines": int(mine["line"].nunique()),
                "u_common": common,
            }
            rows += [base | each for each in (_in_plan(mine) if check == "offset" else _in_elevation(mine))]
    made = pd.DataFrame(rows, columns=["session", "axis", "shots", "lines", "shift", "u_common", "u_random"])
    order = made["axis"].map({"easting": 0, "northing": 1, "elevation": 2})
    return made.assign(order=order).sort_values(["session", "order"], ignore_index=True).drop(columns="order")


def _in_elevation(rows: pd.DataFrame) -> list[dict[str, Any]]:
    lines = rows.groupby("line")["deviation"].mean().to_numpy(float)
    if len(lines) < FEWEST_LINES:
        return [{"axis": "elevation", "shift": np.nan, "u_random": np.nan}]
    u = float(lines.std(ddof=1)) / np.sqrt(len(lines)) * _wider(len(lines) - 1)
    stated = float(np.sqrt((rows["u_random"] ** 2).sum())) / len(rows)
    return [{"axis": "elevation", "shift": float(lines.mean()), "u_random": max(u, stated)}]


def _in_plan(rows: pd.DataFrame) -> list[dict[str, Any]]:
    nothing = [{"axis": axis, "shift": np.nan, "u_random": np.nan} for axis in ("easting", "northing")]
    count = rows["line"].nunique()
    if count < FEWEST_LINES:
        return nothing
    u = np.maximum(rows["u_random"].to_numpy(float), 1e-9)
    offset, azimuth = rows["deviation"].to_numpy(float), rows["azimuth"].to_numpy(float)
    found = moved_in_plan(offset, azimuth, u)
    if not np.isfinite(found.shift).all():
        return nothing
    bearing = np.radians(azimuth)
    left = offset - found.shift[0] * np.cos(bearing) + found.shift[1] * np.sin(bearing)
    by_line = rows.assign(left=left, weight=u**-2.0).groupby("line")
    means = by_line["left"].mean().to_numpy(float)
    size = (means**2 * by_line["weight"].sum().to_numpy(float)).sum() / max(count - 2, 1)
    scale = np.sqrt(max(size, 1.0)) * _wider(max(count - 2, 1))
    sigma = scale * np.sqrt(np.diag(found.covariance))
    return [
        {"axis": axis, "shift": float(shift), "u_random": float(each)}
        for axis, shift, each in zip(("easting", "northing"), found.shift, sigma, strict=True)
    ]


def _wider(dof: int) -> float:
    """Student's t over the normal bound, both sides at 95 %."""
    return float(stdtrit(dof, 0.975)) / 1.959963984540054


def shift_facts(
    layers: Layers, table: pd.DataFrame, means: pd.DataFrame, *, telling: float, fewest: int
) -> list[dict[str, Any]]:
    """Facts of what sessions and lines share, each said once: not what a run or the control says already."""
    facts, of_session = _session_facts(layers, means, fewest=fewest)
    pooled = []
    for name, _ in AXES.values():
        u = np.hypot(table[f"u_{name}_common"].to_numpy(float), table[f"u_{name}_random"].to_numpy(float))
        pooled.append((name, table[f"mean_{name}"].to_numpy(float), u))
    proven = proven_shift(np.concatenate([each[1] for each in pooled]), np.concatenate([each[2] for each in pooled]))
    for (name, mean, u), sure in zip(pooled, np.split(proven, len(pooled)), strict=True):
        limit = _limits(layers["limits"], table["kind"], name, mean)
        told = _in_runs(layers, table, name)
        # a line that waves about its mean has no one cause: its runs and shots say where
        whole = table[f"rest_{name}"].isin(["random", "narrower"]).to_numpy(bool)
        mine = sure & (table["shots"] >= fewest).to_numpy(bool) & (np.abs(mean) >= telling * limit) & ~told & whole
        for at in np.flatnonzero(mine).tolist():
            if name == "elevation" and of_session and np.abs(mean[at] - of_session[0]) < 2 * u[at]:
                continue  # the session says it
            facts.append(
                {
                    "note": "line-shift", "variant": _WORDS[name][int(mean[at] > 0)], "subject": table["line"].iloc[at],
                    "place": table["design"].iloc[at], "number": abs(float(mean[at])), "u": float(u[at]),
                    "limit": float(limit[at]), "unit": "job", "count": int(table["shots"].iloc[at]),
                    "other": table[f"rest_{name}"].iloc[at], "second": float(table[f"sd_{name}"].iloc[at]),
                }
            )  # fmt: skip
    return facts


def _limits(limits: pd.DataFrame, kind: pd.Series, check: str, mean: np.ndarray) -> np.ndarray:
    """Limit of each line's kind on the side of its mean; infinite where there is none."""
    mine = limits[limits["check"] == check]
    low = mine.groupby("kind")["lower"].max().reindex(kind).to_numpy(float)
    high = mine.groupby("kind")["upper"].min().reindex(kind).to_numpy(float)
    return np.nan_to_num(np.where(mean < 0, -low, high), nan=np.inf)


def _in_runs(layers: Layers, table: pd.DataFrame, check: str) -> np.ndarray:
    """Lines half of whose shots a run of the same check speaks for."""
    if "runs" not in layers or not len(layers["runs"]):
        return np.zeros(len(table), dtype=bool)
    runs = layers["runs"]
    mine = runs[runs["check"] == check]
    shots = mine.groupby("line")["shots"].sum().reindex(table["design"]).fillna(0).to_numpy(float)
    return np.asarray(2 * shots >= table["shots"].to_numpy(float))


def _by_control(row: Any, known: Any) -> str:
    """Whether the check shots of the session speak against what its work shows, leave it open, or are not there."""
    if known is None:
        return "no-check"
    u = np.sqrt(row["u_random"] ** 2 + row["u_common"] ** 2 + known["u"] ** 2)
    return "check" if abs(row["shift"] - known["shift"]) > 2 * u else "open"


def asked_about(loose: pd.DataFrame) -> set[tuple[str, str]]:
    """Axis and name of sessions without a check whose shift is one question already."""
    plan = loose.loc[loose["easting"].notna(), "session"]
    return {
        *(("elevation", name) for name in loose.loc[loose["shift"].notna(), "session"]),
        *((axis, name) for axis in ("easting", "northing") for name in plan),
    }


def _session_facts(layers: Layers, means: pd.DataFrame, *, fewest: int) -> tuple[list[dict[str, Any]], list[float]]:
    """What a session's shots share, unless its check shots tell it; and the shifts in elevation that are told."""
    facts: list[dict[str, Any]] = []
    raised: list[float] = []
    shift = means["shift"].to_numpy(float)
    sure = proven_shift(shift, np.hypot(means["u_common"], means["u_random"])) & (means["shots"] >= fewest).to_numpy(
        bool
    )
    control = dict(layers).get("session_shifts")
    loose = dict(layers).get("loose_sessions")
    asked = set() if loose is None else asked_about(loose)
    for at in np.flatnonzero(sure).tolist():
        row = means.iloc[at]
        known = None
        if control is not None:
            mine = control[
                (control["session"] == row["session"]) & (control["axis"] == row["axis"]) & control["u"].notna()
            ]
            known = mine.iloc[0] if len(mine) else None
        if known is not None and bool(known["proven"]):
            continue
        if (row["axis"], row["session"]) in asked:  # already, and before any verdict
            raised += [float(row["shift"])] * (row["axis"] == "elevation")
            continue
        facts.append(
            {
                "note": "session-mean", "variant": _by_control(row, known), "subject": row["session"],
                "place": row["axis"], "number": float(row["shift"]),
                "u": float(np.hypot(row["u_common"], row["u_random"])), "unit": "job", "count": int(row["shots"]),
                "total": int(row["lines"]), "second": np.nan if known is None else float(known["shift"]),
                "third": np.nan if known is None else float(known["u"]),
            }
        )  # fmt: skip
        if row["axis"] == "elevation":
            raised.append(float(row["shift"]))
    return facts, raised
