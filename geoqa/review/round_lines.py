"""The difference of two rounds in lines for a terminal, what needs a reader most first."""

from collections.abc import Iterator

from geoqa.model import words
from geoqa.review.rounds import STATES, Compared, Thread

LISTED = 12
"""Items of one state that are listed; the count is always complete."""


def headline(found: Compared) -> str:
    """How many items are in each state, in one sentence.

    Examples
    --------
    >>> one = Thread(item="1", state="closed")
    >>> headline(Compared(rounds=("a", "b"), unit="ft", threads=(one,), numbers=5, same=4, new_shots=1, shots=9,
    ...     files=(), register_kept=True))
    '1 closed.'
    """
    told = []
    for state, text in STATES.items():
        mine = found.of(state)
        if not mine:
            continue
        same = sum(each.untouched for each in mine)
        proven = f", {f'{same} of them ' if same < len(mine) else ''}untouched" if same else ""
        told.append(f"{len(mine)} {text}{proven}")
    return f"{'; '.join(told)}." if told else "Nothing is listed in any of the rounds."


def proof(found: Compared) -> str:
    """What is the same in both rounds."""
    before, now = found.rounds[-2:]
    return (
        f"{words.many(found.numbers, 'number')} judged in both {before} and {now}: {found.same:,} the same, with the "
        f"same limits and verdicts. {words.many(found.new_shots, 'shot')} of {found.shots:,} in {now} "
        f"{'is' if found.new_shots == 1 else 'are'} new."
    )


def numbering(found: Compared) -> str:
    """How items were known again; empty where all went by their numbers."""
    before, now = found.rounds[-2:]
    placed = sum(each.by == "place" for each in found.threads)
    if found.register_kept and not placed:
        return ""
    items = words.many(placed, "item was", "items were")
    if found.register_kept:
        return f"{items} known again by place: all of it was shot anew, and it has a new number."
    return (
        f"{now} does not go on from the numbers of {before}: its record was not in the output folder when it ran. "
        f"{items} known again by check, kind and place. Numbers are those of {now} where an item is listed there."
    )


def lines(found: Compared) -> list[str]:
    """Everything, for a terminal."""
    told = [f"{' → '.join(found.rounds)}", headline(found), proof(found)]
    told += [text] if (text := numbering(found)) else []
    told += [f"  {each}" for each in (*found.files, *found.edits)]
    for state, text in STATES.items():
        mine = [each for each in found.of(state) if not each.untouched]
        if mine:
            told += ["", f"{text[:1].upper()}{text[1:]}: {len(mine)}"]
            told += [line for each in mine[:LISTED] for line in _item(each)]
            told += [f"  and {len(mine) - LISTED} more"] if len(mine) > LISTED else []
    untouched = [each.item for each in found.threads if each.untouched]
    if untouched:
        told += ["", f"Untouched, the same by their hashes: {', '.join(untouched)}"]
    return told


def _item(each: Thread) -> Iterator[str]:
    was = f" (was {each.first})" if each.first else ""
    yield f"  {each.item:>3}{was}  {each.told}"
    changed = f"was: {each.before}" if each.before and each.before != each.told else ""
    decided = f"decided: {each.decision}" if each.decision else ""
    if more := "; ".join(part for part in (each.why, changed, decided) if part):
        yield f"       {more}"
    for place in each.neighbours:
        yield f"       its neighbour was not shot again: {place}"
    if len(each.history) > 2:
        yield f"       {' → '.join(state or '–' for state in each.history)}"
