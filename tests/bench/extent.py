"""How much of a campaign runs: a share for every change, the whole where its page is written.

``GEOQA_WHOLE=1`` runs all of it and writes nothing; ``GEOQA_WRITE_DOCS=1`` runs all of it and renews its page.
"""

import os
from typing import TypeVar

WRITES = os.environ.get("GEOQA_WRITE_DOCS") == "1"
WHOLE = WRITES or os.environ.get("GEOQA_WHOLE") == "1"
Extent = TypeVar("Extent")


def extent(whole: Extent, *, of_a_change: Extent) -> Extent:
    """The first where all is asked for, else the share by which a change is judged."""
    return whole if WHOLE else of_a_change
