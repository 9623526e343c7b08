"""Times whose day and month stand as numbers before the year: which is first, where the file itself tells it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

_SHAPE = (
    r"^([0-9]{1,2})([./-])([0-9]{1,2})([./-])[0-9]{4}([ T]+)"
    r"[0-9]{1,2}:[0-9]{2}(:[0-9]{2})?([.,][0-9]{1,6})?( ?[AaPp][Mm])?$"
)
MONTHS = 12


def patterns_of(text: pd.Series) -> tuple[tuple[str, ...], str]:
    """The patterns that all of these times may be written in, and the time that leaves one only.

    Parameters
    ----------
    text : (n,) Series of str
        Times that state no zone, none of them empty.

    Returns
    -------
    tuple of str
        None where they are of another shape, or of several; one where a day above 12 settles the order, and no other
        contradicts it; else two.
    str
        The first time that settles it; empty where none does.

    Examples
    --------
    >>> import pandas as pd
    >>> patterns_of(pd.Series(["03.04.2026 08:00:00", "14.04.2026 08:00:00"], dtype="str"))
    (('%d.%m.%Y %H:%M:%S',), '14.04.2026 08:00:00')
    >>> patterns_of(pd.Series(["03/04/2026 08:00"], dtype="str"))
    (('%d/%m/%Y %H:%M', '%m/%d/%Y %H:%M'), '')
    """
    parts = text.str.extract(_SHAPE)
    shapes = parts[[1, 3, 4]].assign(**{str(at): parts[at].notna() for at in (5, 6, 7)}).drop_duplicates()
    if not len(text) or parts[0].isna().any() or len(shapes) > 1:
        return (), ""
    first, second = (parts[at].astype("int64") > MONTHS for at in (0, 2))
    if first.any() and second.any():
        return (), ""
    one = parts.iloc[0]
    noon = one.notna()[7]
    blank = " " if noon and str(one[7]).startswith(" ") else ""
    clock = ("%I" if noon else "%H") + ":%M" + (":%S" if one.notna()[5] else "")
    clock += f"{str(one[6])[0]}%f" if one.notna()[6] else ""
    clock += f"{blank}%p" if noon else ""
    day, month = (f"{a}{one[1]}{b}{one[3]}%Y{one[4]}{clock}" for a, b in (("%d", "%m"), ("%m", "%d")))
    if first.any():
        return (day,), str(text[first].iloc[0])
    if second.any():
        return (month,), str(text[second].iloc[0])
    return (day, month), ""
