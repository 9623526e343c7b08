"""Rows of deviations that are of one place, made one row each: several shots of a place are one value."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from geoqa.kernels.precision.one_place import OneValue, one_value, places_along
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of


def places_of(rows: pd.DataFrame, *, reach: float, at_points: bool) -> Iterator[np.ndarray]:
    """Places of rows that were shot more than once, in the order of their first row.

    Parameters
    ----------
    rows : DataFrame
        Of `along_lines` or `at_points`, those that can be judged.
    reach : float
        Along a line; all shots of one design point are of one place.
    at_points : bool

    Yields
    ------
    (m,) int64 array
        Places of the rows, two at least.
    """
    if len(rows) < 2:
        return
    subject = rows.groupby(["kind", "subject"], sort=False, dropna=False).ngroup().to_numpy()
    place = subject if at_points else places_along(subject, rows["station"], reach=reach)
    count = np.bincount(place)
    if count.max() < 2:
        return
    order = np.argsort(place, kind="stable")
    groups = np.split(order, np.cumsum(count)[:-1])
    several = [group for group in groups if len(group) > 1]
    yield from sorted(several, key=lambda group: int(group[0]))


def value_of(layers: Layers, rows: pd.DataFrame, values: np.ndarray, *, vertical: bool) -> OneValue:
    """One value of some rows of one place, weighed by session, time, and what repeats say that close shots share."""
    shots = layers["shots"].iloc[rows["row"].to_numpy()]
    group = shots["session"].where(shots["session"].notna(), shots["source"])
    since = (shots["time"] - shots["time"].min()).dt.total_seconds().to_numpy(float) / 60.0
    return one_value(
        values, rows["u_random"], rows["u_common"], group=pd.factorize(group)[0], minutes=since,
        shared=_shared(layers, vertical=vertical),
    )  # fmt: skip


def _shared(layers: Layers, *, vertical: bool) -> float:
    """Share of the random variance of shots minutes apart: the most that repeats allow, all of it where unknown."""
    if "crew_precision" not in layers or not len(layers["crew_precision"]):
        return 1.0
    table = layers["crew_precision"]
    found = table.loc[(table["axis"] == ("v" if vertical else "h")) & (table["part"] == "rho"), "high"]
    most = float(found.iloc[0]) if len(found) else np.nan
    return float(np.clip(most, 0.0, 1.0)) if np.isfinite(most) else 1.0


def one_each(layers: Layers, rows: pd.DataFrame, *, reach: float, vertical: bool) -> pd.DataFrame:
    """Rows along lines with one row a place, and in `members` the shares of the shots that are in it.

    Parameters
    ----------
    layers : Layers
    rows : DataFrame
        Of `along_lines`, those that can be judged.
    reach : float
    vertical : bool

    Returns
    -------
    DataFrame
        A place has the row of its first shot, with mean station, deviation and number, both parts of the mean's u, and
        `members`, a list of (shot, share); the rows of single shots have an empty one.
    """
    made = rows.reset_index(drop=True)
    members: list[list[tuple[str, float]]] = [[] for _ in range(len(made))]
    drop: list[int] = []
    values: dict[str, list[Any]] = {name: [] for name in ("at", "deviation", "station", "u_random", "u_common")}
    for place in places_of(made, reach=reach, at_points=False):
        mine = made.iloc[place]
        value = value_of(layers, mine, mine[["deviation"]].to_numpy(float), vertical=vertical)
        first, *rest = place.tolist()
        drop += rest
        members[first] = list(zip(mine["shot"].tolist(), value.weight.tolist(), strict=True))
        numbers = (first, float(value.value[0]), float(value.weight @ mine["station"].to_numpy(float)),
                   value.u_random, value.u_common)  # fmt: skip
        for name, number in zip(values, numbers, strict=True):
            values[name].append(number)
    made = made.assign(members=pd.Series(members, dtype=object))
    if not drop:
        return made
    for name in list(values)[1:]:
        column = made[name].to_numpy(float).copy()
        column[values["at"]] = values[name]
        made[name] = column
    return made.drop(index=drop).reset_index(drop=True)


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
