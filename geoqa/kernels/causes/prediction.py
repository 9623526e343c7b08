"""One known cause of residuals, and what a set of causes explains of them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from geoqa.kernels.arrays import Floats


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
    least : float
        Residuals that it moves by less than this (root mean square over those it moves at all) show no such cause.
    level : float
        Residuals that it moves by less than this on the average, whatever else it does to them, show no such cause.
    unlisted : bool
        Stands for what nobody lists: a group of residuals that moved together. It is never named; where it
        explains better than the known causes, none of them fits.
    blames : bool
        Lays it to a published value, and not to the survey: said only where nothing smooth explains it nearly as well.
    smooth : bool
        Unlisted, and follows the place.
    """

    name: str
    family: str
    fixed: Floats
    weight: float
    columns: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    spread: Floats = field(default_factory=lambda: np.zeros(0))
    smallest: float = 0.0
    least: float = 0.0
    level: float = 0.0
    unlisted: bool = False
    blames: bool = False
    smooth: bool = False


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
    sizes: tuple[Floats, ...]
    u_sizes: tuple[Floats, ...]
    predicted: Floats

    @property
    def score(self) -> float:
        """Log evidence plus log prior; of two sets of causes the higher is the more probable."""
        return self.log_evidence + self.log_prior

    @property
    def left(self) -> float:
        """Root mean square of what stays unexplained, in standard uncertainties; near 1 for honest noise."""
        return float(np.sqrt(self.chi2 / self.dof)) if self.dof > 0 else np.nan
