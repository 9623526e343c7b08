"""Memory that is held for later and not used, given back: a large job lies in it half a time again otherwise."""

import gc
import sys
from contextlib import suppress


def give_back() -> None:
    """Give memory that nobody refers to, or that Arrow and the C library keep for later, back to the system.

    Tables that refer to each other in a circle are found first. What is kept is scattered between what is still used,
    and large tables that are made next find no room in it: the peak of a job is then what was once needed, and what is
    needed now on top. On systems whose C library has no such call only Arrow gives back.

    Examples
    --------
    >>> give_back()
    """
    import pyarrow

    gc.collect()
    pyarrow.default_memory_pool().release_unused()
    if sys.platform == "linux":
        import ctypes

        with suppress(OSError, AttributeError):  # a C library without it
            ctypes.CDLL(None).malloc_trim(0)
