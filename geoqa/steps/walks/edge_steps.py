"""Numbers of walks that are out because one edge steps, as a wrong rod from a shot on would make it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.walk_sentences import edge_step, shoot_beside_step
from geoqa.kernels.walks.edge_steps import Step, edge_of, step_of
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.findings import evidence_of
from geoqa.steps.linework.observed import observed
from geoqa.steps.linework.pairs import Pair
from geoqa.steps.walks.judged import Judgement

REASON = "one-edge-steps"
"""Reason of the checks whose numbers are held for it."""
ROLE = "edge-step"
"""What the two shots of a step are to a finding."""
NEAR = 2.0
"""Standard uncertainties of a number by which it may miss its limits without the step."""
PAUSE, USUAL = 10.0, 5.0
"""Minutes between two shots, and times the usual time between them, from which on a pause is one."""
WITNESSES = 2
"""Shots of the other edge among those moved, in time and of one setup, that tell that their rod was right; as many of
each session tell that a step is no rod's of one session."""


@dataclass(frozen=True, kw_only=True)
class EdgeStep:
    """A step of one edge between two shots; the other edge keeps its grade there.

    Attributes
    ----------
    line : int
        Number of the pair.
    rows : tuple of int
        Rows of the two shots, the one at the lower station first; where it steps back, those of the end that was taken
        first, the one outside first.
    start, end : float
        Along the first edge: where it steps, and where it steps back; infinite where it stays so to the end.
    rise : float
        From the first to the second row, beyond the grade.
    sign : float
        1 for the first edge, -1 for the second: how the slope of a section changes with it.
    changes : tuple of str
        What changes in the log between the two shots; where it steps back, there too.
    sure : tuple of bool
        Whether something tells that the rod was right before it, and behind.
    """

    line: int
    rows: tuple[int, int]
    start: float
    end: float
    rise: float
    sign: float
    changes: tuple[str, ...]
    sure: tuple[bool, bool]


def edge_steps(layers: Layers, pairs: list[Pair]) -> list[EdgeStep]:
    """The step of every pair whose one edge steps, where a wrong rod may have made it.

    What comes back is work, unless the log changes at both its ends; so is what another rod confirms: shots of the
    other edge taken among those moved, or those moved being of several sessions.

    Parameters
    ----------
    layers : Layers
    pairs : list of Pair
        Their rows are places in `observed`.
    """
    shots = observed(layers)
    rod = layers["shots"]["rod_height"].to_numpy(float)[shots["row"].to_numpy()]
    made = []
    for number, pair in enumerate(pairs):
        laid = pair.sections
        level, u = (shots[name].to_numpy(float) for name in ("elevation", "u_v_random"))
        edges = []
        for edge in (0, 1):
            rows = pair.row(laid.edge[laid.edge == edge], laid.shot[laid.edge == edge])
            found, order = edge_of(laid.station[laid.edge == edge], level[rows], u[rows])
            edges.append((found, rows[order]))
        for edge, ((own, rows), (other, beside)) in enumerate((tuple(edges), tuple(edges[::-1]))):
            step = step_of(own, other)
            if step is None:
                continue
            made += _open_steps(shots, rod, rows, beside, own.station, step, line=number, sign=1.0 - 2.0 * edge)
    return made


def _open_steps(
    shots: pd.DataFrame, rod: np.ndarray, rows: np.ndarray, beside: np.ndarray, station: np.ndarray, step: Step, *,
    line: int, sign: float,
) -> list[EdgeStep]:  # fmt: skip
    """The step, where nothing tells that it is the work's."""
    at = [step.before] if step.back < 0 else [step.before, step.back]
    changed = [_changes(shots, rod, rows, each) for each in at]
    behind = rows[at[0] + 1 :] if step.back < 0 else rows[at[0] + 1 : step.back + 1]
    # a step to the end is one of the shots before it as well; one that comes back is of those between
    sure = (step.back >= 0 or _witnessed(shots, rows[: at[0] + 1], beside), _witnessed(shots, behind, beside))
    if all(sure) or (step.back >= 0 and not all(changed)):
        return []
    middle = [float(station[each : each + 2].mean()) for each in at]
    ends = [(int(rows[at[0]]), int(rows[at[0] + 1])), (int(rows[at[-1] + 1]), int(rows[at[-1]]))][: len(at)]
    taken = shots["minutes"].to_numpy(float)[[inside for _, inside in ends]]
    return [EdgeStep(line=line, rows=ends[int(np.argmin(taken))], start=middle[0],
                     end=middle[1] if len(at) > 1 else np.inf, rise=step.rise, sign=sign,
                     changes=tuple(each for each in changed[0] if each in changed[-1]), sure=sure)]  # fmt: skip


def _changes(shots: pd.DataFrame, rod: np.ndarray, rows: np.ndarray, place: int) -> tuple[str, ...]:
    """What changes in the log from one shot of an edge to the next."""
    one, two = rows[place], rows[place + 1]
    minutes, group, setup = (shots[name].to_numpy() for name in ("minutes", "group_v", "setup"))
    usual = np.nanmedian(np.abs(np.diff(minutes[rows]))) if np.isfinite(np.diff(minutes[rows])).any() else np.inf
    changed = {
        "rod": bool(np.isfinite(rod[[one, two]]).all() and rod[one] != rod[two]),
        "session": bool(group[one] != group[two]),
        "initialization": bool(group[one] == group[two] and setup[one] != setup[two]),
        "pause": bool(abs(minutes[two] - minutes[one]) > max(PAUSE, USUAL * usual)),
    }
    return tuple(name for name, yes in changed.items() if yes)


def _witnessed(shots: pd.DataFrame, moved: np.ndarray, beside: np.ndarray) -> bool:
    """Whether something tells that the rod under some shots of an edge was right: then the step is the work's."""
    group, setup, minutes = (shots[name].to_numpy() for name in ("group_v", "setup", "minutes"))
    _, count = np.unique(group[moved], return_counts=True)
    if (count >= WITNESSES).sum() > 1:
        return True
    among = np.zeros(len(beside), dtype=bool)
    for one in np.unique(setup[moved]):
        mine = moved[setup[moved] == one]
        time = minutes[mine]
        among |= (setup[beside] == one) & (minutes[beside] > np.min(time)) & (minutes[beside] < np.max(time))
    return bool(among.sum() >= WITNESSES)


def with_steps(
    made: Judgement, layers: Layers, pairs: list[Pair], steps: list[EdgeStep], *, along: bool = False
) -> Judgement:
    """Hold findings that are out, and would not be without a step of one edge: the rod or the work, nothing tells.

    Parameters
    ----------
    made : Judgement
        Cross slopes of sections, or their means; running slopes of legs with `along`.
    layers, pairs
        Of `edge_steps`.
    steps : list of EdgeStep
    along : bool
        The findings are of two shots of one edge.
    """
    out = np.flatnonzero((made.findings["verdict"] == "OUT").to_numpy(bool))
    if not steps or not len(out):
        return made
    shots = observed(layers)
    names, minutes = shots["name"].to_numpy(dtype=object), shots["minutes"].to_numpy(float)
    stations = [_stations(shots, pair, None) for pair in pairs]
    own = [_stations(shots, pairs[step.line], step) for step in steps]
    keys = dict(list(made.evidence.groupby("finding")["key"]))
    held: dict[int, tuple[str, str]] = {}
    proof = [made.evidence]
    table = made.findings.iloc[out][["finding", "subject", "measured", "u", "lower", "upper"]].to_dict("records")
    for row, finding in zip(out.tolist(), table, strict=True):
        mine = keys[finding["finding"]]
        for step, edge in zip(steps, own, strict=True):
            pair = pairs[step.line]
            place = edge if along else stations[step.line]
            at = np.array([place.get(key, np.nan) for key in mine])
            if not np.isfinite(at).all() or (not along and finding["subject"] != pair.name):
                continue
            behind = (at > step.start) & (at < step.end)
            late = bool(behind.mean() >= 0.5)
            change = _change(step, pair, at, behind, late=late, along=along)
            if step.sure[late] and not along:
                continue
            if not _explained(finding, change, along=along):
                continue
            a, b = step.rows if late or np.isfinite(step.end) else step.rows[::-1]
            cause = edge_step(
                abs(step.rise), str(names[a]), str(names[b]), later=bool(minutes[b] >= minutes[a]),
                back=bool(np.isfinite(step.end)), changes=step.changes, unit=layers.frame.unit.name,
            )  # fmt: skip
            held[row] = cause, shoot_beside_step(str(names[a]), str(names[b]))
            proof.append(evidence_of([finding["finding"]] * 2, shots["shot"].iloc[[a, b]], role=ROLE, layer="shots"))
            break
    if not held:
        return made
    return Judgement(
        findings=_held(made.findings, held), evidence=pd.concat(proof, ignore_index=True), number=made.number
    )


def _stations(shots: pd.DataFrame, pair: Pair, step: EdgeStep | None) -> dict[str, float]:
    """Station along the first edge of every shot of a pair; of the edge that steps alone, with a step."""
    laid = pair.sections
    edge = np.isin(laid.edge, (0, 1)) if step is None else laid.edge == (0 if step.sign > 0 else 1)
    keys = shots["shot"].to_numpy(dtype=object)[pair.row(laid.edge[edge], laid.shot[edge])]
    return dict(zip(keys, laid.station[edge].tolist(), strict=True))


def _change(step: EdgeStep, pair: Pair, at: np.ndarray, behind: np.ndarray, *, late: bool, along: bool) -> float:
    """What the step adds to a number."""
    if along:
        return float((behind.max() != behind.min()) * step.rise / max(np.ptp(at), 1e-9))
    share = float(behind.mean()) if late else float(behind.mean()) - 1.0
    return share * step.sign * step.rise / float(np.nanmedian(pair.sections.width))


def _explained(finding: Mapping[Any, Any], change: float, *, along: bool) -> bool:
    """Whether a number keeps its limits without a change; along an edge whichever way it was walked."""
    near, read = NEAR * float(finding["u"]), float(finding["measured"])
    left = [read - change, read + change] if along else [read - change]
    return change != 0.0 and any(finding["lower"] - near <= each <= finding["upper"] + near for each in left)


def _held(findings: pd.DataFrame, held: dict[int, tuple[str, str]]) -> pd.DataFrame:
    """Take the verdicts of some findings back, each with what may have made it and what tells."""
    rows = list(held)
    texts = {name: findings[name].to_numpy(dtype=object, copy=True) for name in ("verdict", "why", "cause", "remedy")}
    numbers = {name: findings[name].to_numpy(float, copy=True) for name in ("p_conform", "excess")}
    texts["verdict"][rows], texts["why"][rows] = "NO_DATA", REASON
    texts["cause"][rows], texts["remedy"][rows] = (
        [cause for cause, _ in held.values()],
        [each for _, each in held.values()],
    )
    for each in numbers.values():
        each[rows] = np.nan
    columns = {name: pd.Series(each, index=findings.index, dtype="str") for name, each in texts.items()}
    return findings.assign(**columns, **numbers)
