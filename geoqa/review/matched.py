"""Which item of a new round is which of the old ones: by the register first, by place where it was lost or re-shot."""

from collections.abc import Sequence

from geoqa.review.again import again, targets
from geoqa.review.delivered import Delivered

SAME_QUESTION = ("chapter", "verdict", "check", "kind", "why")
"""By these an item that is not out is known again: it asks about a kind, not a place."""
BY_NUMBER, BY_PLACE = "number", "place"


def matched(old: Sequence[tuple[Delivered, str]], now: Delivered) -> dict[int, tuple[str, str]]:
    """Find each old item among the open ones of a round.

    Parameters
    ----------
    old : sequence of (Delivered, str)
        Round in which each was listed last, and its number there.
    now : Delivered

    Returns
    -------
    dict of int to (str, str)
        By the place in `old`: number in `now`, and "number" or "place". An item of `now` is of one old item at most:
        numbers come first, then who shares most places, then the lower number.
    """
    there = now.open_items()
    found: dict[int, tuple[str, str]] = {}
    for nth, (at, number) in enumerate(old):
        if at.run and at.run in now.runs and number in there:
            found[nth] = (number, BY_NUMBER)
    taken = {number for number, _ in found.values()}
    wanted = []
    for nth, (at, number) in enumerate(old):
        if nth not in found:
            shared = _by_place(at, number, now)
            wanted += [(-count, int(number), int(name), nth) for name, count in shared.items() if name not in taken]
    for _, _, name, nth in sorted(wanted):
        if nth not in found and str(name) not in taken:
            found[nth] = (str(name), BY_PLACE)
            taken.add(str(name))
    return found


def _by_place(at: Delivered, number: str, now: Delivered) -> dict[str, int]:
    """Open items of a round at the places of an old one, with how many findings lie there."""
    row, there = at.items[number], now.open_items()
    alike = {name: each for name, each in there.items() if each.get("chapter") == row.get("chapter")}
    if row.get("verdict") != "OUT":
        key = [row.get(name, "") for name in SAME_QUESTION]
        return {name: 1 for name, each in alike.items() if [each.get(part, "") for part in SAME_QUESTION] == key}
    places = targets(at, number)
    if places["easting"].isna().all():
        same = ("verdict", "check", "subject")
        return {name: 1 for name, each in alike.items() if all(each.get(part) == row.get(part) for part in same)}
    rows = list(again(places, now, at).rows)
    mine = now.findings.iloc[rows]
    counts = mine.loc[now.verdicts.iloc[rows] == "OUT", "item"].value_counts()
    return {str(name): int(count) for name, count in counts.items() if name in alike}
