"""How columns of text are held while a job is judged: as suits its size.

Arrow holds millions of names in little memory; of a few thousand, each of the thousands of small operations of a run
costs several times what it costs on Python's own strings. Values, null, comparison and files are the same for both.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from geoqa.job.inputs.named_files import Input

SMALL = 4_000_000
"""Bytes of shots up to which Python's own strings are quicker: some twenty thousand rows."""


@contextmanager
def text_held_for(shots: Sequence[Input]) -> Iterator[None]:
    """Hold new columns of text as suits a job with these files of shots; tables in memory are left as they are held.

    Another thread that makes tables meanwhile has its text held so too, which changes nothing but its speed.
    """
    import pandas as pd

    size = sum(each.path.stat().st_size for each in shots if not each.in_memory and each.path.is_file())
    if size > SMALL or any(each.in_memory for each in shots):
        yield
        return
    with pd.option_context("mode.string_storage", "python"):
        yield
