"""Steps that do not wait for each other run in several processes; what comes out is what one of them makes."""

import pickle
import threading
import warnings
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from typing import TYPE_CHECKING, Generic, TypeVar

from geoqa.job.beside.pipe import LOST, Other, ask, packed
from geoqa.job.beside.standing import Standing
from geoqa.job.execute import Progress, execute, in_order, made_by, silent
from geoqa.job.plan import behind, plan, waits_for
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers

if TYPE_CHECKING:
    import pandas as pd

Laid = TypeVar("Laid", bound=Layers)


def judged(layers: Laid, steps: Iterable[Step], others: Sequence[Other], *, progress: Progress = silent) -> Laid:
    """Run steps as `execute` does, some of them in other processes.

    Parameters
    ----------
    layers : Layers
    steps : iterable of Step
    others : sequence of processes
        They answer as `geoqa.job.beside.answering` does.
    progress : callable
        Called with the name of each step that runs here, how many are done, and how many there are.

    Returns
    -------
    Layers
        The same to the last bit as `execute` makes.

    Raises
    ------
    StepError
        As `execute` raises it: where several steps fail, the first of the plan is named.
    """
    steps = tuple(steps)
    order = plan(steps, layers.available()).order
    told = packed((layers, order)) if others else None
    if told is None:
        return execute(layers, steps, progress=progress)
    board = _Board(layers, order)
    threads = [threading.Thread(target=_have_run, args=(other, board, told), daemon=True) for other in others]
    for thread in threads:
        thread.start()
    try:
        while (number := board.taken(here=True)) is not None:
            progress(order[number].name, len(board.standing.made), len(order))
            board.put(number, board.made_here(number))
    except Exception:
        # an earlier step of the plan, that another process has in hand, may fail too: that is the one to name
        board.stop()
    for thread in threads:
        thread.join()
    for number in board.left():
        board.put(number, board.made_here(number))
    for text in board.warned:
        warnings.warn(text, stacklevel=2)
    progress("done", len(order), len(order))
    return in_order(board.layers())


class _Board(Generic[Laid]):
    """Which steps wait, which are in hand, and what is made; any thread may ask."""

    def __init__(self, layers: Laid, order: Sequence[Step]) -> None:
        self.standing: Standing[Laid] = Standing(layers, order)
        place = {step.name: number for number, step in enumerate(order)}
        self._waits = [{place[each] for each in waits} for waits in waits_for(order).values()]
        most = behind(order)
        self._first = sorted(range(len(order)), key=lambda number: -most[number])
        self._waiting = list(self._first)
        self._only_here: set[int] = set()
        self._packed: dict[int, bytes] = {}
        self._changed = threading.Condition()
        self.warned: list[str] = []

    def taken(self, *, here: bool) -> int | None:
        """Take the step behind which most waits; waits where none can run, and says None where none will come."""
        with self._changed:
            while any(here or each not in self._only_here for each in self._waiting):
                for number in self._waiting:
                    if self._waits[number] <= self.standing.made.keys() and (here or number not in self._only_here):
                        self._waiting.remove(number)
                        return number
                self._changed.wait()
            return None

    def put(self, number: int, made: "Mapping[str, pd.DataFrame]", told: bytes | None = None) -> None:
        """Lay down what a step made, and as the bytes that another process sent where it did."""
        with self._changed:
            self.standing.put(number, made)
            if told is not None:
                self._packed[number] = told
            self._changed.notify_all()

    def give_back(self, number: int) -> None:
        """Where it is not made, another process cannot run it, and this one must."""
        with self._changed:
            if number in self.standing.made:
                return
            self._waiting = [each for each in self._first if each in {*self._waiting, number}]
            self._only_here.add(number)
            self._changed.notify_all()

    def stop(self) -> None:
        """Nobody takes another step."""
        with self._changed:
            self._waiting = []
            self._changed.notify_all()

    def left(self) -> list[int]:
        """What is not made, in the order of the plan."""
        return [number for number in range(len(self.standing.order)) if number not in self.standing.made]

    def made_here(self, number: int) -> "Mapping[str, pd.DataFrame]":
        """What a step makes, in this process."""
        step = self.standing.order[number]
        with self._changed:
            layers = self.standing.layers_for(step)
        return made_by(step, layers)

    def layers(self) -> Laid:
        """All that is made so far."""
        with self._changed:
            return self.standing.layers()

    def news(self, known: set[int]) -> list[tuple[int, bytes]]:
        """What was made since another process knew of these; they are known from now on."""
        with self._changed:
            new = sorted(self.standing.made.keys() - known)
            for number in (each for each in new if each not in self._packed):
                self._packed[number] = pickle.dumps(self.standing.made[number], protocol=pickle.HIGHEST_PROTOCOL)
            known.update(new)
            return [(number, self._packed[number]) for number in new]


def _have_run(other: Other, board: _Board[Laid], told: bytes) -> None:
    """Have one process run steps, until none will come or it is gone."""
    known: set[int] = set()
    with suppress(*LOST):
        ask(other, "plan", told)  # no step waits in a process that is busy with something else
        while (number := board.taken(here=False)) is not None:
            try:
                made, warned = ask(other, "run", number, board.news(known))
                if made is not None:
                    board.put(number, pickle.loads(made), made)
                    known.add(number)
                    board.warned += warned
            finally:
                board.give_back(number)
