"""Processes that judge and write beside the run: begun early, fed through a pipe, gone when the run is.

What a process cannot do, for whatever reason, the run does itself: the files are the same for any number of them.
"""

import os
import pickle
import subprocess
import sys
import threading
import warnings
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from functools import cached_property, partial
from pathlib import Path
from typing import Any, Self, TypeVar

from geoqa.job.beside.judging import judged
from geoqa.job.beside.one_output import written
from geoqa.job.beside.pipe import BEGINS, LOST, Other, ask, packed, say
from geoqa.job.execute import Progress, silent
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers

Laid = TypeVar("Laid", bound=Layers)
Made = TypeVar("Made")

PAYS = (60_000, 8_000_000)
"""Bytes of shots between which other processes pay: below, their start costs more than they save; above, the memory
that each of them needs for the results is worth more than the time."""
MOST = 4
"""Processes, this one among them, that have something to do with the outputs an office expects."""


def processors() -> int:
    """How many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def as_many_as_pay(shots: Sequence[Path]) -> int:
    """How many processes pay for a job with these files of shots."""
    size = sum(each.stat().st_size for each in shots if each.is_file())
    return as_many_as_help() if PAYS[0] <= size <= PAYS[1] else 1


def as_many_as_help() -> int:
    """How many processes have something to do in a job of a size for which they pay."""
    return min(processors(), MOST)


class Beside:
    """Other processes that run steps and write outputs; a context manager that ends them.

    Parameters
    ----------
    processes : int
        All of them, this one counted: with 1 there is none beside it.
    """

    def __init__(self, processes: int = 1) -> None:
        self._wanted = processes - 1 if sys.executable else 0
        self._others: list[Other] = []

    def __enter__(self) -> Self:
        path = os.pathsep.join(each for each in sys.path if each)
        for _ in range(self._wanted):
            with suppress(OSError):  # a machine that starts no more of them
                other = subprocess.Popen(
                    [sys.executable, "-c", BEGINS], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                    env={**os.environ, "PYTHONPATH": path},
                )  # fmt: skip
                self._others.append(other)
        return self

    def will_judge(self) -> None:
        """Have the other processes import what steps need, while they wait for something to do."""
        for other in self._others:
            with suppress(OSError):  # it is gone: what it should do is done here
                say(other, "begin")

    def __exit__(self, *_: object) -> None:
        for other in self._others:
            other.kill()
        for other in self._others:
            other.wait()
            for pipe in (other.stdin, other.stdout):
                with suppress(OSError):
                    assert pipe is not None
                    pipe.close()
        self._others = []

    def call(self, function: Callable[..., Made], *given: Any) -> Callable[[], Made]:
        """Have the first of the other processes call a function, and go on.

        Returns
        -------
        callable
            Waits for what the function gives. Where no other process can be had, or it could not do it, the function is
            called here and now: what it raises is raised here. Only one call may be under way.
        """
        told = packed((function, given))
        if not self._others or told is None:
            return partial(function, *given)
        other = self._others[0]
        with suppress(*LOST):
            say(other, "call", told)
            return partial(_given_back, other, function, given)
        return partial(function, *given)

    def will_write(self, outputs: Iterable[Output]) -> None:
        """Have the other processes import what these outputs need, while they wait for something to do."""
        for other in self._others:
            with suppress(OSError):  # it is gone: what it should do is done here
                say(other, "import", *dict.fromkeys(name for output in outputs for name in output.imports))

    def judge(self, layers: Laid, steps: Iterable[Step], *, progress: Progress = silent) -> Laid:
        """Run steps, here and in the processes beside; see `geoqa.job.beside.judging.judged`."""
        try:
            return judged(layers, steps, self._others, progress=progress)
        except BaseException:
            self.__exit__()
            raise

    def write(
        self, outputs: Sequence[Output], results: Results, workplace: Path, *, progress: Progress = silent
    ) -> list[tuple[str, ...]]:
        """Write every output, here and in the processes beside.

        Parameters
        ----------
        outputs : sequence of Output
        results : Results
        workplace : Path
        progress : callable
            Called with what is written here; what is written beside is only counted.

        Returns
        -------
        list of tuple of str
            Names of the files of each output.

        Raises
        ------
        OutputError
            One of them cannot be written; nothing writes into `workplace` any more.
        """
        work = _Work(outputs, results, workplace)
        try:
            threads = [
                threading.Thread(target=_have_written, args=(other, work), daemon=True)
                for other in (self._others if len(outputs) > 1 and self._others and work.told is not None else [])
            ]
            for thread in threads:
                thread.start()
            work.done_here(progress)
            for thread in threads:
                thread.join()
            work.waiting.extend(number for number in range(len(outputs)) if number not in work.made)
            work.done_here(progress)  # what no process beside could do
        except BaseException:
            self.__exit__()
            raise
        for text in work.warned:
            warnings.warn(text, stacklevel=2)
        return [work.made[number] for number in range(len(outputs))]


def _given_back(other: Other, function: Callable[..., Made], given: tuple[Any, ...]) -> Made:
    with suppress(*LOST):
        made, warned = pickle.load(other.stdout)  # type: ignore[arg-type]
        if made is not None:
            for text in warned:
                warnings.warn(text, stacklevel=3)
            told: Made = pickle.loads(made)
            return told
    return function(*given)


class _Work:
    """What is to be written, what waits, the longest first, and what is made by now, by its place in the list."""

    def __init__(self, outputs: Sequence[Output], results: Results, workplace: Path) -> None:
        self.outputs, self.results, self.workplace = outputs, results, workplace
        self.waiting = deque(sorted(range(len(outputs)), key=lambda number: -outputs[number].effort))
        self.made: dict[int, tuple[str, ...]] = {}
        self.warned: list[str] = []

    @cached_property
    def told(self) -> bytes | None:
        """Results as another process takes them; None where a package has put something into them that cannot go."""
        return packed((self.results, self.workplace.absolute()))

    def done_here(self, progress: Progress) -> None:
        """Write until nothing waits."""
        while self.waiting:
            with suppress(IndexError):  # the last one was taken in this moment
                number = self.waiting.popleft()
                output = self.outputs[number]
                progress(f"writing {output.name}", len(self.made), len(self.outputs))
                self.made[number] = written(output, self.results, self.workplace)


def _have_written(other: Other, work: _Work) -> None:
    """Have one process write, until nothing waits or it cannot go on."""
    with suppress(*LOST, IndexError):
        say(other, "results", work.told)
        while work.waiting:
            number = work.waiting.popleft()
            said, names, warned = ask(other, "write", pickle.dumps(work.outputs[number]))
            if said == "failed":
                return
            work.made[number] = names
            work.warned += warned
