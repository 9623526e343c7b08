"""Sets of known causes held against residuals: grown by one cause at a time, and scored many at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from scipy.linalg import cholesky, solve_triangular
from scipy.special import chdtrc

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers
from geoqa.kernels.causes.prediction import Cause, Explanation

NEEDED = 20.0
"""Odds that one cause more must have over the same explanation without it, before it is named."""
KEPT, OF_ONE_KIND = 16, 3
"""Explanations of one size that are built upon, and how many of them may be of the same families."""
_PLAINLY = 1.0 - 1e-6  # of the smallest size; nearer to it the size is worked out once more, set by set


@dataclass(frozen=True, kw_only=True, eq=False)
class Sets:
    """Sets of causes in one table; going through it gives each set and its score."""

    places: Integers  # (n, m), ascending; -1 past the last of a set
    score: Floats  # (n,) log evidence plus log prior
    small: Booleans  # (n,) a cause of it is plainly smaller than such a cause is

    @classmethod
    def joined(cls, parts: Sequence[Sets], most: int) -> Sets:
        """One after another, each as wide as `most` causes."""
        wide = [np.pad(each.places, ((0, 0), (0, most - each.places.shape[1])), constant_values=-1) for each in parts]
        score, small = ([getattr(each, name) for each in parts] for name in ("score", "small"))
        return cls(places=np.concatenate(wide), score=np.concatenate(score), small=np.concatenate(small))

    def take(self, rows: np.ndarray) -> Sets:
        """Some of them."""
        return Sets(places=self.places[rows], score=self.score[rows], small=self.small[rows])

    def best_first(self) -> Sets:
        """By score; of equals the smaller set first, then by places."""
        count = (self.places >= 0).sum(axis=1)
        return self.take(np.lexsort((*self.places.T[::-1], count, -self.score)))

    def once(self, among: int) -> Sets:
        """Each set as it came first; places are below `among`."""
        number = np.zeros(len(self.score), dtype=np.int64)
        for column in self.places.T:
            number = number * among + column
        return self.take(np.sort(np.unique(number, return_index=True)[1]))

    def __iter__(self) -> Iterator[tuple[tuple[int, ...], float]]:
        for places, score in zip(self.places, self.score.tolist(), strict=True):
            yield tuple(places[places >= 0].tolist()), score


class _Alike(NamedTuple):
    """Causes with equally many open sizes, k, and their products with themselves."""

    places: np.ndarray  # (m,)
    open: np.ndarray  # (m, k) columns of `white`
    spread: np.ndarray  # (m, k)
    normal: np.ndarray  # (m, k, k) open by open
    least: np.ndarray  # (m, k) open by fixed
    misfit: np.ndarray  # (m,) fixed by fixed

    def take(self, rows: Booleans) -> _Alike:
        return _Alike(*(each[rows] for each in self))


class CauseModel:
    """Residuals and causes in whitened units.

    The columns of `white` are what was observed, nothing, then what causes make at least and for one spread of each
    open size. `fixed` has the column of what each cause makes at least; most make nothing.
    """

    def __init__(self, observed: Floats, spread: Floats, causes: Sequence[Cause], nothing: float) -> None:
        self.causes, self.size, self.nothing = causes, observed.size, float(np.log(nothing))
        self.prior = np.log([each.weight for each in causes]) if causes else np.zeros(0)
        self.smallest = np.array([each.smallest for each in causes])
        self.nobodys = np.array([each.unlisted for each in causes], dtype=bool)
        self.smooths = np.array([each.smooth for each in causes], dtype=bool)
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
        root = covariance_root(spread[np.ix_(self.used, self.used)])
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
        """Families of the causes of a set."""
        return frozenset(self.causes[place].family for place in chosen)

    def grown(self, layer: Sequence[tuple[int, ...]]) -> Sets:
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
            return Sets(places=np.zeros((0, len(layer[0]) + 1), int), score=np.zeros(0), small=np.zeros(0, bool))
        return Sets.joined(made, len(layer[0]) + 1).once(len(self.causes))

    def _with_one(
        self, base: tuple[int, ...], left: Floats, open_columns: Floats, products: Floats, more: _Alike
    ) -> Sets:
        """The base with each of these causes; what it leaves and what its open sizes make, times every column."""
        own, fixed = more.open, self.fixed[more.places]
        held = open_columns.shape[1]
        misfit = left @ left + more.misfit - 2 * products[fixed, 0]
        right = np.column_stack([left @ open_columns - products[fixed, 1:], products[own, 0] - more.least])
        score = self.prior[more.places] + float(self.prior[list(base)].sum()) - misfit / 2
        small = np.zeros(len(more.places), dtype=bool)
        if right.shape[1]:
            charged = np.empty((len(more.places), right.shape[1], right.shape[1]))
            charged[:, :held, :held], charged[:, held:, held:] = open_columns.T @ open_columns, more.normal
            charged[:, held:, :held] = products[own, 1:]
            charged[:, :held, held:] = charged[:, held:, :held].transpose(0, 2, 1)
            charged += np.eye(right.shape[1])
            sizes = np.linalg.solve(charged, right[:, :, None])[:, :, 0]
            score = score + np.sum(right * sizes, axis=1) / 2 - np.linalg.slogdet(charged)[1] / 2
            small = self._small(base, sizes, more)
        places = np.column_stack([np.tile(np.array(base, int), (len(more.places), 1)), more.places])
        return Sets(places=np.sort(places, axis=1), score=score, small=small)

    def _small(self, base: tuple[int, ...], sizes: Floats, more: _Alike) -> Booleans:
        """Where a cause is plainly smaller than such a cause is."""
        small, first = np.zeros(len(sizes), dtype=bool), 0
        for each in base:
            cause = self.causes[each]
            last = first + cause.spread.size
            small |= np.linalg.norm(sizes[:, first:last] * cause.spread, axis=1) < _PLAINLY * cause.smallest
            first = last
        own = np.linalg.norm(sizes[:, first:] * more.spread, axis=1)
        return small | (own < _PLAINLY * self.smallest[more.places])

    def varied(self, best_first: Sets) -> list[tuple[int, ...]]:
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

    def better_unlisted(self, best: Explanation, every: Sets, fits: float) -> Explanation | None:
        """The most probable set with something unlisted in it, where it fits and beats the best of known causes.

        What only adds to a best that fits must be needed, as any cause; what fits with fewer causes than the best
        stands unless the odds ask for more. So does what follows the place, where the best blames published values.
        """
        found = self._beats(best, every.take(self.unlisted(every.places)), fits)
        if found is None and any(self.causes[place].blames for place in best.causes) and self.smooths.any():
            smooth = np.any(np.append(self.smooths, False)[every.places], axis=1)
            found = self._beats(best, every.take(smooth), fits, favour=1)
        return found

    def _beats(self, best: Explanation, sets: Sets, fits: float, *, favour: int = 0) -> Explanation | None:
        """The most probable of these sets, where it fits and has the odds over the best that are asked of it.

        `favour` counts causes that the sets are forgiven.
        """
        found = next((self.explain(each[0], np.nan) for each in sets if self.large_enough(each[0])), None)
        if found is None or not self.leaves_noise(found, fits):
            return None
        asked = 0.0
        if self.leaves_noise(best, fits):
            adds = self.families(best.causes) < self.families(found.causes)
            fewer = len(found.causes) < len(best.causes) + favour
            asked = float(np.log(NEEDED)) * (adds - fewer)
        return found if found.score - best.score > asked else None

    def unlisted(self, places: Integers) -> Booleans:
        """Which sets, (n, m) places, hold something that nobody lists."""
        return np.any(np.append(self.nobodys, False)[places], axis=1)

    @staticmethod
    def leaves_noise(explanation: Explanation, fits: float) -> bool:
        """Honest noise leaves as much, by chance, often enough."""
        return bool(explanation.p_fit >= fits or explanation.dof <= 0)

    def large_enough(self, chosen: tuple[int, ...]) -> bool:
        """No cause of a set is smaller than such a cause is."""
        asked = [self.causes[place] for place in chosen]
        if not any(each.smallest or each.least or each.level for each in asked):
            return True
        left, made = self._held(chosen)
        sizes = np.linalg.solve(np.eye(made.shape[1]) + made.T @ made, made.T @ left) if made.shape[1] else np.zeros(0)
        first = 0
        for place in chosen:
            cause = self.causes[place]
            last = first + cause.spread.size
            size = sizes[first:last] * cause.spread
            if float(np.linalg.norm(size)) < cause.smallest or not _effective(cause, size):
                return False
            first = last
        return True

    def _held(self, chosen: tuple[int, ...]) -> tuple[Floats, Floats]:
        """What the fixed parts of a set leave of the observed, and the columns of its open sizes."""
        left = self.white[:, 0] - self.white[:, self.fixed[list(chosen)]].sum(axis=1)
        return left, self.white[:, [column for place in chosen for column in self.blocks[place].tolist()]]

    def score(self, chosen: tuple[int, ...]) -> float:
        """Log evidence plus log prior."""
        return self.explain(chosen, np.nan).score

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
        self, chosen: tuple[int, ...], value: Floats, u: Floats
    ) -> tuple[tuple[Floats, ...], tuple[Floats, ...], Floats]:
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

    def _white_prediction(self, explanation: Explanation) -> Floats:
        made = np.zeros(self.white.shape[0])
        for place, size in zip(explanation.causes, explanation.sizes, strict=True):
            made += self.white[:, self.fixed[place]]
            if size.size:
                made += self.white[:, self.blocks[place]] @ (size / self.causes[place].spread)
        return made


def _effective(cause: Cause, size: Floats) -> bool:
    """Whether the residuals that a cause moves at all are moved as far, in all and on the average, as it must."""
    if not (cause.least or cause.level):
        return True
    made = cause.fixed + (cause.columns @ size if size.size else 0.0)
    moved = (cause.fixed != 0) | (cause.columns != 0).any(axis=1) if size.size else cause.fixed != 0
    if not moved.any():
        return False
    return bool(np.sqrt(np.mean(made[moved] ** 2)) >= cause.least and abs(np.mean(made[moved])) >= cause.level)


def covariance_root(spread: Floats) -> Floats:
    """Lower triangular root of a covariance, (n, n).

    Raises
    ------
    GeometryInputError
        It is not positive definite.

    Examples
    --------
    >>> covariance_root(np.array([[4.0, 0.0], [0.0, 9.0]])).tolist()
    [[2.0, 0.0], [0.0, 3.0]]
    """
    try:
        return cholesky(spread, lower=True)
    except np.linalg.LinAlgError as error:
        raise GeometryInputError(
            "The covariance of the residuals is not positive definite; every shot needs a random part above 0."
        ) from error
