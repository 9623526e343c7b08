"""How columns of text are held while a job is judged: as suits its size.

Arrow holds millions of names in little memory; of a few thousand, each of the thousands of small operations of a run
costs several times what it costs on Python's own strings. Values, null, comparison and files are the same for both.
"""

from collections.abc import Iterator
from contextlib import contextmanager

from geoqa.job.document.load import LoadedJob
from geoqa.job.inputs.named_files import inputs

SMALL = 4_000_000
"""Bytes of shots up to which Python's own strings are quicker: some twenty thousand rows."""


@contextmanager
def text_held_for(loaded: LoadedJob) -> Iterator[None]:
    """Hold new columns of text as suits a job; one of tables in memory is left as it is held.

    For commands: who calls from Python gets tables of one kind, whatever the size.
    """
    import pandas as pd

    shots = [each for each in inputs(loaded) if each.role == "shots"]
    size = sum(each.path.stat().st_size for each in shots if not each.in_memory and each.path.is_file())
    if size > SMALL or any(each.in_memory for each in shots):
        yield
        return
    with pd.option_context("mode.string_storage", "python"):
        yield
