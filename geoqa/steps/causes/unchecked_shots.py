"""Shots that no check covers: whole sessions, and stretches between two checks, that share one shift.

A rod that was lengthened after one check and put right before the next leaves control untouched. Its shots step
together at one moment, over whatever lines were shot then; a crew that pours concrete does not. So such a stretch is
one question to the survey, with the check that would settle it, and no row of defects.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from geoqa.contract.causes import PRIOR
from geoqa.kernels.causes.block_shifts import SharedShift, shared_shifts, well_seen
from geoqa.kernels.design.levels_in_time import levels_in_time, step_together
from geoqa.kernels.precision.one_place import places_along
from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.suspect_blocks import SHARE, SMALLEST, SURE, Block, Seen
from geoqa.steps.causes.suspects import sessions_of
from geoqa.steps.judging.text_columns import rows_of

FEWEST, LINES, OF_A_LINE = 8, 2, 3
"""Fewest shots of a stretch, fewest lines it must run over, and fewest shots of each of these."""
BESIDE = 6
"""Shots before and after a moment that are held against each other."""
MOMENTS = 16
"""Most moments of a session that a step is looked for at."""
STEP = 0.05
"""Feet: smallest step between two levels of a session that is no longer one shift."""
NOISE = 3.0
"""Standard uncertainties of a level, within which it is the same."""
ASIDE = 0.5
"""Feet in plan beyond which elevations no longer tell levels of the session."""
WIDE = 5.0
"""Feet: 1 sigma of a shift of which control says nothing."""
PLACE = 0.30
"""Feet along a line within which shots are of one place."""
ENTRY = 0.002
"""Feet by which two rod entries differ."""


def unchecked(shots: pd.DataFrame, layers: Layers, sight: Seen, checked: np.ndarray, *, unit: float) -> list[Block]:
    """Stretches without a check that share one shift: by the rod's entry, whole sessions, parts of sessions.

    Parameters
    ----------
    shots : DataFrame
        In the order of time.
    layers : Layers
    sight : Seen
        What deviations from design see, beyond what is explained.
    checked : (m,) int array
        Places of the check shots with a known mark.
    unit : float
        Feet in job units.
    """
    session, names = pd.factorize(sessions_of(shots))
    line, place = _lines(shots, layers, unit)
    free = np.ones(len(shots), bool)
    free[checked] = False
    found: list[Block] = []
    for acts, cause, words, subject in _candidates(shots, session, names, checked, sight, unit):
        mine = acts & free
        if subject in _whole(names) and _steps(sight, mine, line, unit):
            continue  # one shift is not what it is off by: its parts are asked about one by one
        fit = _shared(sight, mine, line, place, unit)
        if fit is None:
            continue
        if cause == "rod" and abs(fit.shift[2]) <= SMALLEST * unit:
            continue
        shift = np.array([0.0, 0.0, fit.shift[2]]) if cause == "rod" else fit.shift
        u = np.array([0.0, 0.0, fit.u[2]]) if cause == "rod" else fit.u
        found.append(
            Block(
                cause=cause, variant=words, subject=subject, acts=mine, size=shift, u_size=u,
                shift=np.where(mine[:, None], shift, 0.0), log_odds=float(fit.gain) - SURE / 2 + np.log(PRIOR[cause]),
            )
        )  # fmt: skip
        free &= ~mine
    return found


def without_contained(blocks: list[Block], stretches: list[Block]) -> list[Block]:
    """Blocks of one initialization and stretches, where they overlap whichever tells of more.

    A stretch that is the shots of an initialization and few more is that initialization.
    """
    kept = list(blocks)
    for stretch in stretches:
        inside = [each for each in kept if each.cause == "initialization" and (each.acts & stretch.acts).any()]
        more = stretch.acts & ~np.any([each.acts for each in inside], axis=0) if inside else stretch.acts
        if inside and more.sum() < FEWEST:
            continue
        kept = [each for each in kept if not any(each is one for one in inside)] + [stretch]
    return kept


def of_whole_sessions(blocks: list[Block], shots: pd.DataFrame, checked: np.ndarray) -> list[Block]:
    """The same blocks; an initialization that is a whole session without a check is that session.

    Where no shot of a session is checked, nothing tells its initialization from rod, antenna, base or datum.
    """
    session, names = pd.factorize(sessions_of(shots))
    alone = np.setdiff1d(np.arange(len(names)), session[checked])
    kept = []
    for block in blocks:
        mine = [number for number in alone.tolist() if block.acts[session == number].all()]
        if block.cause == "initialization" and len(mine) == 1 and not block.acts[session != mine[0]].any():
            name = f"session {names[mine[0]]}"
            block = replace(block, cause="unchecked", variant=f"{name}, of which no shot is checked,", subject=name)
        kept.append(block)
    return kept


def without_session_shift(
    blocks: list[Block], sight: Seen, shots: pd.DataFrame, checked: np.ndarray, *, unit: float
) -> list[Block]:
    """The same blocks, less initializations that are off by no more than the rest of their session, which is unchecked.

    What such a session shares is one question of its own; an initialization of it is bad only beyond that.
    """
    session, _ = pd.factorize(sessions_of(shots))
    known = set(session[checked].tolist())
    upward = sight.direction[:, 2] > 0.5
    kept = []
    for block in blocks:
        own = session[int(np.argmax(block.acts))]
        rest = (session == own) & ~block.acts
        rise = sight.residual[upward & rest[sight.row]]
        if block.cause == "initialization" and own not in known and len(rise) >= FEWEST:
            beyond = block.size - np.array([0.0, 0.0, float(np.median(rise))])
            least = np.maximum(SMALLEST * unit, 5 * block.u_size)
            if not (np.abs(beyond) > least).any():
                continue
        kept.append(block)
    return kept


def without_denied(blocks: list[Block], checked: np.ndarray, residual: np.ndarray) -> list[Block]:
    """The same blocks, less initializations whose own check shots lie nearer to their marks than to the shift.

    Parameters
    ----------
    blocks : list of Block
    checked : (m,) int array
        Places of the check shots with a known mark.
    residual : (m, 3) array
        Measured minus published, beyond what is named.
    """
    kept = []
    for block in blocks:
        mine = residual[block.acts[checked] & np.isfinite(residual).all(axis=1)]
        told = np.where(np.abs(block.size) > 5 * block.u_size, block.size, 0.0)
        along = float(np.median(mine @ told)) if len(mine) else np.inf
        if block.cause != "initialization" or along > told @ told / 2:
            kept.append(block)
    return kept


def _whole(names: pd.Index) -> set[str]:
    """Subjects that are all shots, or all of a session."""
    return {"all shots", *(f"session {name}" for name in names)}


def _steps(sight: Seen, acts: np.ndarray, line: np.ndarray, unit: float) -> bool:
    """Whether elevations go from one level to another within the shots, on more than one line that is built off."""
    upward = (sight.direction[:, 2] > 0.5) & acts[sight.row] & np.isfinite(sight.residual)
    aside = np.abs(sight.residual[(sight.direction[:, 2] <= 0.5) & acts[sight.row] & np.isfinite(sight.residual)])
    if len(aside) and np.median(aside) > ASIDE * unit:
        return False  # so far aside in plan, elevations are those of other places of the design
    row, first = np.unique(sight.row[upward], return_index=True)
    rise, u = sight.residual[upward][first], sight.u[upward][first]
    found = levels_in_time(rise, u, line[row], least=STEP * unit)
    if len(found.level) < 2:
        return False
    base = float(found.level[np.argmax(np.diff([*found.begin, len(rise)]))])
    return step_together(found, NOISE * found.u, base=base)


def _lines(shots: pd.DataFrame, layers: Layers, unit: float) -> tuple[np.ndarray, np.ndarray]:
    """Number of the design line each shot was matched to, -1 for none, and of its place along it."""
    line, station = np.full(len(shots), -1), np.full(len(shots), np.nan)
    if "line_matches" in layers:
        matches = layers["line_matches"]
        matches = matches[matches["chosen"]]
        row = rows_of(matches["shot_key"], shots["shot_key"])
        line[row], station[row] = pd.factorize(matches["design"])[0], matches["station"].to_numpy(float)
    return line, places_along(line, station, reach=PLACE * unit)


_Candidate = tuple[np.ndarray, str, str, str]


def _candidates(
    shots: pd.DataFrame, session: np.ndarray, names: pd.Index, checked: np.ndarray, sight: Seen, unit: float
) -> Iterator[_Candidate]:
    """Stretches to be held against design, what they would be, in words, and what they are about."""
    yield from _by_entry(shots, checked)
    seen = set(session[checked].tolist())
    alone = [number for number in range(len(names)) if number not in seen]
    if len(alone) == len(names) > 1:
        yield np.ones(len(session), bool), "unchecked", "all shots, of which none is checked", "all shots"
    for number in alone:
        yield (
            session == number,
            "unchecked",
            f"session {names[number]}, of which no shot is checked",
            f"session {names[number]}",
        )
    for number in range(len(names)):
        for first, last in _stretches(session == number, checked, sight, unit):
            acts = np.zeros(len(session), bool)
            acts[first:last] = True
            acts &= session == number
            start, end = (shots["shot_key"].iloc[place] for place in (first, last - 1))
            yield (
                acts, "unchecked", f"shots {start} to {end} in session {names[number]}, between two checks",
                f"shots {start} to {end}",
            )  # fmt: skip


def _by_entry(shots: pd.DataFrame, checked: np.ndarray) -> Iterator[_Candidate]:
    """Shots whose rod entry no check shot bears and most other shots do not."""
    rod = shots["rod_height"].to_numpy(float)
    known = np.isfinite(rod)
    if not known.any():
        return
    values, counts = np.unique(np.round(rod[known], 3), return_counts=True)
    usual = values[counts.argmax()]
    for value in values[np.abs(values - usual) > ENTRY].tolist():
        acts = np.abs(rod - value) < ENTRY / 2
        if not acts[checked].any():
            words = f"rod entered as {value:.3f}, which no check shot bears, where the other shots have {usual:.3f}"
            yield acts, "rod", words, f"rod entry {value:.3f}"


def _stretches(mine: np.ndarray, checked: np.ndarray, sight: Seen, unit: float) -> list[tuple[int, int]]:
    """Parts of a session between moments at which elevations step, without a check inside; the plainest first."""
    upward = (sight.direction[:, 2] > 0.5) & mine[sight.row]
    row, first = np.unique(sight.row[upward], return_index=True)
    rise = sight.residual[upward][first]
    if len(row) < FEWEST:
        return []
    moments = [0, *_moments(rise, SMALLEST * unit / 2), len(row)]
    inside = checked[mine[checked]]
    scored = []
    for one, begin in enumerate(moments):
        for end in moments[one + 1 :]:
            if end - begin < FEWEST or (begin, end) == (0, len(row)):
                continue
            step = float(np.median(rise[begin:end]))
            if abs(step) <= SMALLEST * unit:
                continue
            start, stop = _edges(rise, begin, end, step)
            if stop - start < FEWEST or ((inside >= row[start]) & (inside <= row[stop - 1])).any():
                continue
            part = rise[start:stop]
            gain = np.minimum(np.abs(part), abs(step)).sum() - np.abs(part - step).clip(max=abs(step)).sum()
            # shots beside no design that lie between the last without the step and the first with it belong to neither
            before, after = np.append(row[:start], inside), np.append(row[stop:], inside)
            since = int(np.max(before[before < row[start]], initial=int(np.argmax(mine)) - 1)) + 1
            until = int(np.min(after[after > row[stop - 1]], initial=len(mine) - int(np.argmax(mine[::-1]))))
            scored.append((-gain, since, until))
    return [(since, until) for _, since, until in sorted(scored)]


def _moments(rise: np.ndarray, least: float) -> list[int]:
    """Places between neighbours in time at which the middle of what comes differs from that of what went."""
    known = np.where(np.isfinite(rise), rise, np.nan)
    middle = _medians(np.lib.stride_tricks.sliding_window_view(np.pad(known, BESIDE, constant_values=np.nan), BESIDE))
    step = np.abs(middle[BESIDE : BESIDE + len(rise)] - middle[: len(rise)])  # BESIDE from here on, less BESIDE before
    moments: list[int] = []
    for place in np.argsort(-np.nan_to_num(step), kind="stable").tolist():
        if not step[place] > least or len(moments) == MOMENTS:
            break
        if all(abs(place - other) > BESIDE // 2 for other in moments):
            moments.append(place)
    return sorted(moments)


def _medians(windows: np.ndarray) -> np.ndarray:
    """Median of what is there in every row; NaN where nothing is."""
    ordered, count = np.sort(windows, axis=1), np.isfinite(windows).sum(axis=1)  # what is missing is sorted last
    row = np.arange(len(windows))
    low, high = ordered[row, np.maximum(count - 1, 0) // 2], ordered[row, np.maximum(count, 1) // 2]
    return (low + np.where(count > 0, high, np.nan)) / 2


def _edges(rise: np.ndarray, begin: int, end: int, step: float) -> tuple[int, int]:
    """First and past the last of the neighbours that lie nearer to the step than to none; one stray is passed over."""
    high = np.abs(rise - step) < np.abs(rise)
    while begin > 0 and high[max(begin - 2, 0) : begin].any():
        begin -= 1
    while begin < end and not high[begin]:
        begin += 1
    while end < len(rise) and high[end : end + 2].any():
        end += 1
    while end > begin and not high[end - 1]:
        end -= 1
    return begin, end


def _one_a_place(sight: Seen, place: np.ndarray) -> Seen:
    """The same, with one number a place and direction: several shots of a place tell once how it is built."""
    if len(np.unique(place[sight.row])) == len(np.unique(sight.row)):
        return sight
    table = pd.DataFrame(np.round(sight.direction, 3), columns=["east", "north", "up"])
    table = table.assign(row=sight.row, place=place[sight.row], residual=sight.residual, u=sight.u)
    # design and repeats may both tell of one shot
    table["nth"] = table.groupby(["row", "east", "north", "up"]).cumcount()
    made = table.assign(first=np.arange(len(table))).groupby(["place", "east", "north", "up", "nth"], sort=False)
    first = made["first"].first().to_numpy()
    return Seen(row=sight.row[first], direction=sight.direction[first], residual=made["residual"].mean().to_numpy(),
                u=sight.u[first])  # fmt: skip


def _shared(sight: Seen, acts: np.ndarray, line: np.ndarray, place: np.ndarray, unit: float) -> SharedShift | None:
    """The shift that nearly all places share, over more lines than one; None where they share none."""
    mine = acts[sight.row]
    if not mine.any():
        return None
    sight = _one_a_place(
        Seen(row=sight.row[mine], direction=sight.direction[mine], residual=sight.residual[mine], u=sight.u[mine]),
        place,
    )
    sight = replace(sight, direction=well_seen(sight.direction))
    row = sight.row
    fit = shared_shifts(
        sight.direction, sight.residual, sight.u, row, np.zeros(len(row), int), count=1, spread=WIDE * unit
    ).of(0)
    if fit.shots < FEWEST or fit.share < SHARE or fit.gain < SURE:
        return None
    if not (np.abs(fit.shift) > np.maximum(SMALLEST * unit, 5 * fit.u)).any():
        return None
    left = sight.residual - sight.direction @ fit.shift
    nearer = np.abs(left) < np.abs(sight.residual)
    there = line[row] >= 0
    shots_of = np.bincount(line[row][there & nearer], minlength=1)
    return fit if (shots_of >= OF_A_LINE).sum() >= LINES else None
