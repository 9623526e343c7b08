"""Progress where a person watches, on a terminal or in a notebook; nothing anywhere else."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec

from geoqa.job.execute import Progress, silent


@contextmanager
def bar() -> Iterator[Progress]:
    """Give a callable that shows stages while a person watches.

    On a terminal and in a notebook that has ``ipywidgets`` it is a bar, gone when the work is done; in a notebook
    without, a line that is written over. A log file gets nothing.

    Examples
    --------
    >>> with bar() as shown:  # this output goes to no terminal
    ...     shown("offsets", 3, 9)
    """
    if _in_notebook() and not find_spec("ipywidgets"):
        yield _line
        _line("", 0, 0)
    elif not _in_notebook() and not sys.stderr.isatty():
        yield silent
    else:
        from rich.console import Console
        from rich.progress import BarColumn, TextColumn
        from rich.progress import Progress as Shown

        columns = (
            TextColumn("{task.description:<32}"),
            BarColumn(bar_width=30),
            TextColumn("{task.completed}/{task.total}"),
        )
        with Shown(*columns, console=Console(stderr=True), transient=True) as shown:
            task = shown.add_task("starting", total=1)
            yield lambda stage, done, total: shown.update(task, description=stage, completed=done, total=max(total, 1))


def _in_notebook() -> bool:
    """Whether this Python serves a notebook: its kernel answers, and not a shell in a terminal."""
    shell = sys.modules["IPython"].get_ipython() if "IPython" in sys.modules else None
    return hasattr(shell, "kernel")


def _line(stage: str, done: int, total: int) -> None:
    sys.stderr.write(f"\r{f'{stage:<32} {done}/{total}' if total else '':<48}\r")
    sys.stderr.flush()
