"""A finding's name: what it is about, never what was measured."""

import hashlib
from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

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
    return "F" + hashlib.sha256(text.encode("utf-8")).hexdigest()[:12]


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
    made = [None if each is None else "F" + digest(each).hexdigest()[:12] for each in joined.to_pylist()]
    return pd.Series(made, dtype="str")
