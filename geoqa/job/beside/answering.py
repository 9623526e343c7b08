"""What a process beside the run does: it takes the results once, then writes one output after another, as asked."""

import gc
import os
import pickle
import signal
import sys
import warnings
from typing import Any, BinaryIO

from geoqa.job.beside.one_output import written

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
    results: Any = None
    workplace: Any = None
    while True:
        task, *what = pickle.load(asked)
        if task == "begin":
            _imported()
        elif task == "results":
            results, workplace = pickle.loads(what[0])
        else:
            pickle.dump(_answered(what[0], results, workplace), out)
            out.flush()


def _answered(output: bytes, results: Any, workplace: Any) -> tuple[str, tuple[str, ...], tuple[str, ...]]:
    """Whether it was done, names of the files, and what a library warned of."""
    with warnings.catch_warnings(record=True) as warned:
        try:
            made = written(pickle.loads(output), results, workplace)
        except Exception:  # the run tries it itself, and says what is wrong
            return "failed", (), ()
    return "made", made, tuple(str(each.message) for each in warned)


def _imported() -> None:
    """What every writer needs, while the run still judges."""
    import geopandas  # noqa: F401
    import pyarrow.compute  # noqa: F401
    import shapely  # noqa: F401
