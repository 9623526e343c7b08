"""Causes that no check shot felt: an initialization that moved a block of shots, and a rod that leaned uncorrected.

They are looked for in the deviations from design, and in repeats, of many shots at once. One shot off is construction
or a bad shot; nearly all shots of one initialization off by the same three numbers, and none of
their neighbours, is not how concrete is poured.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.contract.causes import PRIOR
from geoqa.kernels.causes.block_shifts import shared_shifts
from geoqa.kernels.precision.one_place import places_along
from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.suspects import sessions_of
from geoqa.steps.judging.drawn_at import lines_without_tops
from geoqa.steps.judging.text_columns import rows_of

BUILT = (0.05, 0.04)
"""1 sigma of sound construction about its design, across and in elevation, feet. Common practice, no source."""
SHORTEST = 5
"""Fewest shots of a block."""
SHARE = 0.8
"""Share of a block's shots that must go along with its shift."""
SMALLEST = 0.12
"""Feet: a smaller shift of a block is not told from construction."""
SURE = 12.0
"""Gain in natural logarithms that a block needs: the price of three open sizes and of looking at many blocks."""
AGAIN = 1.0
"""Feet along a design line within which work is alike: a shot of another initialization there shows what it shows.
Common practice, no source."""
LEAN = 5.0
"""Degrees of tilt from which a missing compensation shows."""
ROD = 2.0
"""Metres: rod taken where the log gives none."""
WITHIN = 2.5
"""Standard uncertainties that a lean may leave in a component of one shot: 1 of 80 sound components is farther off."""
MATCHED = ("line_matches", "point_matches")
MANY = 3
"""Shots of a session explained to the last component, from which a lean is the session's and not one shot's."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Seen:
    """What deviations from design see of a shift: one row each.

    Attributes
    ----------
    row : (k,) int array
        Place of the shot.
    direction : (k, 3) float64
    residual, u : (k,) float64
    """

    row: np.ndarray
    direction: np.ndarray
    residual: np.ndarray
    u: np.ndarray


@dataclass(frozen=True, kw_only=True, eq=False)
class Block:
    """A cause found in a block of shots.

    Attributes
    ----------
    cause, variant, subject : str
    acts : (n,) bool array
    shift : (n, 3) float64
        Of every shot it acts on.
    size, u_size : (3,) float64
        The shift, or for leaning shots its mean.
    log_odds : float
        Against no such cause, prior weight included.
    """

    cause: str
    variant: str
    subject: str
    acts: np.ndarray
    shift: np.ndarray
    size: np.ndarray
    u_size: np.ndarray
    log_odds: float

    @property
    def probability(self) -> float:
        """From the odds."""
        return float(1 / (1 + np.exp(-np.clip(self.log_odds, -700, 700))))


def looking(shots: pd.DataFrame, layers: Layers, unit: float) -> Callable[[np.ndarray], Seen]:
    """What shows a shift beyond a known one: deviations of matched shots from design, and repeats.

    Parameters
    ----------
    shots : DataFrame, n rows
    layers : Layers
    unit : float
        Feet in job units.

    Returns
    -------
    callable
        Gives what is seen beyond the shift of every shot that is already explained, (n, 3).

    Notes
    -----
    A named point shot in three initializations or more: each shot is compared with the middle of those of the others.
    Of two that disagree it cannot be told which is off.

    Where a shot of another initialization shows the same deviation of the same place, the work is so, and only what
    the two differ by is left to speak of an initialization.
    """
    lines, points = _from_lines(shots, layers), _from_points(shots, layers)
    alike = [_alike(shots, layers, name, row, unit) for name, (row, _, _) in zip(MATCHED, (lines, points), strict=True)]
    again, others = _repeats(shots, layers)
    places = shots[["easting", "northing", "elevation"]].to_numpy(float)
    row = np.concatenate([lines[0], points[0], np.tile(again, 3)])
    direction = np.concatenate([lines[1], points[1], np.repeat(np.eye(3), len(again), axis=0)])
    upward = direction[:, 2] > 0.5
    own = np.where(upward, shots["u_v_random"].to_numpy(float)[row], shots["u_h_random"].to_numpy(float)[row])
    u = np.hypot(np.nan_to_num(own), np.where(upward, BUILT[1], BUILT[0]) * unit)

    def seen(shift: np.ndarray) -> Seen:
        design = [
            _unconfirmed(residual - np.einsum("ij,ij->i", way, shift[at]), again)
            for (at, way, residual), again in zip((lines, points), alike, strict=True)
        ]
        residual = np.concatenate([*design, _from_repeats(places - shift, again, others)])
        there = np.isfinite(residual)
        return Seen(row=row[there], direction=direction[there], residual=residual[there], u=u[there])

    return seen


def _repeats(shots: pd.DataFrame, layers: Layers) -> tuple[np.ndarray, list[np.ndarray]]:
    """Shots of named points, and of each the same point's shots in other initializations."""
    rows: list[int] = []
    others: list[np.ndarray] = []
    if "codes" in layers:
        codes = layers["codes"]
        points = set(codes.loc[(codes["geometry"] == "point") & (codes["role"] != "check"), "code"])
        named = shots[shots["code"].isin(points) & shots["line_id"].notna() & shots["initialization"].notna()]
        for _, group in named.groupby(["code", "line_id"], sort=True):
            if group["initialization"].nunique() < 3:
                continue
            at, block = group.index.to_numpy(), group["initialization"].to_numpy(dtype=object)
            for row, mine in zip(at.tolist(), block, strict=True):
                rows.append(row)
                others.append(at[block != mine])
    return np.array(rows, dtype=int), others


def _from_repeats(places: np.ndarray, rows: np.ndarray, others: list[np.ndarray]) -> np.ndarray:
    """Easting, northing, elevation of all these rows against the middle of the others."""
    moved = [places[row] - np.median(places[at], axis=0) for row, at in zip(rows.tolist(), others, strict=True)]
    return np.array(moved).reshape(-1, 3).T.ravel()


def _alike(
    shots: pd.DataFrame, layers: Layers, name: str, row: np.ndarray, unit: float
) -> list[tuple[int, np.ndarray]]:
    """Numbers that another initialization or session tells of the same place and axis, with those of the others."""
    if not row.size:
        return []
    matches = _matched(layers, name)
    axes = len(row) // len(matches)
    place = np.tile(
        places_along(
            pd.factorize(matches["design"])[0], matches["station"].fillna(0.0).to_numpy(float), reach=AGAIN * unit
        ),
        axes,
    )
    table = pd.DataFrame({"place": place, "axis": np.repeat(np.arange(axes), len(matches))})
    setup = shots["initialization"].where(shots["initialization"].notna(), "session " + sessions_of(shots))
    table["block"] = setup.to_numpy(dtype=object)[row]
    several = table[table.groupby(["place", "axis"])["block"].transform("nunique") > 1]
    found: list[tuple[int, np.ndarray]] = []
    for _, group in several.groupby(["place", "axis"], sort=True):
        at, block = group.index.to_numpy(), group["block"].to_numpy(dtype=object)
        found += [(number, at[block != mine]) for number, mine in zip(at.tolist(), block, strict=True)]
    return found


def _unconfirmed(residual: np.ndarray, again: list[tuple[int, np.ndarray]]) -> np.ndarray:
    """Deviations, less what other initializations show of the same places where that leaves less of them."""
    left = residual.copy()
    for number, others in again:
        there = residual[others][np.isfinite(residual[others])]
        if len(there):
            beyond = residual[number] - np.median(there)
            if abs(beyond) < abs(residual[number]):
                left[number] = beyond
    return left


def _matched(layers: Layers, name: str) -> pd.DataFrame:
    """Chosen matches; of lines those that do not lie past an end."""
    matches = layers[name]
    matches = matches[matches["chosen"]]
    return matches[matches["along"].abs() < 1e-6] if name == "line_matches" else matches


def _from_lines(shots: pd.DataFrame, layers: Layers) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    if "line_matches" not in layers:
        return np.zeros(0, int), np.zeros((0, 3)), np.zeros(0)
    matches = _matched(layers, "line_matches")
    row = rows_of(matches["shot_key"], shots["shot_key"])
    right = np.radians(matches["azimuth"].to_numpy(float) + 90.0)
    across = np.column_stack([np.sin(right), np.cos(right), np.zeros(len(row))])
    rise = shots["elevation"].to_numpy(float)[row] - matches["design_elevation"].to_numpy(float)
    # a shot on top of a pipe lies above a line that draws the invert, and no blunder is in that
    rise[matches["design"].isin(lines_without_tops(layers)).to_numpy(bool)] = np.nan
    return (
        np.concatenate([row, row]),
        np.concatenate([across, np.tile([0.0, 0.0, 1.0], (len(row), 1))]),
        np.concatenate([matches["offset"].to_numpy(float), rise]),
    )


def _from_points(shots: pd.DataFrame, layers: Layers) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    if "point_matches" not in layers:
        return np.zeros(0, int), np.zeros((0, 3)), np.zeros(0)
    matches = _matched(layers, "point_matches")
    row = rows_of(matches["shot_key"], shots["shot_key"])
    toward = np.radians(matches["azimuth"].fillna(0.0).to_numpy(float))
    distance = matches["distance"].to_numpy(float)
    rise = shots["elevation"].to_numpy(float)[row] - matches["design_elevation"].to_numpy(float)
    return (
        np.concatenate([row, row, row]),
        np.repeat(np.eye(3), len(row), axis=0),
        np.concatenate([distance * np.sin(toward), distance * np.cos(toward), rise]),
    )


def moved_blocks(
    shots: pd.DataFrame, look: Callable[[np.ndarray], Seen], *, taken: set[str], unit: float
) -> list[Block]:
    """Initializations whose shots share a shift that the others do not have; the plainest first.

    `look` gives what is seen beyond a shift of every shot, (n, 3). Where most initializations of a session are
    shifted, the session or the design is, and none of it is named.
    """
    names = shots["initialization"]
    known = sorted(names.dropna().unique())
    first = ~names.duplicated()
    of = dict(zip(names[first], sessions_of(shots)[first], strict=True))
    block = rows_of(names, known)
    found: list[Block] = []
    while len(found) < len(known):
        shift = np.sum([each.shift for each in found], axis=0) if found else np.zeros((len(shots), 3))
        skip = taken | {each.subject for each in found}
        plain = _plain(look(shift), block, known, skip, unit)
        if plain is None:
            break
        found.append(plain)
    told = [of[each.subject] for each in found]
    blocks = [of[name] for name in known]
    return [each for each in found if told.count(of[each.subject]) * 2 <= max(blocks.count(of[each.subject]), 2)]


def _plain(sight: Seen, block: np.ndarray, names: list[str], skip: set[str], unit: float) -> Block | None:
    """The initialization most plainly shifted as a whole, if any is."""
    fit = shared_shifts(
        sight.direction, sight.residual, sight.u, sight.row, block[sight.row], count=len(names), spread=1.0 * unit
    )
    plain = (fit.shots >= SHORTEST) & (fit.share >= SHARE) & (fit.gain >= SURE)
    plain &= (np.abs(fit.shift) > np.maximum(SMALLEST * unit, 5 * fit.u)).any(axis=1)
    plain &= ~np.isin(names, sorted(skip))
    if not plain.any():
        return None
    number = int(np.argmax(np.where(plain, fit.gain, -np.inf)))
    one, name, acts = fit.of(number), str(names[number]), block == number
    return Block(
        cause="initialization", variant=f"bad initialization {name}", subject=name, acts=acts,
        shift=np.where(acts[:, None], one.shift, 0.0), size=one.shift, u_size=one.u,
        log_odds=float(one.gain) - SURE / 2 + float(np.log(PRIOR["initialization"] / len(names))),
    )  # fmt: skip


def leaning(shots: pd.DataFrame, sight: Seen, *, unit: float) -> tuple[list[Block], np.ndarray]:
    """Shots whose deviation is that of a leaning rod without compensation: along the lean, and down.

    Horizontally L sin t toward the lean, vertically -L (1 - cos t): plane geometry.

    Returns
    -------
    blocks : list of Block
        One, or none.
    doubts : (n, 3) array
        Shift of shots that a lean would explain in part only; NaN for all others.

    Notes
    -----
    The lean of one shot predicts all that is seen of it, and nothing of it is open. Where it leaves one component
    farther off than its u allows, something else moved the shot, and the lean is no reason to withhold it. Only in a
    session where several others are explained to the last component is such a shot taken along.
    """
    shift, off = _uncompensated(shots, unit)
    none = np.full(shift.shape, np.nan)
    with np.errstate(invalid="ignore"):
        there = (shots["tilt"].to_numpy(float) >= LEAN) & np.isfinite(shift).all(axis=1)
    mine = there[sight.row]
    if not mine.any():
        return [], none
    row, u = sight.row[mine], np.hypot(sight.u[mine], 0.05 * off[sight.row[mine]])
    predicted = np.einsum("ij,ij->i", sight.direction[mine], shift[row])
    residual = sight.residual[mine]
    left = np.abs(residual - predicted) / u
    bounded = np.minimum((residual / u) ** 2, 25.0) - np.minimum(left**2, 25.0)
    odds = np.bincount(row, bounded / 2, minlength=len(shots))
    likely = odds > np.log(20.0)
    whole = likely.copy()
    whole[row[left > WITHIN]] = False
    acts = likely & (whole | _among_many(shots, whole))
    acts |= _along_with(shots, there, acts)
    doubts = np.where((likely & ~acts)[:, None], shift, np.nan)
    if not acts.any():
        return [], doubts
    tilt = shots["tilt"].to_numpy(float)
    total = float(odds[acts].sum() + np.log(PRIOR["tilt-off"]))
    moved = np.where(acts[:, None], np.nan_to_num(shift), 0.0)
    name = f"{int(acts.sum())} shot{'s' if acts.sum() > 1 else ''} at {np.nanmedian(tilt[acts]):.0f}°"
    found = Block(
        cause="tilt-off", variant="tilt compensation off or unsettled", subject=name, acts=acts, shift=moved,
        size=np.array([*_along(moved[acts]), moved[acts, 2].mean()]), u_size=np.full(3, 0.05) * off[acts].mean(),
        log_odds=total,
    )  # fmt: skip
    return [found], doubts


def _uncompensated(shots: pd.DataFrame, unit: float) -> tuple[np.ndarray, np.ndarray]:
    """Shift of every shot whose lean is not taken out, and its length in plan."""
    tilt, toward = (shots[name].to_numpy(float) for name in ("tilt", "tilt_azimuth"))
    length = shots["rod_height"].fillna(ROD / 0.3048 * unit).to_numpy(float)
    lean, azimuth = np.radians(tilt), np.radians(toward)
    off = length * np.sin(lean)
    return np.column_stack([off * np.sin(azimuth), off * np.cos(azimuth), -length * (1 - np.cos(lean))]), off


def _among_many(shots: pd.DataFrame, whole: np.ndarray) -> np.ndarray:
    """Shots of sessions in which several shots are explained to the last component."""
    session = pd.Series(sessions_of(shots))
    return (pd.Series(whole).groupby(session).transform("sum") >= MANY).to_numpy(bool)


def _along_with(shots: pd.DataFrame, leaning_shots: np.ndarray, acts: np.ndarray) -> np.ndarray:
    """All leaning shots of a session of which most show that nothing compensated them."""
    if "session" not in shots:
        return np.zeros(len(shots), bool)
    session = pd.factorize(sessions_of(shots))[0]
    lean, off = (np.bincount(session[each], minlength=session.max() + 1) for each in (leaning_shots, acts))
    feature = (shots["role"] != "check").to_numpy(bool) if "role" in shots else np.ones(len(shots), bool)
    return leaning_shots & feature & ((off >= SHORTEST) & (2 * off > lean))[session]


def _along(shift: np.ndarray) -> Iterator[float]:
    yield from shift[:, :2].mean(axis=0).tolist()
