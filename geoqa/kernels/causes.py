"""Which of the known causes explains a set of residuals, how sure that is, and what stays unexplained.

Residuals are measured minus known, with a covariance: random parts, and parts that all shots of a
group share. A cause says what residuals it makes: a fixed part, and columns whose size is open and
has a prior of its own. Causes are compared by the probability of the residuals under each (the open
sizes integrated out, which charges every open size its price), times stated prior weights. Whether the
winner is good enough is another question, answered by the chi-square of what it leaves.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import cholesky, solve_triangular
from scipy.special import chdtrc

from geoqa.errors import GeometryInputError

ALIKE = 3.0
"""Distance between predicted residuals, in standard uncertainties, below which causes cannot be told apart."""
FITS = 1e-3
"""Chi-square probability below which the best explanation does not fit."""
RIVAL = 1e-2
"""Odds against the best below which an alike cause is no rival any more."""
MOST = 3
"""Causes at once that are still looked for."""
KEPT, OF_ONE_KIND = 16, 3
"""Explanations of one size that are built upon, and how many of them may be of the same families."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Cause:
    """One known cause and the residuals it makes.

    Attributes
    ----------
    name : str
        What to call it.
    family : str
        Variants of one cause share a family; at most one of a family is used at once.
    fixed : (n,) float64
        Residuals it makes whatever its open sizes are.
    columns : (n, k) float64
        Residuals for one unit of each open size.
    spread : (k,) float64
        Prior standard deviation of each open size, about 0.
    weight : float
        Prior probability that it happened.
    """

    name: str
    family: str
    fixed: np.ndarray
    weight: float
    columns: np.ndarray = field(default_factory=lambda: np.zeros((0, 0)))
    spread: np.ndarray = field(default_factory=lambda: np.zeros(0))


@dataclass(frozen=True, kw_only=True, eq=False)
class Explanation:
    """A set of causes held against the residuals.

    Attributes
    ----------
    causes : tuple of int
        Places in the list of causes; empty is "no blunder".
    probability : float
        Among all explanations weighed, with their prior weights.
    log_evidence, log_prior : float
        Natural logarithms; the probability of the residuals without its constant, and of the set.
    bic : float
        Chi-square plus parameters times ln(observations): a rough check on the same order.
    chi2, dof, p_fit
        Misfit after least squares on the open sizes, its degrees of freedom, and how often honest noise does worse.
    sizes, u_sizes : tuple of (k,) float64
        Open sizes of each cause and their standard uncertainties.
    predicted : (n,) float64
        Residuals it makes at its best; NaN where nothing was observed.
    """

    causes: tuple[int, ...]
    probability: float
    log_evidence: float
    log_prior: float
    bic: float
    chi2: float
    dof: int
    p_fit: float
    sizes: tuple[np.ndarray, ...]
    u_sizes: tuple[np.ndarray, ...]
    predicted: np.ndarray

    @property
    def left(self) -> float:
        """Root mean square of what stays unexplained, in standard uncertainties; near 1 for honest noise."""
        return float(np.sqrt(self.chi2 / self.dof)) if self.dof > 0 else np.nan


@dataclass(frozen=True, kw_only=True, eq=False)
class Diagnosis:
    """What the residuals say.

    Attributes
    ----------
    ranked : tuple of Explanation
        Best first.
    fits : bool
        The best leaves no more than noise. If not, none of the known causes fits.
    alike : tuple of int
        Places in `ranked` that predict the same as the best within `ALIKE` u and are not ruled
        out by the odds; the best itself is one of them. What only adds a cause to the best is no rival.
    remainder : (n,) float64
        Observed minus predicted by the best, in standard uncertainties of each.
    rival : Explanation or None
        The most probable one that is not alike to the best and does not only add a cause to it.
    """

    ranked: tuple[Explanation, ...]
    fits: bool
    alike: tuple[int, ...]
    remainder: np.ndarray
    rival: Explanation | None

    @property
    def best(self) -> Explanation:
        """The most probable explanation."""
        return self.ranked[0]

    @property
    def log_odds(self) -> float:
        """Natural logarithm of the odds of the best over its rival; infinite without one."""
        return np.inf if self.rival is None else _score(self.best) - _score(self.rival)


def covariance(random: ArrayLike, shared: Sequence[tuple[ArrayLike, ArrayLike]] = ()) -> np.ndarray:
    """Covariance of observations with random parts and parts that groups share.

    Parameters
    ----------
    random : (n,) array
        1 sigma of what each has for itself.
    shared : sequence of (group, u)
        For each sharing: (n,) int array of the group (-1: none) and (n,) array of 1 sigma.

    Returns
    -------
    (n, n) float64 array

    Examples
    --------
    >>> covariance([1.0, 1.0], [([0, 0], [2.0, 2.0])]).tolist()
    [[5.0, 4.0], [4.0, 5.0]]
    """
    made = np.diag(np.asarray(random, dtype=np.float64) ** 2)
    for group, u in shared:
        group, u = np.asarray(group), np.nan_to_num(np.asarray(u, dtype=np.float64))
        made += np.where((group[:, None] == group[None, :]) & (group >= 0)[:, None], np.outer(u, u), 0.0)
    return made


def onsets(group: ArrayLike, order: ArrayLike) -> Iterator[tuple[int, int, np.ndarray]]:
    """Change points: every way in which the end of a group, from some member on, may differ.

    Parameters
    ----------
    group : (n,) int array
        -1 for a member of none.
    order : (n,) array
        What runs with time.

    Yields
    ------
    (group, member, (n,) bool array)
        The group, the first member affected, and all affected; the whole group comes first.

    Examples
    --------
    >>> [(g, first, mask.tolist()) for g, first, mask in onsets([0, 0, 1], [5.0, 3.0, 1.0])]
    [(0, 1, [True, True, False]), (0, 0, [True, False, False]), (1, 2, [False, False, True])]
    """
    group, order = np.asarray(group), np.asarray(order)
    for name in np.unique(group[group >= 0]).tolist():
        members = np.flatnonzero(group == name)
        members = members[np.argsort(order[members], kind="stable")]
        for place, first in enumerate(members.tolist()):
            mask = np.zeros(group.shape, dtype=bool)
            mask[members[place:]] = True
            yield name, first, mask


def weigh(
    observed: ArrayLike,
    spread: ArrayLike,
    causes: Sequence[Cause],
    *,
    nothing: float = 0.7,
    most: int = MOST,
    fits: float = FITS,
    alike: float = ALIKE,
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
    same families; sets of three only where two explain better than one.

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
    model = _Model(observed, spread, causes)
    bare = model.explain((), np.log(nothing))
    found: dict[tuple[int, ...], Explanation] = {(): bare}
    layer = [()]
    for count in range(most):
        if count > 1 and max(_score(found[each]) for each in layer) < max(map(_score, found.values())):
            break
        grown: dict[tuple[int, ...], Explanation] = {}
        for base in layer:
            for place in range(len(causes)):
                chosen = tuple(sorted((*base, place)))
                if chosen in grown or not model.allowed(base, place):
                    continue
                grown[chosen] = model.explain(chosen, np.log(nothing))
        if not grown:
            break
        found |= grown
        layer = model.varied(grown)
    ranked = sorted(found.values(), key=lambda each: (-_score(each), len(each.causes), each.causes))
    top = _score(ranked[0])
    share = np.exp([_score(each) - top for each in ranked])
    share /= share.sum()
    every = [_with(each, float(value)) for each, value in zip(ranked, share, strict=True)]
    ranked = [model.whole(each) for each in every[: 4 * KEPT] if each.probability > 1e-12]
    best = ranked[0]
    near = tuple(
        place
        for place, each in enumerate(ranked)
        if place == 0
        or (
            each.probability > RIVAL * best.probability
            and not model.families(each) > model.families(best)
            and model.apart(best, each) < alike
        )
    )
    own = np.sqrt(np.diag(spread))
    return Diagnosis(
        ranked=tuple(ranked),
        fits=bool(best.p_fit >= fits or best.dof <= 0),
        alike=near,
        remainder=(observed - np.where(np.isfinite(best.predicted), best.predicted, np.nan)) / own,
        rival=model.rival(best, every, [ranked[place] for place in near]),
    )


def _score(each: Explanation) -> float:
    return each.log_evidence + each.log_prior


def _with(each: Explanation, probability: float) -> Explanation:
    return replace(each, probability=probability)


class _Model:
    """Residuals and causes in whitened units, with every inner product taken once."""

    def __init__(self, observed: np.ndarray, spread: np.ndarray, causes: Sequence[Cause]) -> None:
        self.causes, self.size = causes, observed.size
        self.used = np.isfinite(observed)
        root = _root(spread[np.ix_(self.used, self.used)])
        self.blocks, parts, start = [], [observed[self.used]], 1
        parts += [each.fixed[self.used] for each in causes]
        start += len(causes)
        for each in causes:
            count = each.spread.size
            parts += list((each.columns[self.used] * each.spread).T) if count else []
            self.blocks.append(np.arange(start, start + count))
            start += count
        raw = np.column_stack(parts)
        if not np.isfinite(raw).all():
            raise GeometryInputError("A cause has no value for a residual that was observed; give it one or drop it.")
        self.white = solve_triangular(root, raw, lower=True) if self.used.any() else raw
        self.gram = self.white.T @ self.white

    def allowed(self, base: tuple[int, ...], place: int) -> bool:
        family = self.causes[place].family
        return all(self.causes[each].family != family for each in base)

    def families(self, each: Explanation) -> frozenset[str]:
        return frozenset(self.causes[place].family for place in each.causes)

    def rival(self, best: Explanation, every: list[Explanation], near: list[Explanation]) -> Explanation | None:
        """The best that says something else: other families, and not those of the best with one more."""
        said = [self.families(each) for each in near]
        own = self.families(best)
        for each in every:
            families = self.families(each)
            if families not in said and (not own or not families > own):
                return self.whole(each)
        return None

    def varied(self, grown: dict[tuple[int, ...], Explanation]) -> list[tuple[int, ...]]:
        """The best sets, and not all of one kind."""
        kept: list[tuple[int, ...]] = []
        count: dict[tuple[str, ...], int] = {}
        for chosen in sorted(grown, key=lambda each: (-_score(grown[each]), each)):
            kind = tuple(sorted(self.causes[each].family for each in chosen))
            count[kind] = count.get(kind, 0) + 1
            if count[kind] <= OF_ONE_KIND:
                kept.append(chosen)
            if len(kept) == KEPT:
                break
        return kept

    def _fit(self, chosen: tuple[int, ...]) -> tuple[float, np.ndarray, np.ndarray]:
        """Misfit before fitting, right-hand side and normal matrix of the open sizes, in prior units."""
        terms = np.array([0, *(1 + each for each in chosen)])
        signs = np.append(1.0, -np.ones(len(chosen)))
        misfit = float(signs @ self.gram[np.ix_(terms, terms)] @ signs)
        open_ = np.concatenate([self.blocks[each] for each in chosen]) if chosen else np.zeros(0, int)
        return misfit, self.gram[np.ix_(open_, terms)] @ signs, self.gram[np.ix_(open_, open_)]

    def explain(self, chosen: tuple[int, ...], log_nothing: float) -> Explanation:
        misfit, right, normal = self._fit(chosen)
        count = right.size
        log_evidence = -misfit / 2
        chi2 = misfit
        if count:
            charged = cholesky(np.eye(count) + normal, lower=True)
            half = solve_triangular(charged, right, lower=True)
            log_evidence += float(half @ half) / 2 - float(np.log(np.diag(charged)).sum())
            chi2 = max(misfit - float(right @ np.linalg.lstsq(normal, right, rcond=1e-10)[0]), 0.0)
        dof = int(self.used.sum()) - (int(np.linalg.matrix_rank(normal, hermitian=True)) if count else 0)
        prior = sum(float(np.log(self.causes[each].weight)) for each in chosen)
        return Explanation(
            causes=chosen,
            probability=np.nan,
            log_evidence=log_evidence,
            log_prior=prior + (log_nothing if not chosen else 0.0),
            bic=chi2 + count * float(np.log(max(self.used.sum(), 1))),
            chi2=chi2,
            dof=dof,
            p_fit=float(chdtrc(dof, chi2)) if dof > 0 else np.nan,
            sizes=(),
            u_sizes=(),
            predicted=np.zeros(0),
        )

    def whole(self, each: Explanation) -> Explanation:
        """With its sizes and what it predicts: the most probable sizes, prior included."""
        _, right, normal = self._fit(each.causes)
        inverse = np.linalg.inv(np.eye(right.size) + normal)
        ends = np.cumsum([0, *(self.blocks[place].size for place in each.causes)])
        value, u = inverse @ right, np.sqrt(np.diag(inverse))
        predicted = np.zeros(self.size)
        sizes, u_sizes = [], []
        for place, (first, last) in zip(each.causes, pairwise(ends.tolist()), strict=True):
            cause = self.causes[place]
            sizes.append(value[first:last] * cause.spread)
            u_sizes.append(u[first:last] * cause.spread)
            predicted += cause.fixed + (cause.columns @ sizes[-1] if cause.spread.size else 0.0)
        predicted[~self.used] = np.nan
        return replace(each, sizes=tuple(sizes), u_sizes=tuple(u_sizes), predicted=predicted)

    def apart(self, one: Explanation, two: Explanation) -> float:
        """Distance between two predictions in standard uncertainties."""
        return float(np.linalg.norm(self._white_prediction(one) - self._white_prediction(two)))

    def _white_prediction(self, each: Explanation) -> np.ndarray:
        made = np.zeros(self.white.shape[0])
        for place, size in zip(each.causes, each.sizes, strict=True):
            made += self.white[:, 1 + place]
            if size.size:
                made += self.white[:, self.blocks[place]] @ (size / self.causes[place].spread)
        return made


def _root(spread: np.ndarray) -> np.ndarray:
    try:
        return cholesky(spread, lower=True)
    except np.linalg.LinAlgError as error:
        raise GeometryInputError(
            "The covariance of the residuals is not positive definite; every shot needs a random part above 0."
        ) from error
