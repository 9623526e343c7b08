"""Known causes of residuals at control, made for one job: who is affected, and by how much.

A suspect acts on shots. What it does to the check shots is what the residuals are held against; what
it does to all other shots says which of them it spoils.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.causes import PRIOR
from geoqa.frames.readings.signatures import Signature
from geoqa.kernels.causes.prediction import Cause
from geoqa.kernels.causes.shared_errors import covariance, onsets
from geoqa.kernels.causes.smooth_warp import Warp
from geoqa.model.quantity import FOOT
from geoqa.model.tables.marks import stated_or_assumed

NOTHING = 0.7
"""Probability that nothing happened, before anything is measured. Common practice, no source."""

UNLISTED = "unlisted"
"""What stands for all that nobody lists: check shots that moved together, as no known cause moves them."""
WARP = "warp"
"""Elevations that are off by amounts which follow the place, as no known cause moves them."""
SOMETHING = 0.02
"""Probability of something unlisted before anything is measured, shared by all groups. Common practice, no source."""

SHIFT = "elevation-constant"
"""Elevations of whole sessions off by one amount: what did it looks alike from the marks."""

SPREAD = {
    "rod": 2.0,
    "elevation-constant": 1.5,
    "initialization": 1.0,
    "mark": 0.3,
    "bad-shot": 0.5,
    UNLISTED: 0.5,
    WARP: 0.3,
}
"""1 sigma of the open size of a cause, feet. Common practice, no source."""
SMALLEST = {
    "rod": 0.04,
    "elevation-constant": 0.04,
    "initialization": 0.12,
    "mark": 0.05,
    "bad-shot": 0.08,
    UNLISTED: 0.08,
}
"""A smaller one is no blunder, feet. Common practice, no source."""
LEAST = 0.05
"""Feet: a cause of a whole file that moves check shots by less, or by less than their own scatter, is not claimed."""

LEAST_GEOID = 3.0
"""Feet: heights that are off by less on the average show no geoid that was left out, turned round or taken twice: none
lies as near to its ellipsoid in the country of this job. Common knowledge, no source."""
GEOIDS = frozenset({"ellipsoid-heights", "geoid-sign", "geoid-twice"})

PART_OF_A_JOB = frozenset({"foot", "frame-epoch", "ellipsoid-heights", "geoid-sign", "geoid-twice"})
"""Causes that may be in one file and not in another."""

BREAK = "1h"
"""A longer break begins a new session where the log names none. Common practice, no source."""

FAR = 1.0
"""Feet: a check shot nearer than this to its mark is not looked for at other marks."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Checks:
    """Check shots whose mark is known.

    Attributes
    ----------
    shots : DataFrame
        All shots of the job, in the order of time where it is known.
    row : (m,) int array
        Places of the check shots.
    mark : (m,) int array
        Rows of `control`.
    control : DataFrame
    points : (n, 3) float64
        All shots; restored first where a gross mistake was undone.
    published : (m, 3) float64
        Published places.
    unit : float
        Feet to job unit.
    job_unit : str
        Name of the job's unit.
    """

    shots: pd.DataFrame
    row: np.ndarray
    mark: np.ndarray
    control: pd.DataFrame
    points: np.ndarray
    published: np.ndarray
    unit: float
    job_unit: str

    @property
    def residual(self) -> np.ndarray:
        """Measured minus published, (m, 3)."""
        return self.points[self.row] - self.published

    @cached_property
    def sessions(self) -> pd.Series:
        """Name of each shot's session."""
        return sessions_of(self.shots)

    @cached_property
    def session(self) -> np.ndarray:
        """Number of each shot's session."""
        return pd.factorize(self.sessions)[0]

    @cached_property
    def called(self) -> np.ndarray:
        """What each shot is called: its name, or else its key."""
        names = self.shots["shot"]
        return names.where(names.notna(), self.shots["shot_key"]).to_numpy(dtype=object)

    @cached_property
    def placed(self) -> np.ndarray:
        """Published places, with 0 for a coordinate that is not published."""
        return np.nan_to_num(self.published, posinf=0.0, neginf=0.0)

    @cached_property
    def scatter(self) -> float:
        """Middle of the check shots' own 1 sigma, horizontally or vertically, whichever is smaller."""
        own = self.shots[["u_h_random", "u_v_random"]].to_numpy(float)[self.row]
        own = own[np.isfinite(own).all(axis=1)]
        return float(np.median(own, axis=0).min()) if len(own) else 0.0

    @property
    def marks(self) -> dict[str, np.ndarray]:
        """Published place of each mark that was checked."""
        there = np.unique(self.mark)
        return dict(
            zip(
                self.control["mark"].iloc[there],
                self.control[["easting", "northing", "elevation"]].to_numpy(float)[there],
                strict=True,
            )
        )

    def patterns(self) -> np.ndarray:
        """What an unknown cause could follow, per axis: a shot, a mark, a session, a mark in a session; (3m, k)."""
        session, shot = self.session[self.row], np.arange(len(self.row))
        groups = [shot, self.mark, session, self.mark * (session.max(initial=0) + 1) + session]
        columns = [(group[:, None] == np.unique(group)[None, :]).astype(float) for group in groups]
        return np.kron(np.column_stack(columns), np.eye(3))

    def covariance(self) -> np.ndarray:
        """Of the residuals, axis by axis within shot: own part, session's part, mark's part."""
        least = 1e-4 * self.unit
        own, session, mark = [], [], []
        for axis in ("h", "h", "v"):
            u = {part: self.shots[f"u_{axis}_{part}"].to_numpy(float)[self.row] for part in ("random", "common")}
            own.append(np.maximum(np.nan_to_num(u["random"], nan=np.nanmean([*u["random"], least])), least))
            session.append(u["common"])
            mark.append(stated_or_assumed(self.control[f"u_{axis}"], self.unit)[self.mark])
        at = np.arange(3)
        return covariance(
            np.stack(own, axis=1).ravel(),
            [
                ((3 * self.session[self.row][:, None] + at).ravel(), np.stack(session, axis=1).ravel()),
                ((3 * self.mark[:, None] + at).ravel(), np.stack(mark, axis=1).ravel()),
            ],
        )


def sessions_of(shots: pd.DataFrame) -> pd.Series:
    """Session of each shot; where the log names none, the part of its file between breaks of more than an hour.

    Parameters
    ----------
    shots : DataFrame
        In the order of time.
    """
    if shots["session"].notna().all():
        return shots["session"]
    gap = shots.groupby("source")["time"].diff() > pd.Timedelta(BREAK)
    part = gap.groupby(shots["source"]).cumsum().astype(int) + 1
    guessed = shots["source"] + " part " + part.astype("str")
    several = part.groupby(shots["source"]).transform("max") > 1
    guessed = guessed.where(several, shots["source"])
    return shots["session"].where(shots["session"].notna(), guessed)


@dataclass(frozen=True, kw_only=True, eq=False)
class Suspect:
    """One known cause with the shots it acts on.

    Attributes
    ----------
    cause, variant, subject : str
        Name, variant in words, and the mark, session, initialization or shot it is about.
    acts : (n,) bool array
        Shots it acts on.
    doubtful : (n,) bool array
        Shots that it may act on as well: between the last good check and the first bad one.
    signature : Signature or None
        For causes of a whole file.
    fixed, u_fixed : (3,) array
        Shift of all its shots, where it needs no signature, and 1 sigma.
    axes : (k,) int array
        Axes whose shift is open, with `spread`.
    weight : float
    family : str
        Of causes of one family at most one is taken at once; the cause itself if left out.
    warp : Warp or None
        For elevations that follow the place.
    """

    cause: str
    variant: str
    acts: np.ndarray
    weight: float
    subject: str = ""
    doubtful: np.ndarray | None = None
    signature: Signature | None = None
    fixed: np.ndarray = field(default_factory=lambda: np.zeros(3))
    u_fixed: np.ndarray = field(default_factory=lambda: np.zeros(3))
    axes: tuple[int, ...] = ()
    spread: np.ndarray = field(default_factory=lambda: np.zeros(0))
    detail: str = ""
    family: str = ""
    warp: Warp | None = None

    def columns(self, points: np.ndarray) -> np.ndarray:
        """Shift for one unit of each open size, (n, 3, k)."""
        if self.signature is not None:
            return self.signature.open_columns(points)
        if self.warp is not None:
            return self.warp.columns(np.nan_to_num(points[:, :2]))[:, None, :] * np.eye(3)[2][None, :, None]
        return np.ones((len(points), 1, 1)) * np.eye(3)[:, list(self.axes)]

    def shift(self, points: np.ndarray, sizes: np.ndarray) -> np.ndarray:
        """Shown minus true at true points, were they all affected."""
        if self.signature is None:
            fixed = np.ones((len(points), 1)) * self.fixed
        else:
            fixed = self.signature.displacement(points)
        return fixed + self.columns(points) @ sizes if sizes.size else fixed

    def as_cause(self, checks: Checks) -> Cause:
        """What it does to the check shots."""
        acts = self.acts[checks.row].astype(float)[:, None]
        known = checks.placed
        columns = self.columns(known) * acts[:, :, None]
        return Cause(
            name=f"{self.cause}: {self.variant}",
            family=f"{self.cause} {self.subject}" if self.cause in ("mark", "mark-name") else self.family or self.cause,
            fixed=(self.shift(known, np.zeros(0)) * acts).ravel(),
            columns=columns.reshape(3 * len(known), columns.shape[2]),
            spread=self.spread if self.signature is None else self.signature.spread,
            weight=self.weight,
            unlisted=self.cause in (UNLISTED, WARP),
            smooth=self.cause == WARP,
            blames=self.cause == "mark" and 2 in self.axes,
            least=self._least_effect(checks),
            level=self._least_level(checks),
            smallest=SMALLEST.get(self.cause, 0.0) * checks.unit
            if self.signature is None and self.spread.size
            else 0.0,
        )

    def _least_effect(self, checks: Checks) -> float:
        """Least root mean square of what it does to the check shots it acts on."""
        if self.warp is not None:
            return LEAST / 2 * checks.unit
        return 0.0 if self.signature is None else max(LEAST * checks.unit, checks.scatter)

    def _least_level(self, checks: Checks) -> float:
        """Least average of what it does to elevations; of a stated separation half of what that makes."""
        if self.signature is None or self.cause not in GEOIDS:
            return 0.0
        stated = np.abs(self.signature.displacement(checks.placed[:1])[0, 2])
        return float(min(LEAST_GEOID * checks.unit, stated / 2))


def suspects(checks: Checks, signatures: Iterable[Signature]) -> list[Suspect]:
    """Every known cause that this job's log lets act on its check shots."""
    made = [*_of_files(checks, signatures), *_elevations(checks), *_rods(checks)]
    made += [*_initializations(checks), *_marks(checks), *_names(checks), *_single(checks)]
    count = Counter(each.cause for each in made)
    shifts = count[SHIFT]
    count["rod"] += shifts
    of_rod = PRIOR["rod"] / count["rod"]  # what looks alike has the weight of all that it may be
    return [
        replace(each, weight=each.weight / count[each.cause] + (of_rod if each.cause == SHIFT else 0.0))
        for each in made
    ]


def _of_files(checks: Checks, signatures: Iterable[Signature]) -> Iterator[Suspect]:
    source = checks.shots["source"].to_numpy()
    every = np.ones(len(source), dtype=bool)
    files = np.unique(source[checks.row].astype(str))
    for signature in signatures:
        cause = signature.cause
        yield Suspect(
            cause=cause,
            variant=signature.variant,
            acts=every,
            weight=PRIOR[cause],
            signature=signature,
            subject="all shots",
        )
        if cause in PART_OF_A_JOB and len(files) > 1:
            for name in files:
                yield Suspect(
                    cause=cause, variant=signature.variant, acts=source == name, subject=f"file {name}",
                    weight=PRIOR[cause], signature=signature,
                )  # fmt: skip


def _vertical(cause: str, checks: Checks, **attributes: Any) -> Suspect:
    spread = np.array([SPREAD[attributes.get("family", cause)] * checks.unit])
    return Suspect(cause=cause, axes=(2,), spread=spread, weight=PRIOR[cause], **attributes)


def _elevations(checks: Checks) -> Iterator[Suspect]:
    every = np.ones(len(checks.shots), dtype=bool)
    sessions = checks.sessions.unique()
    whose = f"session {sessions[0]}" if len(sessions) == 1 else "all shots"
    yield _vertical(
        SHIFT, checks, acts=every, subject=whose, variant=f"one elevation shift in {_every_shot(whose)}",
    )  # fmt: skip


def _every_shot(whose: str) -> str:
    return whose if whose == "all shots" else f"every shot {'' if whose.startswith('from') else 'of '}{whose}"


def _rods(checks: Checks) -> Iterator[Suspect]:
    """A rod entry in the log that differs from the usual one; and a step at any check shot to the end.

    A step within a session is the rod's. What is off from a session's first check on is no step: a rod, an antenna, the
    base and the vertical datum make the same of it.
    """
    yield from _entries(checks)
    row, every = checks.row, np.zeros(len(checks.shots), int)
    seen: set[bytes] = {np.ones(len(row), bool).tobytes()}
    for group, until in ((checks.session, "session"), (every, "job")):
        here = group[row]
        for number, check, mask in onsets(here, row):
            if mask.tobytes() in seen:
                continue
            seen.add(mask.tobytes())
            first = row[check]
            acts, doubtful = (group == number for _ in range(2))
            before = row[(here == number) & (row < first)]
            if before.size:
                acts[:first] = False
                doubtful[: before[-1] + 1], doubtful[first:] = False, False
            else:  # the group's first check: everything of the group
                doubtful[:] = False
            name = checks.sessions.iloc[first]
            subject = f"session {name}" if until == "session" else f"from session {name} on"
            whole = first == row[checks.session[row] == checks.session[first]].min()
            step = f"elevation step at {checks.called[first]}, to the end of the {until}"
            yield _vertical(
                SHIFT if whole else "rod", checks, acts=acts, doubtful=doubtful, subject=subject, family="rod",
                variant=f"one elevation shift in {_every_shot(subject)}" if whole else step,
            )  # fmt: skip


def _entries(checks: Checks) -> Iterator[Suspect]:
    rod = checks.shots["rod_height"].to_numpy(float)
    kept = rod[np.isfinite(rod)]
    if not kept.size:
        return
    values, counts = np.unique(np.round(kept, 3), return_counts=True)
    usual = values[counts.argmax()]
    for value in values[np.abs(values - usual) > 0.002 * checks.unit].tolist():
        acts = np.abs(rod - value) < 0.001
        if acts[checks.row].any():
            yield Suspect(
                cause="rod", variant=f"rod entered as {value:.3f} where the other shots have {usual:.3f}", acts=acts,
                weight=20.0 * PRIOR["rod"], fixed=np.array([0.0, 0.0, usual - value]), subject=f"rod entry {value:.3f}",
                detail="rod entry in the log",
            )  # fmt: skip


def _initializations(checks: Checks) -> Iterator[Suspect]:
    number, names = pd.factorize(checks.shots["initialization"])
    spread = np.full(3, SPREAD["initialization"] * checks.unit)
    checked = np.unique(number[checks.row])
    for name, own in sorted((str(names[each]), each) for each in checked[checked >= 0].tolist()):
        acts = number == own
        if not acts[checks.row].all():
            yield Suspect(
                cause="initialization", variant=f"bad initialization {name}", subject=name, acts=acts,
                axes=(0, 1, 2), spread=spread, weight=PRIOR["initialization"],
            )  # fmt: skip


def _marks(checks: Checks) -> Iterator[Suspect]:
    if len(np.unique(checks.mark)) < 2:
        return
    for place in np.unique(checks.mark).tolist():
        acts = np.zeros(len(checks.shots), dtype=bool)
        acts[checks.row[checks.mark == place]] = True
        name = str(checks.control["mark"].iloc[place])
        for axes, words in (((0, 1), "in plan"), ((2,), "in elevation"), ((0, 1, 2), "in plan and elevation")):
            yield Suspect(
                cause="mark", variant=f"mark {name} moved or wrongly published {words}", subject=name, acts=acts,
                axes=axes, spread=np.full(len(axes), SPREAD["mark"] * checks.unit), weight=PRIOR["mark"],
            )  # fmt: skip


def _names(checks: Checks) -> Iterator[Suspect]:
    """Check shots that lie far nearer to another mark than to the one they name."""
    places = checks.control[["easting", "northing", "elevation"]].to_numpy(float)
    points = checks.points[checks.row]
    own_u = np.nan_to_num(checks.control[["u_h", "u_h", "u_v"]].to_numpy(float))
    for number, (row, mark) in enumerate(zip(checks.row.tolist(), checks.mark.tolist(), strict=True)):
        own = np.hypot(*(points[number] - places[mark])[:2])
        if not own > FAR * checks.unit:
            continue
        away = np.hypot(*(points[number] - places)[:, :2].T)
        for other in np.flatnonzero(away < own / 2).tolist():
            acts = np.zeros(len(checks.shots), dtype=bool)
            acts[row] = True
            said, lies = checks.control["mark"].iloc[mark], checks.control["mark"].iloc[other]
            yield Suspect(
                cause="mark-name", variant=f"check shot {checks.called[row]} named {said} was taken on {lies}",
                subject=str(said), acts=acts, weight=PRIOR["mark-name"],
                fixed=np.nan_to_num(places[other] - places[mark]), u_fixed=np.hypot(own_u[other], own_u[mark]),
            )  # fmt: skip


def _single(checks: Checks) -> Iterator[Suspect]:
    for row in checks.row.tolist():
        acts = np.zeros(len(checks.shots), dtype=bool)
        acts[row] = True
        name = checks.called[row]
        yield Suspect(
            cause="bad-shot", variant=f"check shot {name} alone is off", subject=name, acts=acts, axes=(0, 1, 2),
            spread=np.full(3, SPREAD["bad-shot"] * checks.unit), weight=PRIOR["bad-shot"],
        )  # fmt: skip


def feet(unit_metres: float) -> float:
    """Feet in job units: a factor for the constants of this room."""
    return FOOT.metres_float / unit_metres
