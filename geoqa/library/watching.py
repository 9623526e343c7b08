"""Who watches a call: nobody, a callable of the caller's own, or a person with a bar."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Literal, TypeAlias

from geoqa.errors import JobError
from geoqa.job.execute import Progress
from geoqa.job.progress_bar import bar

Watch: TypeAlias = Progress | Literal["bar"]


@contextmanager
def watched(progress: Any) -> Iterator[Progress]:
    """Give the callable that stages are told to.

    Raises
    ------
    JobError
        It is neither ``"bar"`` nor a callable.

    Examples
    --------
    >>> with watched(print) as shown:
    ...     shown("offsets", 3, 9)
    offsets 3 9
    """
    if callable(progress):
        yield progress
    elif isinstance(progress, str) and progress == "bar":
        with bar() as shown:
            yield shown
    else:
        raise JobError(
            f'progress: must be "bar", or a callable of the stage, how many are done and how many there are, '
            f"and is {progress!r}."
        )
