"""Means of neighbouring sections that agree, with the part of their errors that lasts."""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from geoqa.kernels.design.run_means import LASTING, lasting_share, means_of_runs
from geoqa.kernels.walks.numbers import Numbers, means
from geoqa.kernels.walks.stretches import stretches
from geoqa.model import words
from geoqa.model.check import Check
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.by_members import held_by_members
from geoqa.steps.judging.remedies import NOTHING_AGAIN
from geoqa.steps.walks.judged import Judgement, judged

SHORTEST = 3
"""Fewest sections that are judged by their mean, and neighbours that may not exceed the limit inside one that does."""
ENOUGH = 60
"""Differences of neighbours that tell which share of their errors lasts; with fewer, differences are taken as of
independent shots. Common practice, no source."""


def run_means(
    layers: Layers,
    table: pd.DataFrame,
    numbers: Numbers,
    single: Judgement,
    *,
    check: Check,
    why: np.ndarray,
    u: np.ndarray,
    between: float,
    longest: float,
    more: np.ndarray | float,
) -> tuple[Judgement, pd.Series]:
    """Judge the means of sections that agree.

    Parameters
    ----------
    layers : Layers
    table : DataFrame
        Of the sections: line, station, minutes, kind, pair, the places of both ends, and `named`.
    numbers : Numbers
        One a section.
    single : Judgement
        Of the sections.
    check : Check
    why, u : (m,) arrays
        What keeps a section from being judged, and its random part.
    between, longest : float
        Of `kernels.walks.stretches`.
    more : (m,) array or float
        1 sigma of a section that is not that of its shots.

    Returns
    -------
    means : Judgement
    members : Series of str
        Finding of the mean that speaks for each finding of `single`; null for none.
    """
    none = pd.Series(None, index=single.findings.index, dtype="str")
    value = np.where(why == 0, numbers.value, np.nan)
    group, first = np.full(len(value), -1), 0
    station = table["station"].to_numpy(float)
    for _, mine in table.groupby("line").groups.items():
        at = np.asarray(mine)
        found = stretches(station[at], value[at], u[at], between=between, longest=longest)
        group[at] = np.where(found >= 0, found + first, -1)
        first = int(group.max()) + 1
    group = _long_enough(group)
    if group.max(initial=-1) < 0:
        return Judgement.none(), none
    weight = np.where(np.isfinite(u) & (u > 0), 1 / np.maximum(u, 1e-12) ** 2, 0.0)
    whole = means(numbers, group, weight)
    about = _about(table, group, layers.frame.unit.name)
    share = lasting_share(table["line"].to_numpy(), station, value, u, table["line"].to_numpy(),
                          minutes=table["minutes"].to_numpy(float))  # fmt: skip
    times, spread = _inflation(group, value, u, table["minutes"].to_numpy(float), share, weight, more)
    made = judged(layers, whole, about, check=check, times=times, u_more=spread, again=NOTHING_AGAIN)
    made = _beside(made, single, group, check)
    kept, members = _speaking(made, single, group, value, weight, station)
    return kept, members


def _beside(made: Judgement, single: Judgement, group: np.ndarray, check: Check) -> Judgement:
    """Means that take nothing back of what is proven of single sections."""
    row_of = {(int(n), str(against)): row for row, (n, against) in enumerate(
        zip(made.number, made.findings["against"], strict=True))}  # fmt: skip
    mine = [row_of.get((int(group[n]), str(against)), -1) for n, against in zip(
        single.number, single.findings["against"], strict=True)]  # fmt: skip
    findings = held_by_members(made.findings, single.findings, np.array(mine, dtype=np.int64), check)
    return replace(made, findings=findings)


def _long_enough(group: np.ndarray) -> np.ndarray:
    """Numbers of the stretches that have enough members, from 0."""
    count = np.bincount(group[group >= 0], minlength=int(group.max(initial=-1)) + 1)
    number = np.cumsum(count >= SHORTEST) - 1
    return np.where((group >= 0) & (count[group] >= SHORTEST), number[group], -1) if len(count) else group


def _inflation(
    group: np.ndarray,
    value: np.ndarray,
    u: np.ndarray,
    minutes: np.ndarray,
    share: float,
    weight: np.ndarray,
    more: np.ndarray | float,
) -> tuple[np.ndarray, np.ndarray]:
    """How many times larger the random part of each mean is for what lasts, and what does not come of shots."""
    order = np.flatnonzero(group >= 0)
    order = order[np.argsort(group[order], kind="stable")]
    none = np.zeros(len(order))
    given = (group[order], value[order], u[order], none, np.zeros(len(order), dtype=int))
    with_it = means_of_runs(*given, minutes=minutes[order], lasting=share).u_random
    without = means_of_runs(*given, minutes=minutes[order], lasting=0.0).u_random
    own = np.broadcast_to(more, len(group))[order] * weight[order]
    count = int(group.max()) + 1
    total = np.bincount(group[order], weight[order], minlength=count)
    return with_it / without, np.sqrt(np.bincount(group[order], own**2, minlength=count)) / total


def _about(table: pd.DataFrame, group: np.ndarray, unit: str) -> pd.DataFrame:
    """Kind, place and label of every stretch."""
    station = table["station"].to_numpy(float)
    kind, pair, label, named = (table[name].to_numpy(dtype=object) for name in ("kind", "pair", "label", "named"))
    places = {
        axis: table[[f"first_{axis}", f"second_{axis}"]].to_numpy(float, copy=True) for axis in ("easting", "northing")
    }
    order = np.flatnonzero(group >= 0)
    order = order[np.lexsort((station[order], group[order]))]
    rows: list[dict[str, Any]] = []
    for at in np.split(order, np.flatnonzero(np.diff(group[order])) + 1):
        long = words.quantity(float(station[at[-1]] - station[at[0]]), "length", unit, digits=0)
        ends = [str(label[one]).removeprefix("section at shots ") for one in (at[0], at[-1])]
        rows.append(
            {
                "kind": kind[at[0]],
                "subject": pair[at[0]],
                "label": f"mean of {len(at)} sections over {long}, from shots {ends[0]} to {ends[1]}",
                **{axis: float(both[at].mean()) for axis, both in places.items()},
                "named": sorted({row for rows in named[at] for row in rows}),
                "own": 0,
            }
        )
    return pd.DataFrame(rows)


def _speaking(
    made: Judgement, single: Judgement, group: np.ndarray, value: np.ndarray, weight: np.ndarray, station: np.ndarray
) -> tuple[Judgement, pd.Series]:
    """Means that may stand, and which findings of sections each speaks for.

    A section that is proven out keeps its own line beside a mean that is not; a mean within its limit stands only where
    no three neighbours of it lie beyond the limit in their mean: a short defect is not hidden in a long mean; and where
    all its members are within by themselves, it tells nothing.
    """
    findings = made.findings
    stands = np.ones(len(findings), dtype=bool)
    mine, theirs = (
        {name: table[name].to_numpy(dtype=object) for name in ("verdict", "against")}
        for table in (findings, single.findings)
    )
    lower, upper = findings["lower"].to_numpy(float), findings["upper"].to_numpy(float)
    for row in np.flatnonzero(mine["verdict"] == "IN").tolist():
        at = np.flatnonzero(group == made.number[row])
        at = at[np.argsort(station[at], kind="stable")]
        alike = theirs["verdict"][(theirs["against"] == mine["against"][row]) & np.isin(single.number, at)]
        window = np.ones(SHORTEST)
        w = np.convolve(weight[at], window, "valid")
        local = np.convolve(weight[at] * value[at], window, "valid") / w
        stands[row] = bool(((local >= lower[row]) & (local <= upper[row])).all()) and not bool((alike == "IN").all())
    kept = findings[stands].reset_index(drop=True)
    names = set(kept["finding"])
    evidence = made.evidence[made.evidence["finding"].isin(names)].reset_index(drop=True)
    number = made.number[stands]
    run_of = {(int(n), str(against)): (name, verdict) for n, against, name, verdict in zip(
        number, kept["against"], kept["finding"], kept["verdict"], strict=True)}  # fmt: skip
    told: list[str | None] = []
    for n, against, verdict in zip(single.number, single.findings["against"], single.findings["verdict"], strict=True):
        name, whole = run_of.get((int(group[n]), str(against)), (None, ""))
        told.append(None if verdict == "NO_DATA" or (verdict == "OUT" and whole != "OUT") else name)
    return (
        Judgement(findings=kept, evidence=evidence, number=number),
        pd.Series(told, index=single.findings.index, dtype="str"),
    )


def for_lasting(share: float, between: np.ndarray) -> np.ndarray:
    """Factor of the uncertainty of a difference of two shots, for what they share of their errors.

    Parameters
    ----------
    share : float
        Of the random variance, that lasts (`share_by_legs`).
    between : (n,) array
        Minutes between the two; infinite or NaN where nothing is known to be shared.

    Examples
    --------
    >>> for_lasting(1.0, np.array([1.0, 60.0, np.nan])).round(3).tolist()
    [0.221, 0.975, 1.0]
    """
    apart = np.where(np.isnan(between), np.inf, between)
    return np.asarray(np.sqrt(np.maximum(1 - share * np.exp(-apart / LASTING), 0.0)))


def share_by_legs(
    line: np.ndarray, station: np.ndarray, value: np.ndarray, u: np.ndarray, between: np.ndarray
) -> float:
    """Share of the random variance of shots that lasts from shot to shot, as the legs along edges tell it.

    Parameters
    ----------
    line, station, value, u : (n,) arrays
        Slopes of legs along edges and their uncertainty, as of independent shots.
    between : (n,) array
        Minutes between the two shots of each leg; infinite or NaN where they share nothing that is known.

    Returns
    -------
    float
        From 0 to 1; 0 where too few neighbouring legs tell it. Uneven work makes it come out too small.

    Notes
    -----
    Two legs that follow each other share a shot: their slopes differ by z1 - 2 z2 + z3 over the length of a leg. With
    errors that last by exp(-t / `LASTING`) to the share s, and the rest independent, that has the variance
    ((1 - s) 6 + s (6 - 8 r + 2 r²)) u² over the squared length, and a leg has (2 - 2 s r) u².
    """
    order = np.lexsort((station, line))
    next_to = (line[order][1:] == line[order][:-1]) & np.isfinite(value[order][1:] + value[order][:-1])
    gaps = np.where(np.isnan(between), np.inf, between)[order]
    near = next_to & (gaps[1:] < LASTING) & (gaps[:-1] < LASTING)
    if int(near.sum()) < ENOUGH:
        return 0.0
    # of independent shots: (2 + 2 + 2) u² over both legs, that is 1.5 times the sum of both variances
    squares = np.diff(value[order])[near] ** 2 / (1.5 * (u[order][1:] ** 2 + u[order][:-1] ** 2))[near]
    # a few differences may be small by chance: what they show is taken larger by two of its standard errors
    seen = min(float(np.quantile(squares, 0.75)) / _QUARTILE * (1 + 2 * _SPREAD / np.sqrt(len(squares))), 1.0)
    r = float(np.exp(-(gaps[1:][near] + gaps[:-1][near]) / 2 / LASTING).mean())
    return float(np.clip((1 - seen) * 6 / (8 * r - 2 * r**2), 0.0, 1.0))


_SPREAD = 1.75
"""Standard error of a variance told by that quartile of n differences that each share shots, times the root of n."""
_QUARTILE = 1.3233036969314664
"""Upper quartile of chi-square with one degree of freedom: a quarter of the differences may be steps of the work."""
