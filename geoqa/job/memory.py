"""Memory that is held for later and not used, given back: a large job lies in it half a time again otherwise."""

import sys
from contextlib import suppress


def give_back() -> None:
    """Give memory that Arrow and the C library keep for later back to the system.

    What is kept is scattered between what is still used, and large tables that are made next find no room in it: the
    peak of a job is then what was once needed, and what is needed now on top. On systems whose C library has no such
    call only Arrow gives back. Nothing that is still referred to is touched.

    Examples
    --------
    >>> give_back()
    """
    import pyarrow

    pyarrow.default_memory_pool().release_unused()
    if sys.platform == "linux":
        import ctypes

        with suppress(OSError, AttributeError):  # a C library without it
            ctypes.CDLL(None).malloc_trim(0)
