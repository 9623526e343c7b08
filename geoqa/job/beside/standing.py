"""What the steps of a plan have made by now, laid over what was read in the order of the plan, whoever ended when."""

from bisect import insort
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Generic, TypeVar

from geoqa.job.execute import table_over
from geoqa.model.step import Step
from geoqa.model.tables.columns import STARTING
from geoqa.model.tables.layer import Layers

if TYPE_CHECKING:
    import pandas as pd

Laid = TypeVar("Laid", bound=Layers)

ADDED_TO = frozenset(STARTING)
"""Tables to which steps add rows: most steps add to the findings, and few read them."""


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
        self._read = self._layers = read
        self._tables: dict[str, _Table] = {}

    def put(self, number: int, made: "Mapping[str, pd.DataFrame]") -> None:
        """Keep what the step of that place in the plan made."""
        self._read.refuse_undeclared(self.order[number], made)
        self.made[number] = made
        for name in made:
            self._tables.setdefault(name, _Table(self._read, name)).put(number)

    def layers(self) -> Laid:
        """What was read, with all that was made so far."""
        names = dict.fromkeys(name for number in sorted(self.made) for name in self.made[number])
        return self._read.with_tables(self._laid(names)) if names else self._read

    def layers_for(self, step: Step) -> Laid:
        """As `layers`, but of the tables that many steps add rows to only what the step says it asks for."""
        asked = {each.partition(".")[0] for each in (*step.needs, *step.wants)}
        self._layers = self._layers.with_tables(self._laid(self._tables.keys() - (ADDED_TO - asked)))
        return self._layers

    def _laid(self, names: Iterable[str]) -> "dict[str, pd.DataFrame]":
        return {name: self._tables[name].laid(self.order, self.made) for name in names}


class _Table:
    """One table, with the places in the plan of the steps that made something of it."""

    def __init__(self, read: Layers, name: str) -> None:
        self._read, self._name = read, name
        self._of: list[int] = []
        self._forms: list[pd.DataFrame | None] = [read[name]] if name in read else [None]

    def put(self, number: int) -> None:
        """Take in that a step made something of it."""
        insort(self._of, number)
        del self._forms[self._of.index(number) + 1 :]  # what was laid over it is laid again when it is asked for

    def laid(self, order: Sequence[Step], made: Mapping[int, "Mapping[str, pd.DataFrame]"]) -> "pd.DataFrame":
        """The table with all that was made of it."""
        for number in self._of[len(self._forms) - 1 :]:
            old, new = self._forms[-1], made[number][self._name]
            self._forms.append(table_over(self._read, order[number], self._name, new, old))
        table = self._forms[-1]
        assert table is not None
        return table
