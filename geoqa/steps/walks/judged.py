"""Numbers made of shots as findings, with the shots each rests on."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.kernels.walks.numbers import Numbers
from geoqa.model import words
from geoqa.model.check import Check
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.findings import asked, evidence_of, findings_of, with_limits
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import observed


@dataclass(frozen=True, kw_only=True, eq=False)
class Judgement:
    """What was made of numbers.

    Attributes
    ----------
    findings, evidence : DataFrame
    number : (f,) int64 array
        Which number each finding is of.
    """

    findings: pd.DataFrame
    evidence: pd.DataFrame
    number: np.ndarray

    @classmethod
    def none(cls) -> "Judgement":
        """Nothing was judged."""
        return cls(findings=empty("findings"), evidence=empty("evidence"), number=np.zeros(0, dtype=np.int64))


def measured(layers: Layers, numbers: Numbers, check: Check, *, beyond: np.ndarray | float = 0.0) -> pd.DataFrame:
    """Rows of numbers with their uncertainty and what keeps them from being judged, as `derived_rows` gives them."""
    unit = layers.frame.unit.name
    return derived_rows(
        layers, numbers.members, numbers.gradient, numbers.value,
        show=lambda value: words.quantity(value, check.quantity, unit, signed=True), beyond=beyond,
    )  # fmt: skip


def judged(
    layers: Layers,
    numbers: Numbers,
    about: pd.DataFrame,
    *,
    check: Check,
    u_more: np.ndarray | float = 0.0,
    times: np.ndarray | float = 1.0,
    instead: pd.DataFrame | None = None,
    again: str = "independent pass of the same shots",
) -> Judgement:
    """Judge numbers under the kinds that have a limit.

    Parameters
    ----------
    layers : Layers
    numbers : Numbers
        Members are rows of `observed`.
    about : DataFrame
        A row each: `kind`, `subject`, `label`, `easting`, `northing`, and `own`, the code of a reason of the check's
        own, 0 for none. With `named` a finding is named by these rows of `observed`, not by all of its members.
    check : Check
    u_more : (m,) array or float
        1 sigma that comes to the random part, and is not that of shots.
    times : (m,) array or float
        Factor of the random part that comes of the shots.
    instead : DataFrame, optional
        Of better measurements: `number`, `value`, `u`; the number of that row is judged with it.
    again : str
        What would have to be repeated, in the singular.

    Returns
    -------
    Judgement
    """
    if not len(about):
        return Judgement.none()
    about = about[[name for name in _ABOUT if name in about]]
    limited = asked(with_limits(about.assign(number=np.arange(len(about))), layers["limits"], check=check))
    if not len(limited):
        return Judgement.none()
    limits, which = layers["limits"], limited["number"].to_numpy()
    lower, upper = (limits[name].to_numpy(float)[limited["limit"].to_numpy()] for name in ("lower", "upper"))
    part = taken_numbers(numbers, which)
    beyond = np.nan_to_num(np.maximum(part.value - upper, lower - part.value), nan=0.0, neginf=0.0)
    rows = measured(layers, part, check, beyond=beyond)
    rows["u_random"] = np.hypot(
        rows["u_random"] * np.broadcast_to(times, len(about))[which], np.broadcast_to(u_more, len(about))[which]
    )
    keys = rows.pop("keys").tolist()
    shots = observed(layers)["shot"].to_numpy(dtype=object)
    names = [list(shots[each]) for each in limited.pop("named")] if "named" in limited else keys
    apart = _told_apart(names, limited)
    own = limited["own"].to_numpy()
    rows["why"] = np.where(own > 0, own, rows["why"])
    for name in ("measured", "deviation", "without"):
        rows[name] = np.where(own > 0, np.nan, rows[name])
    if instead is not None and len(instead):
        _put_in(rows, which, instead)
    rows = pd.concat([limited.drop(columns=["number", "own"]), rows], axis=1)
    rows["station"], rows["station_end"] = _stations(layers, names)
    rows["source"] = pd.Series(None, index=rows.index, dtype="str")
    rows["shot"] = rows["source"]
    unit = layers.frame.unit.name
    findings = findings_of(rows, check=check, limits=limits, unit=unit, keys=apart, again=again)
    count = [len(each) for each in keys]
    named = findings["finding"].to_numpy(dtype=object).repeat(count).tolist()
    weights = [_weights(part, row) for row in range(len(which))]
    evidence = evidence_of(
        named, [key for each in keys for key in each], role="member", layer="shots", weights=np.concatenate(weights)
    )
    return Judgement(findings=findings, evidence=evidence, number=which)


def _told_apart(names: list[list[str]], rows: pd.DataFrame) -> list[list[str]]:
    """Keys of the findings: several of one edge that no shot stands for, such as its long legs, by label and place."""
    nameless = np.array([not each for each in names], dtype=bool)
    again = rows.duplicated(["kind", "subject", "limit"], keep=False).to_numpy(bool) & nameless
    where = zip(rows["label"], rows["easting"], rows["northing"], strict=True)
    said = [[str(label), f"{east:.3f} {north:.3f}"] for label, east, north in where]
    return [own if alike else name for name, own, alike in zip(names, said, again, strict=True)]


def _stations(layers: Layers, names: list[list[str]]) -> tuple[np.ndarray, np.ndarray]:
    """First and last station of the shots of every number along the design line of one edge; NaN where none has any.

    Of two edges the one whose line comes first by name: each line counts its own stations.
    """
    made = np.full((2, len(names)), np.nan)
    if "line_matches" not in layers or not len(layers["line_matches"]):
        return made[0], made[1]
    place = layers.derived("design line and station of shots", ("line_matches",), lambda: _along_design(layers))
    for number, each in enumerate(names):
        found = [place[key] for key in each if key in place]
        if found:
            first = min(line for line, _ in found)
            along = [station for line, station in found if line == first]
            made[:, number] = min(along), max(along)
    made[1] = np.where(made[1] > made[0], made[1], np.nan)
    return made[0], made[1]


def _along_design(layers: Layers) -> dict[str, tuple[str, float]]:
    """Design line and station of every shot that has one."""
    matches = layers["line_matches"]
    chosen = matches[matches["chosen"]].drop_duplicates("shot_key")
    keys = chosen["shot_key"].to_numpy(dtype=object).tolist()
    return dict(zip(keys, zip(chosen["design"], chosen["station"], strict=True), strict=True))


_ABOUT = ("kind", "subject", "label", "easting", "northing", "own", "named")


def taken_numbers(numbers: Numbers, which: np.ndarray) -> Numbers:
    """Some of the numbers, in the order asked for."""
    return Numbers(**{name: getattr(numbers, name)[which] for name in _FIELDS})


def not_judged(layers: Layers, lacking: pd.DataFrame, check: Check) -> Judgement:
    """One finding without data for every stretch that no number is known of."""
    if not len(lacking):
        return Judgement.none()
    rows = [np.zeros(0, dtype=int) if each is None else each for each in lacking["rows"]]
    width = max((len(each) for each in rows), default=0) or 1
    members = np.array([np.pad(each, (0, width - len(each)), constant_values=-1) for each in rows])
    flat = np.zeros(members.shape)
    numbers = Numbers(value=np.full(len(lacking), np.nan), members=members, easting=flat, northing=flat, elevation=flat)
    own = [check.why(each) for each in lacking["reason"]]
    about = lacking[["kind", "subject", "label", "easting", "northing"]].assign(own=own)
    return judged(layers, numbers, about, check=check)


def joined(parts: list[Judgement]) -> Judgement:
    """Several judgements as one."""
    some = [part for part in parts if len(part.findings)]
    if not some:
        return Judgement.none()
    return Judgement(
        findings=pd.concat([part.findings for part in some], ignore_index=True),
        evidence=pd.concat([part.evidence for part in some], ignore_index=True),
        number=np.concatenate([part.number for part in some]),
    )


_FIELDS = ("value", "members", "easting", "northing", "elevation")


def stacked(parts: list[Numbers]) -> Numbers:
    """Several numbers as one table; members that one lacks are none."""
    if not parts:
        none = np.zeros((0, 1))
        return Numbers(value=np.zeros(0), members=none.astype(np.int64), easting=none, northing=none, elevation=none)
    width = max(each.members.shape[1] for each in parts)

    def widened(table: np.ndarray, fill: float) -> np.ndarray:
        return np.pad(table, ((0, 0), (0, width - table.shape[1])), constant_values=fill)

    made = {name: np.concatenate([widened(getattr(each, name), 0.0) for each in parts]) for name in _FIELDS[2:]}
    members = np.concatenate([widened(each.members, -1) for each in parts])
    return Numbers(value=np.concatenate([each.value for each in parts]), members=members, **made)


def _put_in(rows: pd.DataFrame, which: np.ndarray, instead: pd.DataFrame) -> None:
    """Judge the better measurement where there is one: no error of a session acts on it."""
    place = pd.Series(np.arange(len(instead)), index=instead["number"].to_numpy()).reindex(which).to_numpy(float)
    mine = np.isfinite(place)
    of = instead.iloc[place[mine].astype(int)]
    for name, values in (("measured", of["value"]), ("deviation", of["value"]), ("u_random", of["u"])):
        rows.loc[mine, name] = values.to_numpy(float)
    rows.loc[mine, "u_common"], rows.loc[mine, "why"] = 0.0, 0
    rows.loc[mine, ["without", "u_without", "cause", "cause_both"]] = None


def _weights(numbers: Numbers, row: int) -> np.ndarray:
    """Share of every member in the number, by how much the number changes with it."""
    there = numbers.members[row] >= 0
    size = np.sqrt(sum(table[row] ** 2 for table in numbers.gradient.values()))[there]
    total = size.sum()
    return np.asarray(size / total if total > 0 else np.full(len(size), np.nan))
