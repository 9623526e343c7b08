"""A finding's name: what it is about, never what was measured."""

import hashlib
import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

DIGITS, EARLIER_DIGITS = 16, 12
"""Hexadecimal digits of a finding's name; those of one that an earlier geoqa wrote, with which this one begins."""
FEWEST_DIGITS = 4
"""Digits of the least beginning by which a finding is looked for."""
VERDICTS = ("NO_DATA", "IN", "UNDECIDED", "OUT")
"""By the codes of the decision rule: 0, 1, 2, 3. Which is worse stands in `geoqa.model.signs` alone."""


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
    return "F" + hashlib.sha256(text.encode("utf-8")).hexdigest()[:DIGITS]


def earlier_id(name: str) -> str:
    """Name that an earlier geoqa gave to the same finding.

    Examples
    --------
    >>> earlier_id("F0123456789abcdef")
    'F0123456789ab'
    """
    return name[: 1 + EARLIER_DIGITS]


def is_beginning(text: str) -> bool:
    """Whether something reads as the beginning of a finding's name: as people copy it, or an earlier geoqa wrote it.

    Examples
    --------
    >>> [is_beginning(each) for each in ("F0123", "F0123456789ab", "F012", "CTB-L")]
    [True, True, False, False]
    """
    return re.fullmatch(f"F[0-9a-f]{{{FEWEST_DIGITS},{DIGITS}}}", text) is not None


def finding_ids(
    check: "pd.Series | str", against: "pd.Series | str", subject: "pd.Series | str", shot: "pd.Series | str"
) -> "pd.Series":
    """Names of findings that rest on one shot each, as `finding_id` gives them.

    Parameters
    ----------
    check, against, subject, shot : (n,) Series of str, or str
        A missing shot, as in a finding of several, gives a missing name.

    Examples
    --------
    >>> import pandas as pd
    >>> shots = pd.Series(["day1/101", "day1/102"], dtype="str")
    >>> names = finding_ids("offset", "job", pd.Series(["CTB-L", "CTB-L"], dtype="str"), shots)
    >>> names[1] == finding_id("offset", "job", "CTB-L", ["day1/102"])
    True
    """
    import pandas as pd
    import pyarrow as pa
    import pyarrow.compute as pc

    text = pa.large_string()
    parts = [each if isinstance(each, str) else pa.array(each.astype("str").array).cast(text)
             for each in (check, against, subject, shot)]  # fmt: skip
    parts = [pa.scalar(each, text) if isinstance(each, str) else each for each in parts]
    joined = pc.cast(pc.binary_join_element_wise(*parts, pa.scalar("\x1f", text)), pa.large_binary())
    digest = hashlib.sha256
    made = [None if each is None else "F" + digest(each).hexdigest()[:DIGITS] for each in joined.to_pylist()]
    return pd.Series(made, dtype="str")
