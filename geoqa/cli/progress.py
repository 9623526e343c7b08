"""Progress on a terminal; nothing anywhere else."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress() -> Iterator[Callable[[str, int, int], None]]:
    """Give a callable that shows stages while a person watches."""
    if not sys.stderr.isatty():
        yield lambda stage, done, total: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    columns = (
        TextColumn("{task.description:<32}"),
        BarColumn(bar_width=30),
        TextColumn("{task.completed}/{task.total}"),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as shown:
        task = shown.add_task("starting", total=1)
        yield lambda stage, done, total: shown.update(task, description=stage, completed=done, total=max(total, 1))
