"""One stream of random numbers per purpose.

Each purpose has a stream of its own, so that one more plant, or one more field
of the log, does not reshuffle the noise of everything else.
"""

import zlib

import numpy as np


def stream(seed: int, purpose: str) -> np.random.Generator:
    """Random numbers for one purpose of one seed, the same on every machine.

    Examples
    --------
    >>> bool(stream(1, "noise").normal() == stream(1, "noise").normal())
    True
    >>> bool(stream(1, "noise").normal() == stream(1, "clock").normal())
    False
    """
    words = np.random.SeedSequence([seed, zlib.crc32(purpose.encode("utf-8"))])
    return np.random.Generator(np.random.PCG64(words))
