"""Stretches without a check that leave the design in plan and elevation at once, and come back at once.

A bad initialization moves easting, northing and elevation together, from one shot to the next. Work that is built off
mostly is so in one of them, or tapers. Along one line nothing in the log tells the two apart: it is a question, and
the shots are held until it is answered. Where the log names initializations, these tell, and nothing is asked here.
"""

from dataclasses import replace

import numpy as np
import pandas as pd

from geoqa.contract.causes import PRIOR
from geoqa.kernels.causes.block_shifts import SharedShift, shared_shifts, well_seen
from geoqa.kernels.causes.sudden_stretches import FEWEST, begins_and_ends_at_once, goes_along, level_parts, steps_out
from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.named_causes import EITHER
from geoqa.steps.causes.suspect_blocks import SHARE, SMALLEST, SURE, Block, Seen
from geoqa.steps.causes.suspects import sessions_of
from geoqa.steps.judging.text_columns import rows_of

LEAST = 0.06
"""Feet across the line and up that a stretch must be off by at the least."""
U_LEAST = 5.0
"""Standard uncertainties that it must be off by in either."""
WIDE = 5.0
"""Feet: 1 sigma of a shift of which control says nothing."""
AGAIN = 2
"""Shots of another time that lie as the stretch does, by which it is the work."""


def sudden_stretches(
    shots: pd.DataFrame, layers: Layers, sight: Seen, checked: np.ndarray, *, taken: np.ndarray, unit: float
) -> list[Block]:
    """Stretches of a session whose log names no initialization, off in plan and elevation at once.

    Parameters
    ----------
    shots : DataFrame
        In the order of time.
    layers : Layers
    sight : Seen
        What deviations from design see, beyond what is explained.
    checked : (m,) int array
        Places of the check shots with a known mark.
    taken : (n,) bool array
        Shots under another cause.
    unit : float
        Feet in job units.

    Notes
    -----
    Several that are more than half of a session are none: its lines are built otherwise, or the design is another.
    """
    found: list[Block] = []
    seen = _by_shot(sight, len(shots))
    line, station = _lines(shots, layers)
    named = shots["initialization"].notna().to_numpy(bool)
    session, _ = pd.factorize(sessions_of(shots))
    whole = np.isfinite(seen).all(axis=(0, 1)) & ~taken
    for number in np.unique(session):
        mine = session == number
        if named[mine].any():
            continue
        row, own = np.flatnonzero(mine & whole), checked[mine[checked]]
        blocks: list[Block] = []
        for first, last in _candidates(seen[:, :, row], line[row], unit):
            block = _judged(shots, sight, seen, row, first, last, unit)
            if block is None or any((block.acts & each.acts).any() for each in blocks):
                continue
            if not _told_by_checks(block, row, own) and not _again(sight, block, line, station):
                blocks.append(block)
        if len(blocks) == 1 or 2 * sum(each.acts.sum() for each in blocks) <= len(row):
            unseen = np.flatnonzero(mine & ~whole & ~taken)
            found += [_with_unseen(each, shots, unseen, line) for each in blocks]
    return found


def _by_shot(sight: Seen, count: int) -> np.ndarray:
    """Of every shot, (2, 2, n): what is seen across or in easting, and up, and 1 sigma of it; NaN of what is not."""
    made = np.full((2, 2, count), np.nan)
    upward = sight.direction[:, 2] > 0.5
    for axis, rows in enumerate((np.flatnonzero(~upward), np.flatnonzero(upward))):
        place, first = np.unique(sight.row[rows], return_index=True)
        made[0, axis, place], made[1, axis, place] = sight.residual[rows][first], sight.u[rows][first]
    return made


def _lines(shots: pd.DataFrame, layers: Layers) -> tuple[np.ndarray, np.ndarray]:
    """Number of the design line each shot was matched to, -1 for none, and its station there."""
    line, station = np.full(len(shots), -1), np.full(len(shots), np.nan)
    if "line_matches" in layers:
        matches = layers["line_matches"]
        matches = matches[matches["chosen"]]
        row = rows_of(matches["shot_key"], shots["shot_key"])
        line[row] = pd.factorize(matches["design"])[0]
        if "station" in matches:
            station[row] = matches["station"].to_numpy(float)
    return line, station


def _told_by_checks(block: Block, row: np.ndarray, checked: np.ndarray) -> bool:
    """Whether a check shot stands among its shots, for it was good; or none is there, and nothing steps."""
    if not len(checked):
        return bool(block.acts[row].all())
    first, last = np.flatnonzero(block.acts)[[0, -1]]
    return bool(((checked > first) & (checked < last)).any())


def _candidates(seen: np.ndarray, line: np.ndarray, unit: float) -> list[tuple[int, int]]:
    """First and past the last place, in the order of time, of shots that lie high or low together.

    Parts of one line between two steps; those that lie to one side of the design without a break between are taken
    together before they are taken alone.
    """
    parts = []
    for each in np.unique(line):
        place = np.flatnonzero(line == each)
        begin = level_parts(seen[0][:, place], seen[1][:, place])
        for first, last in zip(begin, [*begin[1:], len(place)], strict=True):
            level = float(np.median(seen[0, 1, place[first:last]]))
            parts.append((int(place[first]), int(place[last - 1]) + 1, level))
    parts = sorted(part for part in parts if abs(part[2]) >= LEAST * unit / 2)
    together: list[tuple[int, int, float]] = []
    for first, last, level in parts:
        if together and first <= together[-1][1] and level * together[-1][2] > 0:
            together[-1] = (together[-1][0], max(last, together[-1][1]), level)
        else:
            together.append((first, last, level))
    every = dict.fromkeys((first, last) for first, last, _ in [*together, *parts])
    return [(first, last) for first, last in every if last - first >= FEWEST]


def _judged(
    shots: pd.DataFrame, sight: Seen, seen: np.ndarray, row: np.ndarray, first: int, last: int, unit: float
) -> Block | None:
    """The block of such a stretch; None where it shares no shift both ways, or does not begin and end at once."""
    acts = np.zeros(len(shots), bool)
    acts[row[first:last]] = True
    fit = _fit(sight, acts, unit)
    if fit is None:
        return None
    along = _along(sight, seen, fit.shift)[:, row]
    first, last = edges_in_time(along.sum(axis=0) > 0, first, last)
    if last - first < FEWEST:
        return None
    acts[:] = False
    acts[row[first:last]] = True
    fit = _fit(sight, acts, unit)
    if fit is None or not _both(sight, acts, fit, unit):
        return None
    stays = _along(sight, seen, fit.shift)[:, row] < 0
    share, weight = _share(sight, fit.shift, len(shots))
    if not all(steps_out(each, first, last) for each in stays) or not begins_and_ends_at_once(
        share[row], weight[row], first, last
    ):
        return None
    subject = _named(shots, row[first], row[last - 1])
    return Block(
        cause=EITHER, variant=f"{subject}, off in plan and elevation at once", subject=subject,
        acts=acts, size=fit.shift, u_size=fit.u, shift=np.where(acts[:, None], fit.shift, 0.0),
        log_odds=float(fit.gain) - SURE / 2 + float(np.log(PRIOR[EITHER])),
    )  # fmt: skip


def _named(shots: pd.DataFrame, first: int, last: int) -> str:
    return f"shots {shots['shot_key'].iloc[first]} to {shots['shot_key'].iloc[last]}"


def _fit(sight: Seen, acts: np.ndarray, unit: float) -> SharedShift | None:
    """The shift that nearly all shots share; None where they share none."""
    mine = acts[sight.row]
    row = sight.row[mine]
    fit = shared_shifts(
        well_seen(sight.direction[mine]), sight.residual[mine], sight.u[mine], row, np.zeros(len(row), int), count=1,
        spread=WIDE * unit,
    ).of(0)  # fmt: skip
    return fit if fit.shots >= FEWEST and fit.share >= SHARE and fit.gain >= SURE else None


def _both(sight: Seen, acts: np.ndarray, fit: SharedShift, unit: float) -> bool:
    """Whether both what is seen in plan and what is seen in elevation go along with the shift, by more than chance."""
    sizes = []
    for upward in (False, True):
        mine = acts[sight.row] & ((sight.direction[:, 2] > 0.5) == upward)
        value, u = sight.residual[mine], sight.u[mine]
        moved = sight.direction[mine] @ fit.shift
        size = float(np.sqrt((moved**2).mean())) if len(moved) else 0.0
        own = float(np.sqrt((u**2).mean() / len(u))) if len(u) else np.inf
        if size < max(LEAST * unit, U_LEAST * own) or not goes_along(value, value - moved, u, share=SHARE):
            return False
        sizes.append(size)
    return max(sizes) > SMALLEST * unit


def _along(sight: Seen, seen: np.ndarray, shift: np.ndarray) -> np.ndarray:
    """Of every shot, (2, n): how much better a shift explains what is seen in plan, and up, than none; NaN as 0."""
    made = np.zeros((2, seen.shape[2]))
    moved = sight.direction @ shift
    gain = ((sight.residual / sight.u) ** 2 - ((sight.residual - moved) / sight.u) ** 2).clip(-9.0, 9.0)
    upward = sight.direction[:, 2] > 0.5
    np.add.at(made, (upward.astype(int), sight.row), gain)
    return made


def _share(sight: Seen, shift: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Of every shot, how much of a shift it shows, 0 none and 1 all, and 1 over the variance of that."""
    moved = sight.direction @ shift
    weight = np.bincount(sight.row, (moved / sight.u) ** 2, minlength=count)
    part = np.bincount(sight.row, moved * sight.residual / sight.u**2, minlength=count)
    return part / np.where(weight > 0, weight, 1.0), weight


def edges_in_time(along: np.ndarray, first: int, last: int) -> tuple[int, int]:
    """First and past the last of the neighbours in time that go along; one stray is passed over."""
    while first > 0 and along[max(first - 2, 0) : first].any():
        first -= 1
    while first < last and not along[first]:
        first += 1
    while last < len(along) and along[last : last + 2].any():
        last += 1
    while last > first and not along[last - 1]:
        last -= 1
    return first, last


def _with_unseen(block: Block, shots: pd.DataFrame, unseen: np.ndarray, line: np.ndarray) -> Block:
    """With the shots of its lines right before and after it that lie beyond the ends of their design."""
    acts = block.acts.copy()
    for way in (-1, 1):
        end = int(np.flatnonzero(acts)[0 if way < 0 else -1]) + way
        while end in unseen and line[end] >= 0 and line[end] in line[block.acts]:
            acts[end] = True
            end += way
    subject = _named(shots, *np.flatnonzero(acts)[[0, -1]].tolist())
    variant = block.variant.replace(block.subject, subject)
    return replace(block, acts=acts, subject=subject, variant=variant, shift=np.where(acts[:, None], block.size, 0.0))


def _again(sight: Seen, block: Block, line: np.ndarray, station: np.ndarray) -> bool:
    """Whether shots of another time, between the ends of the stretch on its line, lie as it does: it is the work."""
    of, count = np.unique(line[block.acts], return_counts=True)
    mine = block.acts & (line == of[np.argmax(count)])
    if of[np.argmax(count)] < 0 or not np.isfinite(station[mine]).any():
        return False
    low, high = np.nanmin(station[mine]), np.nanmax(station[mine])
    other = (line == of[np.argmax(count)]) & ~block.acts & (station >= low) & (station <= high)
    there = other[sight.row]
    row = sight.row[there]
    moved = sight.direction[there] @ block.size
    gain = (sight.residual[there] / sight.u[there]) ** 2 - ((sight.residual[there] - moved) / sight.u[there]) ** 2
    total = np.bincount(row, gain.clip(-9.0, 9.0), minlength=len(line))[other]
    return bool((total > 0).sum() >= max(AGAIN, len(total) / 2))
