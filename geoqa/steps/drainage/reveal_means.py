"""Neighbouring reveals that agree as one finding, judged by their mean."""

import numpy as np
import pandas as pd

from geoqa.contract.drainage import REVEAL
from geoqa.kernels.design.run_means import chosen_u, usual_wander
from geoqa.kernels.design.run_means import lasting_share as estimated_share
from geoqa.kernels.drainage.errors_along import ErrorsAlong
from geoqa.kernels.walks.stretches import stretches
from geoqa.model import words
from geoqa.model.tables.layer import Layers
from geoqa.steps.drainage.beside_design import along_design
from geoqa.steps.judging.findings import verdicts_of
from geoqa.steps.linework.derived import derived_rows

SHORTEST = 3
"""Fewest reveals that are judged by their mean, and neighbours that may not exceed the limit inside one that does."""


def reveal_means(
    layers: Layers, rows: pd.DataFrame, shots: pd.DataFrame, *, between: float, longest: float, lasting: float
) -> tuple[pd.DataFrame, np.ndarray]:
    """Rows of the means of reveals that agree, and which of them speaks for each reveal.

    Parameters
    ----------
    layers : Layers
    rows : DataFrame
        Of the reveals, with their limits: `members` and `weights`, rows of `shots` and their shares.
    shots : DataFrame
        Of `observed`.
    between, longest : float
        Of `kernels.walks.stretches`.
    lasting : float
        Share of the own variance of shots that lasts, at the least.

    Returns
    -------
    means : DataFrame
        Rows as `findings_of` takes them, with `keys`.
    speaks : (n,) int64 array
        Place of the mean; -1 for none.
    """
    value = np.where(rows["why"] == 0, rows["measured"].to_numpy(float), np.nan)
    middle = value - np.nan_to_num(rows["design"].to_numpy(float))
    u, along = rows["u_random"].to_numpy(float), rows["along"].to_numpy(float)
    group = np.full(len(rows), -1)
    for _, mine in rows.groupby(["subject", "pair", "limit"], sort=True).groups.items():
        at = rows.index.get_indexer(mine)
        found = stretches(along[at], middle[at], u[at], between=between, longest=longest)
        group[at] = np.where(found >= 0, found + group.max() + 1, -1)
    count = np.bincount(group[group >= 0], minlength=1)
    big = np.flatnonzero(count >= SHORTEST)
    if not len(big):
        return rows.iloc[:0], np.full(len(rows), -1)
    share = _lasting(layers, rows, shots, middle)
    made = _means(layers, rows, shots, [np.flatnonzero(group == each) for each in big], (lasting, share))
    return _speaking(layers, _for_choice(made, rows, value, layers["limits"]), rows, value)


def _lasting(layers: Layers, rows: pd.DataFrame, shots: pd.DataFrame, middle: np.ndarray) -> float:
    """Share of the variance that neighbours show to last: shots along design lines, else the reveals themselves.

    There are twice as many shots as reveals, and a reveal has lost part of what lasts.
    """
    given = along_design(layers)
    if len(given.line) > len(rows):
        return estimated_share(*given[:-1], minutes=given.minutes)
    line, minutes = pd.factorize(rows["pair"])[0], shots["minutes"].to_numpy(float)[rows["flow"].to_numpy()]
    u, along = (rows[name].to_numpy(float) for name in ("u_random", "along"))
    return estimated_share(line, along, middle, u, line, minutes=minutes)


def _for_choice(made: pd.DataFrame, rows: pd.DataFrame, value: np.ndarray, limits: pd.DataFrame) -> pd.DataFrame:
    """The means with bounds that know which of them are told: of sound curbs only those that errors moved.

    A sound curb is taken to stand as designed, or in the middle of what is allowed; where only one side of a reveal
    without a design is bounded, nothing tells what a sound one is.
    """
    low, high = _limits_of(rows, limits)
    sound, least = _sound(rows, low, high)
    own = rows["u_random"].to_numpy(float)
    wander = usual_wander(value - sound, own, np.zeros(len(rows), dtype=int), least)
    first = np.array([at[0] for at in made["of"]])
    mean, random, common = (made[name].to_numpy(float) for name in ("measured", "u_random", "u_common"))
    aside = mean - np.array([np.mean(sound[at]) for at in made["of"]])
    whole = chosen_u(
        aside, np.hypot(random, common), [len(at) for at in made["of"]], limit=least[first],
        searched=np.full(len(made), np.isfinite(value).sum()), wander=least[first] * wander,
    )  # fmt: skip
    return made.assign(u_random=np.sqrt(np.maximum(whole**2 - common**2, random**2)))


def _limits_of(rows: pd.DataFrame, limits: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Least and most of every reveal: about its design where it has one, else as stated."""
    low, high = (
        np.where(rows[name].isna(), limits[name].to_numpy(float)[rows["limit"].to_numpy()], rows[name].to_numpy(float))
        for name in ("lower", "upper")
    )
    return low, high


def _sound(rows: pd.DataFrame, low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Reveal of a sound curb, and how far the nearer limit is from it; NaN where nothing tells."""
    design = rows["design"].to_numpy(float)
    both = np.isfinite(low) & np.isfinite(high)
    middle = np.where(both, (np.where(both, low, 0.0) + np.where(both, high, 0.0)) / 2, np.nan)
    sound = np.where(np.isfinite(design), design, middle)
    nearer = np.minimum(
        np.where(np.isfinite(low), sound - low, np.inf), np.where(np.isfinite(high), high - sound, np.inf)
    )
    return sound, np.where(np.isfinite(nearer) & (nearer > 0), nearer, np.nan)


def _means(
    layers: Layers, rows: pd.DataFrame, shots: pd.DataFrame, groups: list[np.ndarray], shares: tuple[float, float]
) -> pd.DataFrame:
    """A row a group, weighed by the reveals' own uncertainty."""
    members, weights = (np.array(rows[name].tolist()) for name in ("members", "weights"))
    parts, firsts = [], []
    for at in groups:
        at = at[np.argsort(rows["along"].to_numpy(float)[at], kind="stable")]
        own = rows["u_random"].to_numpy(float)[at] ** -2.0
        own /= own.sum()
        shots_of, which = np.unique(members[at], return_inverse=True)
        share = np.bincount(which.ravel(), (weights[at] * own[:, None]).ravel(), minlength=len(shots_of))
        parts.append((at, own, shots_of[shots_of >= 0], share[shots_of >= 0]))
        firsts.append(at[0])
    width = max(len(each[2]) for each in parts)
    table, gradient = np.full((len(parts), width), -1), np.zeros((len(parts), width))
    for nth, (_, _, of, felt) in enumerate(parts):
        table[nth, : len(of)], gradient[nth, : len(of)] = of, felt

    def mean(name: str) -> np.ndarray:
        return np.array([own @ rows[name].to_numpy(float)[at] for at, own, _, _ in parts])

    made = derived_rows(
        layers, table, {"elevation": gradient}, mean("measured"),
        show=lambda number: words.length(number, layers.frame.unit.name),
    )  # fmt: skip
    made["u_random"] *= np.array([_times(shots, of, share, shares) for _, _, of, share in parts])
    made["design"] = mean("design")
    about = rows.iloc[firsts].reset_index(drop=True)[["kind", "subject", "source", "limit"]]
    number = {name: mean(name) for name in ("lower", "upper", "easting", "northing")}
    station = [rows["station"].to_numpy(float)[at] for at, _, _, _ in parts]
    ends = {"station": [each.min() for each in station], "station_end": [each.max() for each in station]}
    labels = [_label(layers, rows, at) for at, _, _, _ in parts]
    made = pd.concat([about, made], axis=1).assign(**number, **ends, label=labels, elevation=np.nan)
    groups_of = pd.Series([at for at, _, _, _ in parts], dtype=object)
    return made.assign(shot=pd.Series([None] * len(made), dtype="str"), of=groups_of)


def _label(layers: Layers, rows: pd.DataFrame, at: np.ndarray) -> str:
    along = rows["along"].to_numpy(float)[at]
    long = words.quantity(float(np.ptp(along)), "length", layers.frame.unit.name, digits=0)
    names = [str(rows["label"].iloc[each]).removeprefix("shot ").partition(",")[0] for each in (at[0], at[-1])]
    return f"mean of {len(at)} sections over {long}, from shots {names[0]} to {names[1]}"


def _times(shots: pd.DataFrame, of: np.ndarray, share: np.ndarray, lasting: tuple[float, float]) -> float:
    """Factor of the random part of a mean for what its shots share for minutes; the larger one of both shares."""
    own, minutes = (shots[name].to_numpy(float)[of] for name in ("u_v_random", "minutes"))
    group = shots["group_v"].to_numpy()[of]
    every = np.arange(len(of))
    plain, *some = (
        ErrorsAlong.of_shots(own, np.zeros(len(of)), group, minutes=minutes, lasting=each).of_sum(every, share)
        for each in (0.0, *lasting)
    )
    return float(np.sqrt(max(some) / plain)) if plain > 0 else 1.0


def _speaking(
    layers: Layers, made: pd.DataFrame, rows: pd.DataFrame, value: np.ndarray
) -> tuple[pd.DataFrame, np.ndarray]:
    """Means that may stand, and which rows each speaks for.

    A reveal that is out keeps its own line beside a mean that is not. A mean within its limits stands only where no
    three neighbours of it lie beyond them in their mean; and none stands that says of all what each says by itself
    within its limits.
    """
    limits = layers["limits"]
    single = verdicts_of(rows, check=REVEAL, limits=limits).to_numpy(dtype=object)
    whole = verdicts_of(made, check=REVEAL, limits=limits).to_numpy(dtype=object)
    low, high = _limits_of(rows, limits)
    u = rows["u_random"].to_numpy(float)
    weight = np.divide(1.0, u**2, out=np.zeros(len(u)), where=u > 0)
    stands, speaks = np.ones(len(made), dtype=bool), np.full(len(rows), -1)
    for nth, at in enumerate(made["of"]):
        if whole[nth] == "OUT":
            continue
        window = np.ones(SHORTEST)

        def local(values: np.ndarray, at: np.ndarray = at, window: np.ndarray = window) -> np.ndarray:
            return np.convolve(weight[at] * values[at], window, "valid") / np.convolve(weight[at], window, "valid")

        sound = bool(((local(value) >= local(low)) & (local(value) <= local(high))).all())
        alike = bool((single[at] == "IN").all())
        stands[nth] = not alike and (sound if whole[nth] == "IN" else bool((single[at] == "UNDECIDED").any()))
    kept = np.cumsum(stands) - 1
    for nth in np.flatnonzero(stands).tolist():
        at = made["of"].iloc[nth]
        mine = at[(single[at] != "OUT") | (whole[nth] == "OUT")]
        speaks[mine] = kept[nth]
    return made[stands].drop(columns="of").reset_index(drop=True), speaks
