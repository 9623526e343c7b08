"""A kind for what a drafter called something: sides and numbers left out, words joined as kinds are."""

import re

SIDES = {"l", "r", "lt", "rt", "left", "right", "lhs", "rhs"}
"""Words that tell one side of a street from the other, and not what a thing is."""


def kind_of(text: str) -> str:
    """A kind, as a job file writes one.

    Examples
    --------
    >>> kind_of("walk front LT"), kind_of("V-PATH_EDGE-2"), kind_of("Hydrant"), kind_of("3 R")
    ('walk-front', 'v-path-edge', 'hydrant', '3-r')
    """
    words = [each for each in re.split(r"[^\w]+|_", text.casefold()) if each]
    kept = [each for each in words if each not in SIDES and not each.isdigit()]
    return "-".join(kept or words)
