"""A piece of evidence of many findings: what it says under each explanation, and what is counted."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True)
class Piece:
    """One piece of evidence for each of n findings: log likelihoods (n, 4), and what is counted."""

    name: str
    log: np.ndarray
    count: np.ndarray
    total: np.ndarray
    variant: np.ndarray
    good: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=int))
    """How many of the total are off by no more than their u allows; of numbers alone."""


def texts(count: int) -> np.ndarray:
    """No variant, (n,)."""
    return np.full(count, "", dtype=object)
