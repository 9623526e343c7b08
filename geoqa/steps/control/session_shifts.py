"""Whether a session is shifted as a whole: what its check shots agree on, and how sure that is."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from pydantic import Field

from geoqa.contract.checks import check_named
from geoqa.contract.survey import SESSION_SHIFT
from geoqa.errors import StepError
from geoqa.kernels.control.applied_shift import applied_u, change_by_mark
from geoqa.kernels.control.session_shift import Prepared, prepared, shifts_of
from geoqa.kernels.control.session_shift import SessionShifts as Estimated
from geoqa.model import words
from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import ASSUMED_U, mark_of
from geoqa.steps.causes.left_out import elevations_apart
from geoqa.steps.judging.findings import evidence_of, findings_of
from geoqa.steps.judging.text_columns import filled
from geoqa.steps.shots.flags import noted

MOST = 600
"""Check shots of one session that are weighed; of more, so many are taken, evenly spread over it: neighbours in
time tell little anew, and what weighing takes goes with the cube of their number."""
AXES = ("easting", "northing", "elevation")
ALLOWED = 1.959963984540054
"""What a session may be off by, in the u that its shots are stated to share: 95 of 100 sessions keep within."""
FELT = 0.25
"""Share of the narrowest limit that a shift must exceed to be out: two readings of a number nearer than that are of one
mind."""
GUARDED = 1.6448536269514722
"""The decision rule calls out what lies beyond a limit by so many u."""


class SessionShifts(Step):
    """Estimate how far each session lies off its marks as a whole, with what that number is worth.

    All sessions are estimated together: a mark's published value is wrong by the same amount in each. Shots under a
    named blunder and second listings are left out first, then marks that the others contradict; of a session with
    more than 600 check shots so many count, evenly spread over its time. A shift that is proven not to be chance is a
    finding of the survey, never a defect of the work; it is out where it is proven larger than the stated
    uncertainties let a session be off by, and than a quarter of the narrowest limit of the work along it. Nothing is
    corrected by it, unless the job names the session in `apply`: then its proven shift is taken off every number of
    its feature shots that feels it, and its u stands in place of what the session shares: larger than that of the
    estimate, for it was chosen by being proven and one mark may be off. A shift that rests on a single mark is not
    taken off. Check shots stay as read, and so do coordinates.
    """

    name = "session-shifts"
    needs = (
        "control",
        "shots.kind",
        "shots.role",
        "shots.u_h_random",
        "shots.u_v_random",
        "shots.u_h_common",
        "shots.u_v_common",
    )
    wants = ("cause_shots", "shots.flags", "shots.use")
    gives = ("session_shifts",)
    adds = ("findings", "evidence", "notes")

    level: float = Field(
        0.05, gt=0, lt=0.5, description="Chance of proving a shift in a job without one, over all sessions and axes"
    )
    slope: float = Field(
        5e-6, ge=0, lt=1e-3, description="1 sigma of the tilt of a geoid model, as a ratio; common practice, no source"
    )
    together: int = Field(
        300, ge=1, description="Check shots weighed together; a longer job in parts of whole sessions"
    )
    apply: tuple[str, ...] = Field((), description="Sessions whose proven shift is taken off their numbers, by name")
    unstated: Length = Field(
        Length.parse(f"{ASSUMED_U} ft"), description="1 sigma taken for a mark whose published value states none"
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """A row for each session and axis; a finding for each that is proven."""
        control = layers["control"].reset_index(drop=True)
        self._refuse_strange(layers["shots"])
        checks = _counted(layers, control)
        if not len(checks):
            return {"session_shifts": empty("session_shifts"), "findings": empty("findings"),
                    "evidence": empty("evidence"), "notes": self._refused(empty("session_shifts"))}  # fmt: skip
        parts, unit = list(_parts(checks, self.together)), layers.frame.unit
        made = [self._part(part, control, unit) for part in parts]
        table = pd.concat([rows for rows, _ in made], ignore_index=True)
        checks = pd.concat([kept for _, kept in made], ignore_index=True)
        table["tests"] = int(table["u"].notna().sum())
        table["proven"] = (table["p"] * table["tests"] < self.level).fillna(False)
        table["u_applied"] = np.concatenate([self._worth(part, control, table, unit) for part in parts])
        chance = _chance(table["u"], table["dof"], self.level / np.maximum(table["tests"], 1))
        table["limit"] = np.fmax(np.fmax(chance, ALLOWED * table["u_stated"]), _felt(layers, table["axis"]))
        table["applied"] = table["u_applied"].notna() & table["session"].isin(self.apply)
        findings, evidence = _findings(layers, table, checks, self.level)
        table = conform("session_shifts", table)
        return {"session_shifts": table, "findings": findings, "evidence": evidence, "notes": self._refused(table)}

    def _refused(self, table: pd.DataFrame) -> pd.DataFrame:
        """Notes on sessions that have no proven shift that could be taken off."""
        done = set(table.loc[table["applied"], "session"])
        alone = set(table.loc[table["proven"] & (table["marks"] < 2), "session"])
        facts = [
            {"note": "session-shift", "variant": "one-mark" if each in alone else "refused", "session": each}
            for each in sorted(set(self.apply) - done)
        ]
        return noted(self.name, facts)

    def _refuse_strange(self, shots: pd.DataFrame) -> None:
        if not self.apply:
            return
        known = sorted(shots["session"].where(shots["session"].notna(), shots["source"]).unique())
        for name in self.apply:
            if name not in known:
                raise StepError(
                    f"Step '{self.name}': apply names the session '{name}', and there are {', '.join(known) or 'none'}."
                )

    def _part(self, checks: pd.DataFrame, control: pd.DataFrame, unit: LengthUnit) -> tuple[pd.DataFrame, pd.DataFrame]:
        """Shifts of some sessions together, and their check shots with a column an axis: whether each counts."""
        names = sorted(checks["group"].unique())
        given = {axis: self._given(checks, control, names, axis, unit) for axis in AXES}
        alone = {axis: shifts_of(each).evidence for axis, each in given.items()}
        total = np.sum(list(alone.values()), axis=0)
        made = {axis: _along(checks, names, axis, each, total - alone[axis]) for axis, each in given.items()}
        counted = checks.assign(**{f"counts_{axis}": found.kept for axis, (_, found) in made.items()})
        return pd.concat([rows for rows, _ in made.values()], ignore_index=True), counted

    def _worth(self, checks: pd.DataFrame, control: pd.DataFrame, table: pd.DataFrame, unit: LengthUnit) -> np.ndarray:
        """1 sigma of proven shifts of a part once they are taken off, axis by axis; NaN for all others."""
        names = sorted(checks["group"].unique())
        level = self.level / max(int(table["tests"].iloc[0]), 1)
        worth = []
        for axis in AXES:
            rows = table[(table["axis"] == axis) & table["session"].isin(names)].sort_values("session")
            proven = rows["proven"].to_numpy(bool)
            made = np.full(len(names), np.nan)
            if proven.any():
                change = change_by_mark(self._given(checks, control, names, axis, unit), asked=proven)
                shift, u, dof, marks = (rows[name].to_numpy(float) for name in ("shift", "u", "dof", "marks"))
                made = np.where(proven, applied_u(shift, u, dof, marks, change, level), np.nan)
            worth.append(made)
        return np.concatenate(worth)

    def _given(
        self, checks: pd.DataFrame, control: pd.DataFrame, names: list[str], axis: str, unit: LengthUnit
    ) -> Prepared:
        """What the shifts along one axis are estimated from."""
        plane = "v" if axis == "elevation" else "h"
        marks = control.iloc[checks["mark"]].reset_index(drop=True)
        random, common = (checks[f"u_{plane}_{part}"].to_numpy(float) for part in ("random", "common"))
        return prepared(
            checks["height" if axis == "elevation" else axis].to_numpy(float) - marks[axis].to_numpy(float),
            checks["group"].map(names.index).to_numpy(int),
            checks["mark"].to_numpy(int),
            checks["time"].astype("int64").where(checks["time"].notna()).to_numpy(float) / 6e7,
            marks[["easting", "northing"]].to_numpy(float),
            # equal halves are how a log's own number is split for want of better: all of it may be this shot's own
            u_random=np.where(random == common, np.hypot(random, common), random),
            u_mark=marks[f"u_{plane}"].astype(float).fillna(self.unstated.to(unit)),
            slope=self.slope if plane == "v" else 0.0,
            sessions=len(names),
        )


def _along(
    checks: pd.DataFrame, names: list[str], axis: str, given: Prepared, elsewhere: ArrayLike
) -> tuple[pd.DataFrame, Estimated]:
    plane = "v" if axis == "elevation" else "h"
    found = shifts_of(given, elsewhere=elsewhere)
    half = found.half_width()
    rows = {
        "session": pd.Series(names, dtype="str"), "axis": filled(axis, len(names)), "shift": found.shift,
        "u": found.u, "low": found.shift - half, "high": found.shift + half, "t": found.shift / found.u,
        "dof": found.dof, "share": found.share, "u_stated": _shared(checks, names, plane),
        "shots": found.shots, "marks": found.marks, "p": found.p,
    }  # fmt: skip
    return pd.DataFrame(rows), found


def _counted(layers: Layers, control: pd.DataFrame) -> pd.DataFrame:
    """Check shots that count, with the place of their mark and the group that shares a shift."""
    shots = layers["shots"]
    checks = pd.DataFrame(shots[shots["role"] == "check"]).reset_index(drop=True)
    mark = mark_of(checks, control)
    apart, level = elevations_apart(layers, checks)
    use = checks["use"].to_numpy(bool) if "use" in checks else True
    for plane in ("h", "v"):
        use = use & (checks[f"u_{plane}_random"] > 0).to_numpy(bool)
    group = checks["session"].where(checks["session"].notna(), checks["source"])
    checks = checks.assign(mark=mark, group=group, height=checks["elevation"].where(level.isna()))
    return spread(checks[(mark >= 0) & apart.isna().to_numpy(bool) & use].reset_index(drop=True))


def spread(checks: pd.DataFrame) -> pd.DataFrame:
    """Of a session with very many check shots, as many as can be weighed together, evenly spread over its time."""
    count = checks.groupby("group")["shot_key"].transform("count").to_numpy()
    if not len(checks) or count.max() <= MOST:
        return checks
    place = checks.sort_values("time", kind="stable").groupby("group").cumcount().reindex(checks.index).to_numpy()
    # shot i is kept where i * MOST / count passes a whole number
    kept = (count <= MOST) | ((place + 1) * MOST // count > place * MOST // count)
    return checks[kept].reset_index(drop=True)


def _shared(checks: pd.DataFrame, names: list[str], plane: str) -> np.ndarray:
    """What the shots of each session are stated to share, 1 sigma."""
    return checks.groupby("group")[f"u_{plane}_common"].median().reindex(names).fillna(0.0).to_numpy(float)


def _parts(checks: pd.DataFrame, most: int) -> Iterator[pd.DataFrame]:
    """Check shots of whole sessions, as many as are weighed together, in the order of their first shot."""
    number, sessions = pd.factorize(checks["group"])
    part, held, place = np.zeros(len(sessions), dtype=int), 0, 0
    for session, count in enumerate(np.bincount(number).tolist()):
        if held and held + count > most:
            place, held = place + 1, 0
        held, part[session] = held + count, place
    for each in range(place + 1):
        yield checks[part[number] == each].reset_index(drop=True)


def _chance(u: pd.Series, dof: pd.Series, level: Any) -> pd.Series:
    """What chance alone may make of a session at that level, less what the decision rule adds on its own."""
    from scipy.special import stdtrit

    return pd.Series(u * np.maximum(stdtrit(dof, 1 - level / 2) - GUARDED, 0.0), index=u.index)


def _felt(layers: Layers, axis: pd.Series) -> np.ndarray:
    """Least shift along each axis that is a matter: a share of the narrowest limit set along it; 0 where none is."""
    if "limits" not in layers or not len(layers["limits"]):
        return np.zeros(len(axis))
    limits = layers["limits"]
    plane = limits["check"].map({name: felt_along(str(name)) for name in limits["check"].unique()})
    width = limits[["lower", "upper"]].abs().min(axis=1).where(lambda each: np.isfinite(each) & (each > 0))
    least = (width.groupby(plane).min() * FELT).to_dict()
    return axis.map(lambda name: least.get("v" if name == "elevation" else "h", 0.0)).fillna(0.0).to_numpy(float)


def felt_along(check: str) -> str | None:
    """Plane of a check of the work that feels a session's shift whole; None for a difference, which does not."""
    about = check_named(check)
    return about.axis if about.subject == "work" and about.quantity == "length" and about.feels == "both" else None


def _findings(
    layers: Layers, table: pd.DataFrame, checks: pd.DataFrame, level: float
) -> tuple[pd.DataFrame, pd.DataFrame]:
    unit = layers.frame.unit.name
    rows, keys = [], []
    for row in table[table["proven"]].to_dict("records"):
        mine = checks[(checks["group"] == row["session"]).to_numpy(bool) & checks[f"counts_{row['axis']}"]]
        shift, u = words.length(row["shift"], unit, signed=True), words.length(row["u"], unit)
        rows.append(
            {
                "kind": "control", "subject": f"session {row['session']}", "source": row["axis"],
                "label": f"session {row['session']}, {row['axis']}",
                "easting": mine["easting"].iloc[0], "northing": mine["northing"].iloc[0],
                "elevation": mine["elevation"].iloc[0], "design": 0.0, "measured": row["shift"],
                "deviation": row["shift"], "u_common": row["u"], "u_random": 0.0, "lower": -row["limit"],
                "upper": row["limit"], "rule": "guarded", "limit": -1, "why": 0,
                "reference": "95 % of what shots are stated to share in a session; at least what chance makes of one, "
                f"level {level:g} over {row['tests']} tests, and a quarter of the narrowest limit along {row['axis']}",
                "cause": f"{words.many(row['shots'], 'check shot')} on "
                f"{words.many(row['marks'], 'mark')} agree on {shift} ± {u} in {row['axis']} "
                f"(t {words.number(row['t'], 1)}, {row['dof']:.0f} degrees of freedom)",
                "remedy": _REMEDY.format(row["session"]),
            }
        )  # fmt: skip
        keys.append(sorted(mine["shot_key"]))
    if not rows:
        return empty("findings"), empty("evidence")
    made = pd.DataFrame(rows).assign(shot=pd.Series([None] * len(rows), dtype="str"))
    limits = layers["limits"] if "limits" in layers else empty("limits")
    findings = findings_of(made, check=SESSION_SHIFT, limits=limits, unit=unit, keys=keys)
    evidence = [
        evidence_of([finding] * len(mine), mine, role="shot", layer="shots")
        for finding, mine in zip(findings["finding"], keys, strict=True)
    ]
    return findings, pd.concat(evidence, ignore_index=True)


_REMEDY = (
    "look for what all shots of session {} share: rod and antenna reference, base position, geoid model, correction "
    "source; correct that and export again, or occupy two marks once more in that setup"
)
