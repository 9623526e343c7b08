"""A finding's name: what it is about, never what was measured."""

import hashlib
from collections.abc import Iterable

VERDICTS = ("NO_DATA", "IN", "UNDECIDED", "OUT")
"""In the order of the codes the decision rule returns: 0, 1, 2, 3."""


def finding_id(check: str, against: str, subject: str, keys: Iterable[str]) -> str:
    """Name a finding by check, rule set, subject and the keys of its evidence.

    It holds no value, limit, row order, path or version, so it survives a re-run, added shots,
    a corrected rod and a changed tolerance.

    Examples
    --------
    >>> finding_id("offset", "job", "CTB-L", ["day1/101"]) == finding_id("offset", "job", "CTB-L", ["day1/101"])
    True
    """
    text = "\x1f".join((check, against, subject, *sorted(keys)))
    return "F" + hashlib.sha256(text.encode("utf-8")).hexdigest()[:12]
