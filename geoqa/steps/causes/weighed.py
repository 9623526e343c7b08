"""What the weighing of causes left: the record from which causes are named."""

from dataclasses import dataclass

import numpy as np

from geoqa.frames.readings.signatures import Signature
from geoqa.kernels.causes.prediction import Explanation
from geoqa.kernels.causes.weighing import Diagnosis
from geoqa.steps.causes.suspects import Checks, Suspect


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
