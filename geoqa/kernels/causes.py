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
from typing import NamedTuple

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
NEEDED = 20.0
"""Odds that one cause more must have over the same explanation without it, before it is named."""
PATTERN, WIDEST = 6.0, 2.0
"""A misfit without a pattern beyond the first, in standard uncertainties, is scatter: the uncertainties are too
small, and are widened, by no more than the second."""
MOST = 3
"""Causes at once that are still looked for."""
KEPT, OF_ONE_KIND = 16, 3
"""Explanations of one size that are built upon, and how many of them may be of the same families."""
_PLAINLY = 1.0 - 1e-6  # of the smallest size; nearer to it the size is worked out once more, set by set


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
    smallest : float
        An open size that is smaller as a whole (root of the sum of squares) is no such cause.
    unlisted : bool
        Stands for what nobody lists: a group of residuals that moved together. It is never named; where it
        explains better than the known causes, none of them fits.
    """

    name: str
    family: str
    fixed: np.ndarray
    weight: float
    columns: np.ndarray = field(default_factory=lambda: np.zeros((0, 0)))
    spread: np.ndarray = field(default_factory=lambda: np.zeros(0))
    smallest: float = 0.0
    unlisted: bool = False


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
    remainder: np.ndarray
    rival: Explanation | None
    widened: float

    @property
    def best(self) -> Explanation:
        """The most probable explanation."""
        return self.ranked[0]

    @property
    def log_odds(self) -> float:
        """Natural logarithm of the odds of the best over its rival; infinite without one."""
        return np.inf if self.rival is None else _score(self.best) - _score(self.rival)


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
    if found.fits or found.unlisted or patterns is None or found.best.left > WIDEST:
        return found
    if strongest_pattern(observed - found.best.predicted, spread, patterns) > PATTERN:
        return found
    wider = found.best.left
    second = _weighed(observed, spread * wider**2, causes, nothing, most, fits, alike)
    # causes that change with the scatter were chasing a misfit that none of them explains
    return replace(second, widened=wider) if second.best.causes in (found.best.causes, ()) else found


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
    root = _root(np.asarray(spread, dtype=np.float64)[np.ix_(used, used)])
    white = solve_triangular(root, np.column_stack([left[used], patterns[used]]), lower=True)
    size = np.linalg.norm(white[:, 1:], axis=0)
    there = size > 0
    return float(np.max(np.abs(white[:, 0] @ white[:, 1:][:, there]) / size[there], initial=0.0))


def _weighed(
    observed: np.ndarray,
    spread: np.ndarray,
    causes: Sequence[Cause],
    nothing: float,
    most: int,
    fits: float,
    alike: float,
) -> Diagnosis:
    """As `weigh`, with the uncertainties as they are."""
    model = _Model(observed, spread, causes, nothing)
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
    odds = 0.0 if rival is None else float(np.exp(rival[1] - _score(best)))
    return Diagnosis(
        ranked=tuple(ranked),
        fits=better is None and model.leaves_noise(best, fits),
        unlisted=better,
        alike=tuple(near),
        remainder=(observed - best.predicted) / np.sqrt(np.diag(spread)),
        rival=None if rival is None else model.explain(rival[0], best.probability * odds),
        widened=1.0,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Sets:
    """Sets of causes in one table; going through it gives each set and its score."""

    places: np.ndarray  # (n, m), ascending; -1 past the last of a set
    score: np.ndarray  # (n,) log evidence plus log prior
    small: np.ndarray  # (n,) a cause of it is plainly smaller than such a cause is

    @classmethod
    def joined(cls, parts: Sequence[_Sets], most: int) -> _Sets:
        """One after another, each as wide as `most` causes."""
        wide = [np.pad(each.places, ((0, 0), (0, most - each.places.shape[1])), constant_values=-1) for each in parts]
        score, small = ([getattr(each, name) for each in parts] for name in ("score", "small"))
        return cls(places=np.concatenate(wide), score=np.concatenate(score), small=np.concatenate(small))

    def take(self, rows: np.ndarray) -> _Sets:
        return _Sets(places=self.places[rows], score=self.score[rows], small=self.small[rows])

    def best_first(self) -> _Sets:
        """By score; of equals the smaller set first, then by places."""
        count = (self.places >= 0).sum(axis=1)
        return self.take(np.lexsort((*self.places.T[::-1], count, -self.score)))

    def once(self, among: int) -> _Sets:
        """Each set as it came first; places are below `among`."""
        number = np.zeros(len(self.score), dtype=np.int64)
        for column in self.places.T:
            number = number * among + column
        return self.take(np.sort(np.unique(number, return_index=True)[1]))

    def __iter__(self) -> Iterator[tuple[tuple[int, ...], float]]:
        for places, score in zip(self.places, self.score.tolist(), strict=True):
            yield tuple(places[places >= 0].tolist()), score


def _sets_by_score(model: _Model, most: int) -> _Sets:
    """Sets of causes, best first."""
    found = [_Sets(places=np.zeros((1, 0), int), score=np.array([model.score(())]), small=np.zeros(1, bool))]
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
    return _Sets.joined(found, most).best_first()


def _explained(model: _Model, listed: _Sets) -> list[Explanation]:
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


def _score(each: Explanation) -> float:
    return each.log_evidence + each.log_prior


class _Alike(NamedTuple):
    """Causes with equally many open sizes, k, and their products with themselves."""

    places: np.ndarray  # (m,)
    open: np.ndarray  # (m, k) columns of `white`
    spread: np.ndarray  # (m, k)
    normal: np.ndarray  # (m, k, k) open by open
    least: np.ndarray  # (m, k) open by fixed
    misfit: np.ndarray  # (m,) fixed by fixed

    def take(self, rows: np.ndarray) -> _Alike:
        return _Alike(*(each[rows] for each in self))


class _Model:
    """Residuals and causes in whitened units.

    The columns of `white` are what was observed, nothing, then what causes make at least and for one spread of each
    open size. `fixed` has the column of what each cause makes at least; most make nothing.
    """

    def __init__(self, observed: np.ndarray, spread: np.ndarray, causes: Sequence[Cause], nothing: float) -> None:
        self.causes, self.size, self.nothing = causes, observed.size, float(np.log(nothing))
        self.prior = np.log([each.weight for each in causes]) if causes else np.zeros(0)
        self.smallest = np.array([each.smallest for each in causes])
        self.nobodys = np.array([each.unlisted for each in causes], dtype=bool)
        self.family = np.unique([each.family for each in causes], return_inverse=True)[1]
        self.used = np.isfinite(observed)
        parts = [observed[self.used], np.zeros(self.used.sum())]
        self.fixed = np.ones(len(causes), dtype=int)
        for place, each in enumerate(causes):
            if each.fixed.any():
                self.fixed[place] = len(parts)
                parts.append(each.fixed[self.used])
        self.blocks = []
        for each in causes:
            self.blocks.append(np.arange(len(parts), len(parts) + each.spread.size))
            parts += [*(each.columns[self.used] * each.spread).T] if each.spread.size else []
        raw = np.stack(parts).T
        if not np.isfinite(raw).all():
            raise GeometryInputError("A cause has no value for a residual that was observed; give it one or drop it.")
        root = _root(spread[np.ix_(self.used, self.used)])
        self.white = solve_triangular(root, raw, lower=True) if self.used.any() else raw
        self.alike = [self._of_size(count) for count in sorted({each.spread.size for each in causes})]

    def _of_size(self, count: int) -> _Alike:
        places = np.array([place for place, each in enumerate(self.causes) if each.spread.size == count])
        open_ = np.array([self.blocks[place] for place in places]).reshape(len(places), count)
        made, least = self.white[:, open_], self.white[:, self.fixed[places]]
        return _Alike(
            places=places,
            open=open_,
            spread=np.array([self.causes[place].spread for place in places]).reshape(len(places), count),
            normal=np.einsum("rci,rcj->cij", made, made),
            least=np.einsum("rci,rc->ci", made, least),
            misfit=np.einsum("rc,rc->c", least, least),
        )

    def families(self, chosen: tuple[int, ...]) -> frozenset[str]:
        return frozenset(self.causes[place].family for place in chosen)

    def grown(self, layer: Sequence[tuple[int, ...]]) -> _Sets:
        """All sets with one cause more, at most one of a family."""
        bases = [self._held(base) for base in layer]
        # all products of columns at once: one after another they would take most of the time
        products = self.white.T @ np.column_stack([column for left, made in bases for column in (left, *made.T)])
        made, first = [], 0
        for base, (left, open_) in zip(layer, bases, strict=True):
            last = first + 1 + open_.shape[1]
            free = ~np.isin(self.family, self.family[list(base)])
            for alike in self.alike:
                more = alike.take(free[alike.places])
                if len(more.places):
                    made.append(self._with_one(base, left, open_, products[:, first:last], more))
            first = last
        if not made:
            return _Sets(places=np.zeros((0, len(layer[0]) + 1), int), score=np.zeros(0), small=np.zeros(0, bool))
        return _Sets.joined(made, len(layer[0]) + 1).once(len(self.causes))

    def _with_one(
        self, base: tuple[int, ...], left: np.ndarray, made: np.ndarray, products: np.ndarray, more: _Alike
    ) -> _Sets:
        """The base with each of these causes; what it leaves and what its open sizes make, times every column."""
        own, fixed = more.open, self.fixed[more.places]
        held = made.shape[1]
        misfit = left @ left + more.misfit - 2 * products[fixed, 0]
        right = np.column_stack([left @ made - products[fixed, 1:], products[own, 0] - more.least])
        score = self.prior[more.places] + float(self.prior[list(base)].sum()) - misfit / 2
        small = np.zeros(len(more.places), dtype=bool)
        if right.shape[1]:
            charged = np.empty((len(more.places), right.shape[1], right.shape[1]))
            charged[:, :held, :held], charged[:, held:, held:] = made.T @ made, more.normal
            charged[:, held:, :held] = products[own, 1:]
            charged[:, :held, held:] = charged[:, held:, :held].transpose(0, 2, 1)
            charged += np.eye(right.shape[1])
            sizes = np.linalg.solve(charged, right[:, :, None])[:, :, 0]
            score = score + np.sum(right * sizes, axis=1) / 2 - np.linalg.slogdet(charged)[1] / 2
            small = self._small(base, sizes, more)
        places = np.column_stack([np.tile(np.array(base, int), (len(more.places), 1)), more.places])
        return _Sets(places=np.sort(places, axis=1), score=score, small=small)

    def _small(self, base: tuple[int, ...], sizes: np.ndarray, more: _Alike) -> np.ndarray:
        """Where a cause is plainly smaller than such a cause is."""
        small, first = np.zeros(len(sizes), dtype=bool), 0
        for each in base:
            cause = self.causes[each]
            last = first + cause.spread.size
            small |= np.linalg.norm(sizes[:, first:last] * cause.spread, axis=1) < _PLAINLY * cause.smallest
            first = last
        own = np.linalg.norm(sizes[:, first:] * more.spread, axis=1)
        return small | (own < _PLAINLY * self.smallest[more.places])

    def varied(self, best_first: _Sets) -> list[tuple[int, ...]]:
        """The best sets, and not all of one kind."""
        kept: list[tuple[int, ...]] = []
        count: dict[tuple[str, ...], int] = {}
        for chosen, _ in best_first:
            kind = tuple(sorted(self.causes[each].family for each in chosen))
            count[kind] = count.get(kind, 0) + 1
            if count[kind] <= OF_ONE_KIND:
                kept.append(chosen)
            if len(kept) == KEPT:
                break
        return kept

    def simplest(self, ranked: Sequence[Explanation], fits: float) -> Explanation:
        """The first, or what says less and fits, where the odds do not ask for more."""
        first, own = ranked[0], self.families(ranked[0].causes)
        less = [
            each
            for each in ranked
            if self.families(each.causes) < own
            and self.leaves_noise(each, fits)
            and each.probability * NEEDED >= first.probability
        ]
        return min(less, key=lambda each: (len(each.causes), -each.probability), default=first)

    def better_unlisted(self, best: Explanation, every: _Sets, fits: float) -> Explanation | None:
        """The most probable set with something unlisted in it, where it fits and beats the best of known causes.

        What only adds to a best that fits must be needed, as any cause; what fits with fewer causes than the best
        stands unless the odds ask for more.
        """
        sets = (each for each in every.take(self.unlisted(every.places)) if self.large_enough(each[0]))
        found = next((self.explain(each[0], np.nan) for each in sets), None)
        if found is None or not self.leaves_noise(found, fits):
            return None
        asked = 0.0
        if self.leaves_noise(best, fits):
            adds = self.families(best.causes) < self.families(found.causes)
            fewer = len(found.causes) < len(best.causes)
            asked = float(np.log(NEEDED)) * (adds - fewer)
        return found if _score(found) - _score(best) > asked else None

    def unlisted(self, places: np.ndarray) -> np.ndarray:
        """Which sets, (n, m) places, hold something that nobody lists."""
        return np.append(self.nobodys, False)[places].any(axis=1)

    @staticmethod
    def leaves_noise(each: Explanation, fits: float) -> bool:
        return bool(each.p_fit >= fits or each.dof <= 0)

    def large_enough(self, chosen: tuple[int, ...]) -> bool:
        """No cause of a set is smaller than such a cause is."""
        if not self.smallest[list(chosen)].any():
            return True
        left, made = self._held(chosen)
        sizes = np.linalg.solve(np.eye(made.shape[1]) + made.T @ made, made.T @ left)
        first = 0
        for place in chosen:
            cause = self.causes[place]
            last = first + cause.spread.size
            if float(np.linalg.norm(sizes[first:last] * cause.spread)) < cause.smallest:
                return False
            first = last
        return True

    def _held(self, chosen: tuple[int, ...]) -> tuple[np.ndarray, np.ndarray]:
        """What the fixed parts of a set leave of the observed, and the columns of its open sizes."""
        left = self.white[:, 0] - self.white[:, self.fixed[list(chosen)]].sum(axis=1)
        return left, self.white[:, [column for place in chosen for column in self.blocks[place].tolist()]]

    def score(self, chosen: tuple[int, ...]) -> float:
        """Log evidence plus log prior."""
        return _score(self.explain(chosen, np.nan))

    def explain(self, chosen: tuple[int, ...], probability: float) -> Explanation:
        """Evidence, misfit, the most probable sizes with the prior, and what they predict."""
        left, made = self._held(chosen)
        misfit, right, normal = float(left @ left), made.T @ left, made.T @ made
        inverse = np.linalg.inv(np.eye(right.size) + normal)
        rank = int(np.linalg.matrix_rank(normal, hermitian=True)) if right.size else 0
        chi2 = misfit - float(right @ np.linalg.lstsq(normal, right, rcond=1e-10)[0]) if right.size else misfit
        dof, chi2 = int(self.used.sum()) - rank, max(chi2, 0.0)
        sizes, u_sizes, predicted = self._sizes(chosen, inverse @ right, np.sqrt(np.diag(inverse)))
        return Explanation(
            causes=chosen,
            probability=probability,
            log_evidence=-misfit / 2 + float(right @ inverse @ right) / 2 + float(np.linalg.slogdet(inverse)[1]) / 2,
            log_prior=float(sum(self.prior[each] for each in chosen)) if chosen else self.nothing,
            bic=chi2 + right.size * float(np.log(max(self.used.sum(), 1))),
            chi2=chi2,
            dof=dof,
            p_fit=float(chdtrc(dof, chi2)) if dof > 0 else np.nan,
            sizes=sizes,
            u_sizes=u_sizes,
            predicted=predicted,
        )

    def _sizes(
        self, chosen: tuple[int, ...], value: np.ndarray, u: np.ndarray
    ) -> tuple[tuple[np.ndarray, ...], tuple[np.ndarray, ...], np.ndarray]:
        """Sizes and their uncertainties in the causes' own units, and the residuals they predict."""
        ends = np.cumsum([0, *(self.blocks[place].size for place in chosen)]).tolist()
        predicted = np.zeros(self.size)
        sizes, u_sizes = [], []
        for place, (first, last) in zip(chosen, pairwise(ends), strict=True):
            cause = self.causes[place]
            sizes.append(value[first:last] * cause.spread)
            u_sizes.append(u[first:last] * cause.spread)
            predicted += cause.fixed + (cause.columns @ sizes[-1] if cause.spread.size else 0.0)
        predicted[~self.used] = np.nan
        return tuple(sizes), tuple(u_sizes), predicted

    def apart(self, one: Explanation, two: Explanation) -> float:
        """Distance between two predictions in standard uncertainties."""
        return float(np.linalg.norm(self._white_prediction(one) - self._white_prediction(two)))

    def _white_prediction(self, each: Explanation) -> np.ndarray:
        made = np.zeros(self.white.shape[0])
        for place, size in zip(each.causes, each.sizes, strict=True):
            made += self.white[:, self.fixed[place]]
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
