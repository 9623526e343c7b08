"""Shots round a check shot that is off alone, off by the same as it: the check shows what moved them.

One check shot off, with nothing beside it, is a bad shot. Where its neighbours in time lie off the design by the three
numbers that it is off its mark by, it is no bad shot: it is the only one of them that knows where it should be.
"""

from dataclasses import replace

import numpy as np
import pandas as pd

from geoqa.contract.causes import PRIOR
from geoqa.kernels.causes.sudden_stretches import FEWEST
from geoqa.steps.causes.named_causes import Named
from geoqa.steps.causes.sudden_stretches import edges_in_time
from geoqa.steps.causes.suspect_blocks import SHARE, SURE, Block, Seen
from geoqa.steps.causes.suspects import sessions_of

WITH_CHECK = "block-with-check"
"""A check shot and the shots round it that are off together."""
ALONE = "bad-shot"
"""A check shot that is off alone."""
MOST = 9.0
"""Gain that one number may tell for or against, in chi-square."""


def round_bad_checks(shots: pd.DataFrame, sight: Seen, named: list[Named]) -> list[Block]:
    """Blocks of shots that are off by what a check shot among them is off by.

    Parameters
    ----------
    shots : DataFrame
        In the order of time.
    sight : Seen
        What deviations from design see, beyond what is explained of them.
    named : list of Named
        What control shows.
    """
    found: list[Block] = []
    session = sessions_of(shots)
    for each in named:
        if each.cause != ALONE or each.acts.sum() != 1:
            continue
        check = int(np.flatnonzero(each.acts)[0])
        block = _round_one(shots, sight, each, check, np.flatnonzero(session == session[check]))
        if block is not None and not any((block.acts & other.acts).any() for other in found):
            found.append(block)
    return found


def with_round_checks(shots: pd.DataFrame, sight: Seen, named: list[Named], others: list[Block]) -> list[Block]:
    """Those of `round_bad_checks` before other blocks, without others that share shots with them."""
    found = round_bad_checks(shots, sight, named)
    return found + [each for each in others if not any((each.acts & mine.acts).any() for mine in found)]


def without_explained(named: list[Named], blocks: list[Block]) -> list[Named]:
    """What control shows, without check shots that go with a block, and no doubt about shots of which a block tells."""
    told = np.zeros(len(blocks[0].acts) if blocks else 0, bool)
    for each in blocks:
        told |= each.acts & (each.cause != "tilt-off")
    if not told.any():
        return named
    with_check = [each.acts for each in blocks if each.cause == WITH_CHECK]
    kept = [one for one in named if one.cause != ALONE or not any((one.acts & acts).any() for acts in with_check)]
    return [_less_doubtful(each, told) for each in kept]


def _less_doubtful(named: Named, told: np.ndarray) -> Named:
    return replace(named, doubtful=named.doubtful & ~told) if (named.doubtful & told).any() else named


def _round_one(shots: pd.DataFrame, sight: Seen, bad: Named, check: int, session: np.ndarray) -> Block | None:
    """The block round one check shot; None where its neighbours do not go along with it."""
    gain = _gain(sight, bad, len(shots))
    row = session[np.isin(session, sight.row) & (session != check)]
    if not len(row) or not np.isfinite(bad.size).all():
        return None
    along, place = gain[row] > 0, int(np.searchsorted(row, check))
    first, last = edges_in_time(along, place, place)
    mine = row[first:last]
    if len(mine) < FEWEST or along[first:last].mean() < SHARE or gain[mine].sum() / 2 < SURE:
        return None
    acts = np.zeros(len(shots), bool)
    acts[[*range(int(min(mine[0], check)), int(max(mine[-1], check)) + 1)]] = True
    acts &= np.isin(np.arange(len(shots)), session)
    keys = shots["shot_key"]
    subject = f"shots {keys.iloc[np.flatnonzero(acts)[0]]} to {keys.iloc[np.flatnonzero(acts)[-1]]}"
    return Block(
        cause=WITH_CHECK, variant=f"{subject}, as check shot {bad.subject} among them", subject=subject, acts=acts,
        shift=np.where(acts[:, None], bad.size, 0.0), size=bad.size, u_size=bad.u_size,
        log_odds=float(gain[mine].sum() / 2) - SURE / 2 + float(np.log(PRIOR[WITH_CHECK])),
    )  # fmt: skip


def _gain(sight: Seen, bad: Named, count: int) -> np.ndarray:
    """Of every shot, how much better the shift of the check explains what is seen of it than none, in chi-square."""
    u = np.hypot(sight.u, np.abs(sight.direction) @ np.nan_to_num(bad.u_size))
    left = sight.residual - sight.direction @ np.nan_to_num(bad.size)
    gain = ((sight.residual / u) ** 2 - (left / u) ** 2).clip(-MOST, MOST)
    return np.bincount(sight.row, gain, minlength=count)
