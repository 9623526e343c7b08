"""What the steps of a plan have made by now, laid over what was read in the order of the plan, whoever ended when."""

from bisect import bisect
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Generic, TypeVar

from geoqa.job.execute import laid_over
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers

if TYPE_CHECKING:
    import pandas as pd

Laid = TypeVar("Laid", bound=Layers)


class Standing(Generic[Laid]):
    """Layers as they stand while steps end in any order.

    Parameters
    ----------
    read : Layers
        What was there before any step.
    order : sequence of Step
        The plan.
    """

    def __init__(self, read: Laid, order: Sequence[Step]) -> None:
        self.order = order
        self.made: dict[int, Mapping[str, pd.DataFrame]] = {}
        self._laid: list[int] = []
        self._layers = [read]

    def put(self, number: int, made: "Mapping[str, pd.DataFrame]") -> None:
        """Keep what the step of that place in the plan made."""
        self.made[number] = made
        at = bisect(self._laid, number)
        del self._laid[at:], self._layers[at + 1 :]  # what was laid over it is laid again when it is asked for

    def layers(self) -> Laid:
        """What was read, with all that was made so far."""
        last = self._laid[-1] if self._laid else -1
        for number in sorted(each for each in self.made if each > last):
            self._layers.append(laid_over(self._layers[-1], self.order[number], self.made[number]))
            self._laid.append(number)
        return self._layers[-1]
