"""Whether the crew checked on control when its rules say so: opening, closing, interval, pauses, marks."""

import re
from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.flag_sentences import check_on_control
from geoqa.errors import JobError
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform
from geoqa.model.tables.fact import Fact
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import codes_of
from geoqa.steps.shots.flags import all_flags, flagged, noted
from geoqa.steps.shots.listings import counted

_TIME = re.compile(r"^\s*(\d+\.?\d*)\s*(s|min|h)\s*$")
APART = 12 * 60.0
"""Minutes after which a session of the same name in another file is another one. Common practice, no source."""
_MINUTES = {"s": 1 / 60.0, "min": 1.0, "h": 60.0}
FLAGS = {
    "opening": "no-opening-check",
    "closing": "no-closing-check",
    "interval": "no-check-between",
    "pause": "no-check-after-pause",
}
"""What shots are flagged as that nobody vouches for, by rule."""
_RULES = (*FLAGS, "marks")
_TOLD = ("variant", "number", "limit", "unit", "count", "subject", "session", "written", "reference")


@dataclass(frozen=True)
class _Rule:
    name: str
    limit: float
    written: str
    reject: bool
    reference: str


@dataclass(frozen=True, eq=False)
class _Session:
    """Features and checks of one session in time, their minutes, and when work of any kind began and ended."""

    name: str
    features: np.ndarray
    checks: np.ndarray
    feature_minutes: np.ndarray
    check_minutes: np.ndarray
    work: tuple[float, float]
    marks: int


class CheckPolicy(Step):
    """Hold the check shots of every session against the rules of the layer `check_policy`.

    Feature shots that no check vouches for are flagged: before the first check where an opening one is missing, after
    the last where a closing one is, and behind a pause without a new check. Nothing is inferred about their
    quality. Without times nothing can be said, and that is said. A row without a place measured nothing: it is
    neither work that asks for a check, nor a check.
    """

    name = "check-policy"
    needs = ("check_policy", "shots.role")
    gives = ("session_checks",)
    adds = ("flags", "notes")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Session by session, rule by rule."""
        shots = counted(layers)["shots"]
        shots = shots[shots[["easting", "northing"]].notna().all(axis=1)].reset_index(drop=True)
        rules = [_rule(row) for row in layers["check_policy"].to_dict("records")]
        unit = layers.frame.unit.name
        rows: list[dict[str, Any]] = []
        parts: list[pd.DataFrame] = []
        notes: list[dict[str, Any]] = []
        for session in _sessions(shots):
            for rule in rules:
                measured, broken, at = _held(session, rule)
                fact = _fact(session, rule, measured, broken, len(at))
                rows.append(
                    {
                        "session": session.name, "rule": rule.name, "limit": rule.written, "measured": fact.number,
                        "met": None if broken is None else not broken, "shots": len(at),
                        "reason": check_on_control(fact, unit), "reference": rule.reference,
                    }
                )  # fmt: skip
                facts = {name: getattr(fact, name) for name in _TOLD}
                if len(at) and broken:
                    flag = FLAGS[rule.name]
                    parts.append(flagged(shots, at, flag=flag, reject=rule.reject, step=self.name, **facts))
                if broken:
                    notes.append({"note": "check-on-control", **facts})
        listed = pd.DataFrame(
            rows, columns=["session", "rule", "limit", "measured", "met", "shots", "reason", "reference"]
        )
        listed["met"] = listed["met"].astype("boolean")
        return {
            "session_checks": conform("session_checks", listed),
            "flags": all_flags(parts),
            "notes": noted(self.name, notes),
        }


def _sessions(shots: pd.DataFrame) -> list[_Session]:
    """By session, whatever files a crew's day is in; a file without sessions stands for one.

    A name that comes again after more than `APART` in another file is another session: logs count from A every day.
    """
    minutes = np.where(shots["time"].notna(), shots["time"].astype("int64") / 6e7, np.nan)
    named = shots["session"].where(shots["session"].notna(), shots["source"])
    number, pairs = codes_of(named, _first_files(named, shots["source"], minutes))
    order = np.lexsort((minutes, number))
    feature, check = ((shots["role"] == role).to_numpy(bool, na_value=False) for role in ("feature", "check"))
    mark = pd.factorize(shots["line_id"].fillna(shots["shot"]))[0]
    twice = {name for name, count in Counter(name for name, _ in pairs).items() if count > 1}
    made = []
    for place, rows in enumerate(np.split(order, np.cumsum(np.bincount(number, minlength=len(pairs)))[:-1])):
        features, checks = rows[feature[rows]], rows[check[rows]]
        if not len(features):
            continue
        name, source = pairs[place]
        work, marks = minutes[rows[~check[rows]]], np.unique(mark[checks])
        made.append(
            _Session(
                f"{name} of {source}" if name in twice else str(name), features, checks, minutes[features],
                minutes[checks], (float(work.min()), float(work.max())), int((marks >= 0).sum()),
            )
        )  # fmt: skip
    return made


def _first_files(named: pd.Series, source: pd.Series, minutes: np.ndarray) -> pd.Series:
    """Of each shot, the first of those files that hold its session without a long break between them."""
    number, pairs = codes_of(named, source)
    table = pd.DataFrame({"number": number, "begin": minutes, "end": minutes})
    spans = table.groupby("number").agg({"begin": "min", "end": "max"}).sort_values("begin", kind="stable")
    first = np.array([file for _, file in pairs], dtype=object)
    owner: dict[str, tuple[str, float]] = {}
    for at, begin, end in spans.itertuples():
        name, file = pairs[at]
        kept, until = owner.get(name, (file, begin))
        if begin - until > APART:
            kept = file
        first[at] = kept
        owner[name] = kept, float(np.fmax(until, end))
    return pd.Series(first[number], index=named.index)


def _fact(session: _Session, rule: _Rule, measured: float, broken: bool | None, shots: int) -> Fact:
    """What a session was held against, with what came of it; no number where there was no check, or no time."""
    missing = "no-" if np.isinf(measured) else ""
    return Fact(
        variant="untimed" if broken is None else missing + rule.name,
        number=measured if np.isfinite(measured) else np.nan,
        limit=rule.limit,
        unit="count" if rule.name == "marks" else "min",
        count=shots,
        subject=rule.name,
        session=session.name,
        written=rule.written,
        reference=rule.reference,
    )


def _held(session: _Session, rule: _Rule) -> tuple[float, bool | None, np.ndarray]:
    """Measured value, whether the rule is broken, and the feature shots nobody vouches for."""
    none = session.features[:0]
    when, check = session.feature_minutes, session.check_minutes
    if rule.name == "marks":
        return float(session.marks), session.marks < rule.limit, none
    if np.isnan(when).any() or np.isnan(check).any():
        return np.nan, None, none
    if rule.name == "opening":
        before = check[check <= when[0]]
        wait = session.work[0] - before.max() if len(before) else np.inf
        late = session.features[when < (check.min() if len(check) else np.inf)]
        at = late if not len(before) else none
        return wait, wait > rule.limit, at
    if rule.name == "closing":
        after = check[check >= when[-1]]
        wait = after.min() - session.work[1] if len(after) else np.inf
        at = session.features[when > (check.max() if len(check) else -np.inf)] if not len(after) else none
        return wait, wait > rule.limit, at
    if rule.name == "interval":
        gap = np.diff(check) if len(check) > 1 else np.array([np.inf])
        worst = int(gap.argmax())
        broken = bool(gap[worst] > rule.limit)
        at = none
        if broken and len(check) > 1:
            at = session.features[(when > check[worst]) & (when < check[worst + 1])]
        return float(gap[worst]), broken, at
    return _paused(session, rule)


def _paused(session: _Session, rule: _Rule) -> tuple[float, bool | None, np.ndarray]:
    """Breaks longer than the limit, and the shots behind one up to the next check."""
    every = np.sort(np.concatenate([session.feature_minutes, session.check_minutes]))
    gap = np.diff(every)
    longest = float(gap.max()) if len(gap) else 0.0
    open_shots = np.zeros(len(session.features), dtype=bool)
    for place in np.flatnonzero(gap > rule.limit).tolist():
        begins = every[place + 1]
        checked = session.check_minutes[session.check_minutes >= begins]
        until = checked.min() if len(checked) else np.inf
        open_shots |= (session.feature_minutes >= begins) & (session.feature_minutes < until)
    at = session.features[open_shots]
    return longest, bool(len(at)), at


def _rule(row: dict[str, Any]) -> _Rule:
    name, written = str(row["rule"]), str(row["limit"]).strip()
    if name not in _RULES:
        raise JobError(f"Check policy: no rule '{name}'; the rules are {', '.join(_RULES)}.")
    if row["action"] not in ("warn", "reject"):
        raise JobError(f"Check policy, {name}: action '{row['action']}' is neither warn nor reject.")
    if name == "marks":
        if not re.fullmatch(r"\d+", written):
            raise JobError(f"Check policy, marks: '{written}' is no count of marks; write a whole number.")
        limit = float(written)
    else:
        match = _TIME.match(written)
        if match is None:
            raise JobError(f"Check policy, {name}: '{written}' is no time; write a number and its unit, s, min or h.")
        limit = float(match[1]) * _MINUTES[match[2]]
    return _Rule(name, limit, written, row["action"] == "reject", str(row["reference"]))
