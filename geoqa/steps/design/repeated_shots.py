"""Rows of deviations that are of one place, made one row each: several shots of a place are one value."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geoqa.kernels.precision.one_place import OneValue, one_value, places_along
from geoqa.model.quantity import Length
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of

PLACE = Length.parse("0.30 ft")
"""Longest stretch of a line whose shots are of one place."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Places:
    """Places that were shot more than once, with one value each; p places of m rows in all.

    Attributes
    ----------
    row : (m,) int64 array
        Rows of the places, one place after the other.
    begin, shots : (p,) int64 array
        Where each place begins in `row`, and its number of rows.
    weight : (m,) float64 array
        Share of every row in its place.
    value : (p, k) float64 array
        Weighed mean of each component.
    u_random, u_common, enlarged, independent : (p,) float64 array
        As of `geoqa.kernels.precision.one_place.OneValue`.
    odd : (p,) int64 array
        Row of the one shot that the others contradict; -1 where there is none.
    others : list of OneValue or None
        The value of the others.
    """

    row: np.ndarray
    begin: np.ndarray
    shots: np.ndarray
    weight: np.ndarray
    value: np.ndarray
    u_random: np.ndarray
    u_common: np.ndarray
    enlarged: np.ndarray
    independent: np.ndarray
    odd: np.ndarray
    others: list[OneValue | None]

    @property
    def first(self) -> np.ndarray:
        """First row of each place, (p,)."""
        return np.asarray(self.row[self.begin])

    def mean(self, values: pd.Series) -> np.ndarray:
        """Weighed mean of a column of the rows, (p,)."""
        return np.asarray(np.add.reduceat(self.weight * values.to_numpy(float)[self.row], self.begin))

    def lists(self, values: np.ndarray) -> list[list[Any]]:
        """Values of the rows, (m,), as a list for each place."""
        return [list(each) for each in np.split(values, self.begin[1:])]


def places_of(
    layers: Layers,
    rows: pd.DataFrame,
    values: np.ndarray,
    *,
    reach: float,
    at_points: bool,
    vertical: bool,
    work: np.ndarray | None = None,
) -> Places | None:
    """Places of rows that were shot more than once; None where there is none.

    Parameters
    ----------
    layers : Layers
    rows : DataFrame, (n,)
        Of `along_lines` or `at_points`, those that can be judged.
    values : (n, k) array
        What is made one: deviations, or components in plan.
    reach : float
        Along a line; all shots of one design point are of one place.
    at_points, vertical : bool
    work : (n,) int array, optional
        What work each row shows, as of `differing_passes`: a place never holds shots of two.
    """
    if len(rows) < 2:
        return None
    by = [rows["kind"], rows["subject"], *([] if work is None else [pd.Series(work, index=rows.index, name="work")])]
    subject = rows.groupby(by, sort=False, dropna=False).ngroup().to_numpy()
    place = subject if at_points else places_along(subject, rows["station"], reach=reach)
    count = np.bincount(place)
    several = np.flatnonzero(count[place] > 1)
    if not len(several):
        return None
    # places in the order of their first row
    number = pd.factorize(place[several])[0]
    row = several[np.argsort(number, kind="stable")]
    shots = np.bincount(number)
    begin = np.cumsum(shots) - shots
    found = _values(layers, rows.iloc[row], values[row], begin, vertical=vertical)
    columns = {name: np.array([getattr(each, name) for each in found]) for name in _OF_PLACE}
    return Places(
        row=row, begin=begin, shots=shots, weight=np.concatenate([each.weight for each in found]),
        value=np.array([each.value for each in found]), others=[each.others for each in found],
        odd=np.array([row[at + each.odd] if each.odd >= 0 else -1 for at, each in zip(begin, found, strict=True)]),
        **columns,
    )  # fmt: skip


_OF_PLACE = ("u_random", "u_common", "enlarged", "independent")


def _values(
    layers: Layers, rows: pd.DataFrame, values: np.ndarray, begin: np.ndarray, *, vertical: bool
) -> list[OneValue]:
    """One value a place, weighed by session, time, and what repeats say that close shots share."""
    shots = layers["shots"].iloc[rows["row"].to_numpy()]
    group = pd.factorize(shots["session"].where(shots["session"].notna(), shots["source"]))[0]
    minutes = (shots["time"] - shots["time"].min()).dt.total_seconds().to_numpy(float) / 60.0
    table = (values, rows["u_random"].to_numpy(float), rows["u_common"].to_numpy(float), group, minutes)
    shared = _shared(layers, vertical=vertical)
    parts = zip(*(np.split(each, begin[1:]) for each in table), strict=True)
    return [
        one_value(value, random, common, group=of, minutes=when, shared=shared)
        for value, random, common, of, when in parts
    ]


def _shared(layers: Layers, *, vertical: bool) -> float:
    """Share of the random variance of shots minutes apart: the most that repeats allow, all of it where unknown."""
    if "crew_precision" not in layers or not len(layers["crew_precision"]):
        return 1.0
    table = layers["crew_precision"]
    found = table.loc[(table["axis"] == ("v" if vertical else "h")) & (table["part"] == "rho"), "high"]
    most = float(found.iloc[0]) if len(found) else np.nan
    return float(np.clip(most, 0.0, 1.0)) if np.isfinite(most) else 1.0


def one_each(
    layers: Layers, rows: pd.DataFrame, *, reach: float, vertical: bool, at_points: bool = False
) -> pd.DataFrame:
    """Rows along lines with one row a place, and in `members` the shares of the shots that are in it.

    Parameters
    ----------
    layers : Layers
    rows : DataFrame
        Of `along_lines`, or of `at_points`, those that can be judged.
    reach : float
        Along a line; all shots of one design point are of one place.
    vertical, at_points : bool

    Returns
    -------
    DataFrame
        A place has the row of its first shot, with mean station, deviation and number, both parts of the mean's u, and
        `members`, a list of (shot, share); the rows of single shots have an empty one.
    """
    made = rows.reset_index(drop=True)
    found = places_of(
        layers, made, made[["deviation"]].to_numpy(float), reach=reach, at_points=at_points, vertical=vertical
    )
    members = np.empty(len(made), dtype=object)
    nothing: list[tuple[str, float]] = []  # one for all: nobody adds to it
    members[:] = [nothing] * len(made)
    if found is None:
        return made.assign(members=members)
    names, weights = found.lists(made["shot"].to_numpy(dtype=object)[found.row]), found.lists(found.weight)
    for row, shots, shares in zip(found.first.tolist(), names, weights, strict=True):
        members[row] = list(zip(shots, shares, strict=True))
    one = {"deviation": found.value[:, 0], "u_random": found.u_random, "u_common": found.u_common}
    if not at_points:
        one["station"] = found.mean(made["station"])
    if "of_session" in made:
        one["of_session"] = found.mean(made["of_session"].fillna(0.0))
    for name, numbers in one.items():
        column = made[name].to_numpy(float).copy()
        column[found.first] = numbers
        made[name] = column
    rest = np.setdiff1d(found.row, found.first)
    return made.assign(members=members).drop(index=rest.tolist()).reset_index(drop=True)


def spread_out(keys: pd.Series, members: pd.Series, run: np.ndarray, weight: np.ndarray) -> pd.DataFrame:
    """Shots behind rows of `one_each`, with their run and their share in it.

    Parameters
    ----------
    keys, members : (m,) Series
        Columns `shot` and `members`.
    run : (m,) int array
    weight : (m,) array
        Share of every row.

    Returns
    -------
    DataFrame
        Columns `run`, `shot`, `weight`; in the order of the rows.
    """
    rows = [
        (int(number), shot, share * float(part))
        for key, mine, number, part in zip(keys, members, run, weight, strict=True)
        for shot, share in (mine or [(key, 1.0)])
    ]
    return pd.DataFrame(rows, columns=["run", "shot", "weight"])


def reported_at(findings: pd.DataFrame, layers: Layers) -> pd.Series:
    """Finding of the place that reports each finding of a single shot; null for none."""
    if "place_members" not in layers or not len(layers["place_members"]) or not len(findings):
        return pd.Series([None] * len(findings), dtype="str", index=findings.index)
    members = layers["place_members"]
    wanted, known = (
        table[key] + "\x1f" + table["check"] + "\x1f" + table["against"]
        for table, key in ((findings, "shot"), (members, "shot_key"))
    )
    found = rows_of(wanted, known)
    names = members["finding"].take(np.maximum(found, 0)).reset_index(drop=True)
    return names.where(found >= 0, None).set_axis(findings.index)
