"""Which of the known causes explains a set of residuals, how sure that is, and what stays unexplained.

Residuals are measured minus known, with a covariance: random parts, and parts that all shots of a
group share. A cause says what residuals it makes: a fixed part, and columns whose size is open and
has a prior of its own. Causes are compared by the probability of the residuals under each (the open
sizes integrated out, which charges every open size its price), times stated prior weights. Whether the
winner is good enough is another question, answered by the chi-square of what it leaves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import solve_triangular

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats
from geoqa.kernels.causes.combinations import KEPT, CauseModel, Sets, covariance_root
from geoqa.kernels.causes.prediction import Cause, Explanation

ALIKE = 3.0
"""Distance between predicted residuals, in standard uncertainties, below which causes cannot be told apart."""
FITS = 1e-3
"""Chi-square probability below which the best explanation does not fit."""
RIVAL = 1e-2
"""Odds against the best below which an alike cause is no rival any more."""
PATTERN, WIDEST = 6.0, 2.0
"""A misfit without a pattern beyond the first, in standard uncertainties, is scatter: the uncertainties are too
small, and are widened, by no more than the second."""
STANDS_OUT, FAR_TOO_SMALL, ENOUGH = 5.0, 4.0, 24
"""With as many degrees of freedom as the last the scatter itself is known: a misfit of which no pattern stands out by
more than the first, in units of what is left without it, is scatter up to the second."""
NEARLY_ALL, REST = 0.95, 2.5
"""A cause that removes this share of chi-square is named even where what it leaves is up to so many times the expected
scatter: the rest is taken as scatter."""
MOST = 3
"""Causes at once that are still looked for."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Diagnosis:
    """What the residuals say.

    Attributes
    ----------
    ranked : tuple of Explanation
        By known causes alone; best first, then by probability. The best is the most probable, unless one with fewer
        of its causes fits and the odds over that are below `NEEDED`.
    fits : bool
        The best leaves no more than noise, and nothing unlisted explains better. If not, none of the known causes
        fits.
    unlisted : Explanation or None
        What explains better than the best, with something in it that nobody lists.
    alike : tuple of int
        Places in `ranked` that predict the same as the best within `ALIKE` u and are not ruled
        out by the odds; the best itself is one of them. What only adds a cause to the best is no rival.
    remainder : (n,) float64
        Observed minus predicted by the best, in standard uncertainties of each.
    rival : Explanation or None
        The most probable one that is not alike to the best and does not only add a cause to it.
    widened : float
        What all uncertainties were multiplied by, because what is left scatters more than they say and shows
        no pattern; 1 where it does not.
    """

    ranked: tuple[Explanation, ...]
    fits: bool
    unlisted: Explanation | None
    alike: tuple[int, ...]
    remainder: Floats
    rival: Explanation | None
    widened: float

    @property
    def best(self) -> Explanation:
        """The most probable explanation."""
        return self.ranked[0]

    @property
    def log_odds(self) -> float:
        """Natural logarithm of the odds of the best over its rival; infinite without one."""
        return np.inf if self.rival is None else self.best.score - self.rival.score


def weigh(
    observed: ArrayLike,
    spread: ArrayLike,
    causes: Sequence[Cause],
    *,
    nothing: float = 0.7,
    most: int = MOST,
    fits: float = FITS,
    alike: float = ALIKE,
    patterns: ArrayLike | None = None,
) -> Diagnosis:
    """Weigh known causes, alone and together, against residuals.

    Parameters
    ----------
    observed : (n,) array
        Measured minus known; NaN for what was not observed.
    spread : (n, n) array
        Covariance of honest residuals.
    causes : sequence of Cause
    nothing : float
        Prior probability that nothing happened.
    most : int
        Causes at once.
    fits : float
        Chi-square probability below which the best does not fit.
    alike : float
        Distance between predictions, in u, below which explanations cannot be told apart.
    patterns : (n, m) array, optional
        Columns that an unknown cause could follow: a mark, a session, one shot, each per axis. A misfit that follows
        none of them is taken as scatter, and the uncertainties as too small.

    Returns
    -------
    Diagnosis

    Raises
    ------
    GeometryInputError
        Arrays that do not fit each other, or a covariance that is none.

    Notes
    -----
    With open sizes normal about 0 the evidence is that of a normal linear model, any textbook of
    Bayesian regression: r'r - b'A⁻¹b and ln det A with A = I + X'X, b = X'r, all in whitened units.
    Sets of two and more are grown from the `KEPT` best smaller ones, no more than `OF_ONE_KIND` of them of the
    same families; sets of three only where two explain better than one. Something unlisted joins each of these sets
    once, and is not built upon.

    A pattern is looked for by the score test of its column a in what is left: a'C⁻¹r over the root of a'C⁻¹a, a
    standard normal number for honest noise. Widened uncertainties are taken only if the same causes stay the
    best, or none is needed any more.

    Examples
    --------
    A level shift of 1.0 in the second half; noise of 0.1.

    >>> level = Cause(name="shift", family="rod", fixed=np.zeros(6), columns=np.eye(6)[:, 3:].sum(axis=1)[:, None],
    ...               spread=np.array([2.0]), weight=0.1)
    >>> found = weigh([0.05, -0.1, 0.0, 1.1, 0.95, 1.0], 0.01 * np.eye(6), [level])
    >>> found.best.causes, found.fits, found.best.sizes[0].round(2).tolist()
    ((0,), True, [1.02])
    """
    observed = np.asarray(observed, dtype=np.float64)
    spread = np.asarray(spread, dtype=np.float64)
    if spread.shape != (observed.size, observed.size) or any(each.fixed.shape != observed.shape for each in causes):
        raise GeometryInputError(
            f"{observed.size} residuals need a covariance of {observed.size} rows and columns, and causes that say "
            f"what each residual becomes; the covariance is {spread.shape}."
        )
    found = _weighed(observed, spread, causes, nothing, most, fits, alike)
    if found.fits or patterns is None or not found.best.left > 1:
        return found
    mostly = found.unlisted is None and _removes_nearly_all(found, observed, spread)
    if not mostly and not _is_scatter(found.best, observed, spread, patterns):
        return found
    wider, kept = 1.0, set(found.best.causes)
    second = found
    for _ in range(_ROUNDS):
        wider *= second.best.left
        second = _weighed(observed, spread * wider**2, causes, nothing, most, fits, alike)
        # causes that come with the scatter were chasing a misfit that none of them explains
        if not set(second.best.causes) <= kept or (mostly and not second.best.causes):
            return found
        if second.fits and second.best.left <= _SETTLED:
            break
        if second.unlisted or not second.best.left > 1 or wider * second.best.left > FAR_TOO_SMALL:
            return found
    return replace(second, widened=wider) if second.fits else found


_ROUNDS = 4  # of widening, for causes that drop out leave more scatter
_SETTLED = 1.05  # times the expected scatter


def _removes_nearly_all(found: Diagnosis, observed: Floats, spread: Floats) -> bool:
    """The best is a cause, and what it leaves is little beside what was there."""
    used = np.isfinite(observed)
    white = solve_triangular(covariance_root(spread[np.ix_(used, used)]), observed[used], lower=True)
    whole = float(white @ white)
    return bool(found.best.causes) and found.best.left <= REST and found.best.chi2 <= (1 - NEARLY_ALL) * whole


def _is_scatter(best: Explanation, observed: Floats, spread: Floats, patterns: ArrayLike) -> bool:
    """What the best leaves follows no pattern: larger than the uncertainties say, and nothing else."""
    pattern = strongest_pattern(observed - best.predicted, spread, patterns)
    if best.left <= WIDEST and pattern <= PATTERN:
        return True
    if best.left > FAR_TOO_SMALL or best.dof < ENOUGH:
        return False
    without = max(best.chi2 - pattern**2, 0.0) / (best.dof - 1)
    return pattern**2 <= STANDS_OUT**2 * without


def strongest_pattern(left: ArrayLike, spread: ArrayLike, patterns: ArrayLike) -> float:
    """Largest score of a pattern in residuals, in standard uncertainties.

    Parameters
    ----------
    left : (n,) array
        NaN for what was not observed.
    spread : (n, n) array
        Covariance.
    patterns : (n, m) array
        One column a pattern; a column without an observed residual says nothing.

    Examples
    --------
    >>> strongest_pattern([0.3, 0.3, 0.0], 0.01 * np.eye(3), [[1, 0], [1, 0], [0, 1]]).__round__(2)
    4.24
    """
    left, patterns = np.asarray(left, dtype=np.float64), np.asarray(patterns, dtype=np.float64)
    used = np.isfinite(left)
    root = covariance_root(np.asarray(spread, dtype=np.float64)[np.ix_(used, used)])
    white = solve_triangular(root, np.column_stack([left[used], patterns[used]]), lower=True)
    size = np.linalg.norm(white[:, 1:], axis=0)
    there = size > 0
    return float(np.max(np.abs(white[:, 0] @ white[:, 1:][:, there]) / size[there], initial=0.0))


def _weighed(
    observed: Floats,
    spread: Floats,
    causes: Sequence[Cause],
    nothing: float,
    most: int,
    fits: float,
    alike: float,
) -> Diagnosis:
    """As `weigh`, with the uncertainties as they are."""
    model = CauseModel(observed, spread, causes, nothing)
    every = _sets_by_score(model, most)
    every = every.take(~every.small)
    listed = every.take(~model.unlisted(every.places))
    ranked = _explained(model, listed)
    best = model.simplest(ranked, fits)
    better = model.better_unlisted(best, every, fits)
    ranked = [best, *(each for each in ranked if each is not best)]
    own = model.families(best.causes)

    def adds(chosen: tuple[int, ...]) -> bool:
        return bool(own) and model.families(chosen) > own

    near = [
        place
        for place, each in enumerate(ranked)
        if place == 0
        or (
            each.probability > RIVAL * best.probability
            and not model.families(each.causes) > own
            and model.apart(best, each) < alike
        )
    ]
    said = [model.families(ranked[place].causes) for place in near]
    others = (each for each in listed if model.families(each[0]) not in said and not adds(each[0]))
    rival = next((each for each in others if model.large_enough(each[0])), None)
    odds = 0.0 if rival is None else float(np.exp(rival[1] - best.score))
    return Diagnosis(
        ranked=tuple(ranked),
        fits=better is None and model.leaves_noise(best, fits),
        unlisted=better,
        alike=tuple(near),
        remainder=(observed - best.predicted) / np.sqrt(np.diag(spread)),
        rival=None if rival is None else model.explain(rival[0], best.probability * odds),
        widened=1.0,
    )


def _sets_by_score(model: CauseModel, most: int) -> Sets:
    """Sets of causes, best first."""
    found = [Sets(places=np.zeros((1, 0), int), score=np.array([model.score(())]), small=np.zeros(1, bool))]
    layer: list[tuple[int, ...]] = [()]
    best = newest = found[0].score[0]
    for count in range(most):
        if count > 1 and newest < best:
            break
        grown = model.grown(layer)
        found.append(grown)
        listed = grown.take(~model.unlisted(grown.places)).best_first()
        if not len(listed.score):
            break
        best = max(best, listed.score[0])
        layer, newest = model.varied(listed), listed.score[0]
    return Sets.joined(found, most).best_first()


def _explained(model: CauseModel, listed: Sets) -> list[Explanation]:
    """The best sets as explanations, without those that hold a cause smaller than such causes are."""
    kept: list[tuple[tuple[int, ...], float]] = []
    for chosen, score in listed:
        if len(kept) == 2 * KEPT or (kept and score < kept[0][1] + np.log(1e-12)):
            break
        if model.large_enough(chosen):
            kept.append((chosen, score))
    # from the best that is kept: what is left out may be more probable by more than a number can hold
    share = np.exp(np.array([score for _, score in kept]) - kept[0][1])
    share /= share.sum()
    return [model.explain(chosen, float(part)) for (chosen, _), part in zip(kept, share, strict=True)]
