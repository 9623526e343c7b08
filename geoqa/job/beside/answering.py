"""What a process beside the run does: what is called, steps of its plan, then one output after another, as asked."""

import gc
import os
import pickle
import signal
import sys
import warnings
from typing import Any, BinaryIO

from geoqa import plugins
from geoqa.job.beside.one_output import written
from geoqa.job.beside.standing import Standing
from geoqa.job.execute import made_by

BETWEEN_COLLECTIONS = 100_000
"""Objects made between two looks for such as hold each other: a page makes many, and keeps them."""


def answer_until_closed() -> None:
    """Answer what comes in on standard input until it is closed, which the end of the run does, however it ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the run hears it too, and ends this process
    out = os.fdopen(os.dup(1), "wb")
    gc.set_threshold(BETWEEN_COLLECTIONS)
    os.dup2(2, 1)  # what a library prints is no answer
    try:
        _answer(sys.stdin.buffer, out)
    except (EOFError, OSError):
        return


def _answer(asked: BinaryIO, out: BinaryIO) -> None:
    standing: Any = None
    results: Any = None
    workplace: Any = None
    while True:
        task, *what = pickle.load(asked)
        if task == "begin":
            _imported()
            continue
        if task == "import":
            plugins.import_early(*what)
            continue
        if task == "call":
            _say(out, _called(what[0]))
            continue
        if task == "plan":
            standing = Standing(*pickle.loads(what[0]))
            _say(out, None)
            continue
        if task == "results":
            standing, (results, workplace) = None, pickle.loads(what[0])
            continue
        _say(out, _run(standing, *what) if task == "run" else _written(what[0], results, workplace))


def _say(out: BinaryIO, what: Any) -> None:
    pickle.dump(what, out)
    out.flush()


def _called(what: bytes) -> tuple[bytes | None, tuple[str, ...]]:
    """What a function gives, None where it is not to be had here, and what a library warned of."""
    with warnings.catch_warnings(record=True) as warned:
        try:
            function, given = pickle.loads(what)
            told = pickle.dumps(function(*given), protocol=pickle.HIGHEST_PROTOCOL)
        except Exception:  # the run tries it itself, and says what is wrong
            return None, ()
    return told, _said(warned)


def _run(standing: Any, number: int, news: list[tuple[int, bytes]]) -> tuple[bytes | None, tuple[str, ...]]:
    """What a step made, None where it is not to be had here, and what a library warned of."""
    with warnings.catch_warnings(record=True) as warned:
        try:
            for each, made in news:
                standing.put(each, pickle.loads(made))
            own = made_by(standing.order[number], standing.layers_for(standing.order[number]))
            standing.put(number, own)
            told = pickle.dumps(own, protocol=pickle.HIGHEST_PROTOCOL)
        except Exception:  # the run tries it itself, and says what is wrong
            return None, ()
    return told, _said(warned)


def _written(output: bytes, results: Any, workplace: Any) -> tuple[str, tuple[str, ...], tuple[str, ...]]:
    """Whether it was done, names of the files, and what a library warned of."""
    with warnings.catch_warnings(record=True) as warned:
        try:
            made = written(pickle.loads(output), results, workplace)
        except Exception:  # the run tries it itself, and says what is wrong
            return "failed", (), ()
    return "made", made, _said(warned)


def _said(warned: list[warnings.WarningMessage]) -> tuple[str, ...]:
    return tuple(str(each.message) for each in warned)


def _imported() -> None:
    """What steps and writers need, while the run still reads."""
    import geopandas  # noqa: F401
    import pyarrow.compute  # noqa: F401
    import shapely  # noqa: F401

    from geoqa.job.plan import default_steps

    default_steps()
