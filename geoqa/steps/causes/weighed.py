"""What the weighing of causes left: the record from which causes are named."""

from dataclasses import dataclass

import numpy as np

from geoqa.frames.readings.signatures import Signature
from geoqa.kernels.causes.prediction import Explanation
from geoqa.kernels.causes.weighing import Diagnosis
from geoqa.steps.causes.suspects import Checks, Suspect

UNDONE = 400.0
"""Feet: what may be left after a gross mistake was undone."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Undone:
    """A gross mistake taken back before anything is weighed."""

    signature: Signature
    restored: np.ndarray


@dataclass(frozen=True, kw_only=True, eq=False)
class Weighed:
    """Causes weighed against the check shots, after a gross mistake was undone."""

    weighed: Diagnosis
    suspects: list[Suspect]
    checks: Checks
    undone: Undone | None
    epoch: float | None

    @property
    def answer(self) -> Explanation:
        """The best explanation, or the better one that holds something unlisted."""
        return self.weighed.unlisted or self.weighed.best


def undo(checks: Checks, gross: list[Signature]) -> Undone | None:
    """The gross mistake after which the check shots lie nearest to their marks, if they lie near at all."""
    best, least = None, np.inf
    for signature in gross:
        restored = signature.restore(checks.points)
        away = restored[checks.row] - checks.published
        left = float(np.nanmedian(np.linalg.norm(np.nan_to_num(away, nan=0.0), axis=1)))
        if np.isfinite(away[:, :2]).all(axis=1).sum() * 2 > len(away) and left < least:
            best, least = Undone(signature=signature, restored=restored), left
    return best if least < UNDONE * checks.unit else None


def left_open(undone: Undone, checks: Checks) -> Suspect:
    """What an undone gross mistake leaves open: a shift of all shots as large as the datums differ by."""
    signature = undone.signature
    return Suspect(
        cause=signature.cause, variant=f"{signature.variant}, datum shift", acts=np.ones(len(checks.shots), bool),
        axes=(0, 1), spread=signature.spread, weight=1.0, subject="all shots",
    )  # fmt: skip
