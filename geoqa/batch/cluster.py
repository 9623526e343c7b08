"""Jobs on several processes, or several machines, by Dask: the only module that knows it."""

import logging
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from queue import Empty, SimpleQueue
from typing import Any

from geoqa.batch.found import Found
from geoqa.batch.one import judge_one
from geoqa.errors import JobError, OutputError
from geoqa.job.beside.processes import processors

INSTALL = "pip install 'geoqa-survey[batch]'"
TRIES = 2
"""Workers that may be lost over one job before it is given up."""
_LOST = "OutputError"
_LOOK = 1.0
"""Seconds between two looks at whether the scheduler is still there."""


Call = tuple[str, Callable[..., dict[str, Any]], tuple[Any, ...]]
"""A name of its own, what is called, and what it is given; it gives `trouble`, `kind` and `again`, as `judge_one`."""


@dataclass(frozen=True, kw_only=True)
class Engine:
    """Where jobs are run.

    Attributes
    ----------
    workers : int or None
        Processes of this machine; None takes one for each processor. No meaning with a scheduler.
    scheduler : str
        Address of one that is running already; empty for processes of this machine.
    """

    workers: int | None = None
    scheduler: str = ""

    def __call__(self, jobs: Sequence[tuple[Found, str]]) -> Iterator[tuple[Found, dict[str, Any]]]:
        """Run jobs, each with the folder of its part; what became of each, in the order in which they end.

        Raises
        ------
        JobError
            Dask is not installed.
        OutputError
            The scheduler cannot be reached.
        """
        with self.opened(len(jobs)) as run:
            of = {job.key: job for job, _ in jobs}
            for key, made in run([(job.key, judge_one, (str(job.path), part)) for job, part in jobs]):
                yield of[key], made

    def processes(self) -> int:
        """Workers of this machine; none with a scheduler, which may have them anywhere."""
        return 0 if self.scheduler else self.workers or processors()

    def memory(self) -> float:
        """Bytes that may be taken on this machine, also where a container has less than the machine."""
        import psutil  # type: ignore[import-untyped]
        from distributed.system import MEMORY_LIMIT

        return float(min(psutil.virtual_memory().available, MEMORY_LIMIT))

    @contextmanager
    def opened(self, most: int) -> "Iterator[Callable[[Sequence[Call]], Iterator[tuple[str, dict[str, Any]]]]]":
        """Start what runs calls, for several rounds of them; at most so many at once. Raises as a call of this does."""
        with _quiet(), _client(self.workers, self.scheduler, most) as client:
            yield lambda calls: _each(client, calls)


def _each(client: Any, calls: Sequence[Call]) -> Iterator[tuple[str, dict[str, Any]]]:
    waiting = {client.submit(of, *given, key=f"geoqa-{key}", pure=False): key for key, of, given in calls}
    told: SimpleQueue[Any] = SimpleQueue()
    for future in waiting:  # each tells that it ended: to wait for the first of all takes as long as there are calls
        future.add_done_callback(told.put)
    while waiting:
        try:
            ended = [told.get(timeout=_LOOK)]
        except Empty:
            ended = [future for future in waiting if future.status != "pending"]
        if client.status not in ("running", "connecting", "newly-created"):
            ended = list(waiting)
        for future in ended:
            if (key := waiting.pop(future, None)) is not None:
                yield key, _outcome(future)


def _outcome(future: Any) -> dict[str, Any]:
    """What a task gave back, or why it gave nothing."""
    if future.status == "finished":
        with suppress(Exception):  # the scheduler may be lost between the two questions
            made: dict[str, Any] = future.result(timeout=30)
            return made
    said = (
        "the scheduler was lost before it had ended. Run the batch again: what was done is kept."
        if future.status != "error"
        else _why(future)
    )
    return {"trouble": said, "kind": _LOST, "again": True}


def _why(future: Any) -> str:
    error = future.exception(timeout=30)
    if type(error).__name__ == "KilledWorker":
        return (
            f"its worker was lost {TRIES} times while it ran: it may need more memory than there is beside the others, "
            "so use fewer --workers; or it was ended by hand. Run the batch again: what was done is kept."
        )
    return f"its worker could not run it ({type(error).__name__}: {error}). Is this geoqa installed where it runs?"


@contextmanager
def _client(workers: int | None, scheduler: str, jobs: int) -> Iterator[Any]:
    """A connection to a scheduler; without an address to one of this process, with workers of their own."""
    try:
        import dask
        import distributed
    except ImportError:
        raise JobError(f"geoqa batch runs on Dask, which is not installed here. Install it with: {INSTALL}") from None
    with ExitStack() as stack:
        stack.enter_context(dask.config.set({
            "distributed.scheduler.allowed-failures": TRIES - 1,
            "distributed.scheduler.work-stealing": True,
            "distributed.comm.timeouts.connect": "15s",
            "distributed.admin.low-level-log-length": 0,
        }))  # fmt: skip
        try:
            if scheduler:
                made = distributed.Client(scheduler, timeout="15s", set_as_default=False)
            else:
                most = min(workers or processors(), jobs)
                local = distributed.LocalCluster(
                    n_workers=most, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None,
                    memory_limit=0, silence_logs=logging.CRITICAL,
                )  # fmt: skip
                stack.enter_context(local)
                made = distributed.Client(local, set_as_default=False)
        except (OSError, ValueError, TimeoutError) as error:
            place = f"The scheduler {scheduler}" if scheduler else "A scheduler on this machine"
            raise OutputError(f"{place} cannot be reached: {error}. Nothing was run.") from None
        stack.callback(_close, made)
        yield made


def _close(client: Any) -> None:
    with suppress(Exception):
        client.close(timeout=5)


@contextmanager
def _quiet() -> Iterator[None]:
    """Nothing of the engine's own talk: what a person must know is said once, by job."""
    loggers = [logging.getLogger(name) for name in ("distributed", "tornado", "asyncio")]
    before = [each.level for each in loggers]
    for each in loggers:
        each.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        for each, level in zip(loggers, before, strict=True):
            each.setLevel(level)
