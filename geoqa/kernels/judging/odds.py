"""Work or measurement: odds between "the work is so" and "this shot, its setup or its session is wrong".

A number out of tolerance has four explanations: the work is so; this shot alone is wrong (another code, a bumped or
leaning rod, a reflected signal); all shots of its setup are (a bad initialization); all of its session (rod, base).
What other numbers say of it is a likelihood under each. No verdict is made of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats

WORK, SHOT, SETUP, SESSION = range(4)
"""Places of the four explanations along the last axis."""
MOST = 1e4
"""Largest ratio of two densities that one other number is believed to have: no error is normal that far out."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Odds:
    """Log odds that the work is so, and what they are made of.

    Attributes
    ----------
    prior : float
        Natural log of the odds before anything is looked at.
    parts : (n, g) float64
        Natural log of the likelihood ratio of each piece of evidence, given those before it: work over all others.
    total : (n,) float64
        Prior and parts, summed.
    """

    prior: float
    parts: Floats
    total: Floats


def alike(value: ArrayLike, *, expected: ArrayLike, u_alike: ArrayLike, u_sound: ArrayLike) -> Floats:
    """Ratio of two densities of another number: of one off in the same way, over one of sound work.

    Parameters
    ----------
    value : (n,) array
        The other deviation.
    expected : (n,) array
        What it would be, if it were off in the same way.
    u_alike, u_sound : (n,) array
        1 sigma about that, and about 0.

    Returns
    -------
    (n,) float64
        Between 1 / `MOST` and `MOST`; 1, which says nothing, where something is missing.

    Examples
    --------
    >>> alike([0.20, 0.10, 0.0], expected=0.2, u_alike=0.05, u_sound=0.05).round(4).tolist()
    [2980.958, 1.0, 0.0003]
    """
    value, expected, same, sound = (np.asarray(each, dtype=np.float64) for each in (value, expected, u_alike, u_sound))
    with np.errstate(divide="ignore", invalid="ignore"):
        log = 0.5 * (value / sound) ** 2 - 0.5 * ((value - expected) / same) ** 2 + np.log(sound / same)
    return np.exp(np.clip(np.nan_to_num(log, nan=0.0), -np.log(MOST), np.log(MOST)))


def witnessed(ratio: ArrayLike, chance: ArrayLike, *, by_itself: ArrayLike, usual: float) -> Floats:
    """Log likelihood of another number under each explanation.

    Parameters
    ----------
    ratio : (n, h) array
        Of `alike`, for a number that is off in the same way as each explanation has it.
    chance : (n, h) array
        Probability that the other number is off in the same way under each explanation.
    by_itself : (n,) array
        Of `alike`, for a number that is off for a reason of its own, whichever way.
    usual : float
        Probability of that.

    Returns
    -------
    (n, h) float64
        Up to a term that all explanations share.

    Examples
    --------
    >>> told = witnessed([[100.0, 100.0]], [[0.6, 0.0]], by_itself=[50.0], usual=0.01)
    >>> told.round(2).tolist()
    [[4.1, 0.4]]
    """
    chance = np.asarray(chance, dtype=np.float64)
    own = np.asarray(by_itself, dtype=np.float64)[:, None]
    return np.log(chance * np.asarray(ratio, dtype=np.float64) + (1.0 - chance) * (usual * own + 1.0 - usual))


def marked(bears: ArrayLike, *, usual: float, caused: float, hypotheses: tuple[int, ...] = (SHOT,)) -> Floats:
    """Log likelihood of a mark of the record, such as a leaning rod, under each explanation.

    Parameters
    ----------
    bears : (n,) array
        1 the shot bears it, 0 it does not, NaN it is not known.
    usual : float
        Share of all shots that bear it.
    caused : float
        Share of blunders that it causes: of them all bear it, of the others the usual share.
    hypotheses : tuple of int
        The explanations that it may cause.

    Returns
    -------
    (n, 4) float64

    Examples
    --------
    >>> marked([1.0, 0.0], usual=0.1, caused=0.2)[:, :2].round(2).tolist()
    [[-2.3, -1.27], [-0.11, -0.33]]
    """
    bears = np.asarray(bears, dtype=np.float64)
    made = np.zeros((len(bears), 4))
    for each in range(4):
        share = usual + (1.0 - usual) * caused if each in hypotheses else usual
        made[:, each] = np.where(bears > 0, np.log(share), np.log1p(-share))
    made[np.isnan(bears)] = 0.0
    return made


def odds(weights: ArrayLike, evidence: ArrayLike) -> Odds:
    """Log odds of the first explanation against all others together.

    Parameters
    ----------
    weights : (h,) array
        Prior weight of each explanation, the work first.
    evidence : (n, g, h) array
        Log likelihood of each piece of evidence under each explanation.

    Returns
    -------
    Odds
        By the chain rule: a piece of evidence also moves the weights of the others among each other, so that what comes
        after it is held against those that are left.

    Examples
    --------
    >>> made = odds([0.01, 0.002], np.log([[[0.6, 0.01], [0.5, 0.5]]]))
    >>> np.exp(made.prior).round(2).item(), np.exp(made.parts).round(2).tolist(), np.exp(made.total).round(1).tolist()
    (5.0, [[60.0, 1.0]], [300.0])
    """
    weight = np.log(np.asarray(weights, dtype=np.float64))
    told = np.asarray(evidence, dtype=np.float64)
    others = weight[None, None, 1:] + np.cumsum(told[:, :, 1:], axis=1)
    against = np.logaddexp.reduce(others, axis=2)
    first = np.logaddexp.reduce(weight[1:])
    before = np.concatenate([np.full((len(told), 1), first), against[:, :-1]], axis=1)
    parts = told[:, :, 0] - (against - before)
    prior = float(weight[0] - first)
    return Odds(prior=prior, parts=parts, total=prior + parts.sum(axis=1))


def chance(log_odds: ArrayLike) -> Floats:
    """Probability of log odds.

    Examples
    --------
    >>> chance([0.0, np.log(9.0)]).round(3).tolist()
    [0.5, 0.9]
    """
    return 1.0 / (1.0 + np.exp(-np.asarray(log_odds, dtype=np.float64)))
