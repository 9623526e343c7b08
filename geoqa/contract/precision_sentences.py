"""Notes on how sure one shot is, in sentences: its parts, what the log means, and how far the rod may lean."""

import math
from collections.abc import Sequence

from geoqa.model import words
from geoqa.model.note_line import LONGEST, NoteLine
from geoqa.model.tables.fact import Fact

KINDS_LISTED = 3
"""Kinds that are written out; the layer `budget` has all of them."""
LINES_LISTED = 3
"""Lines that are written out, the widest first; the layer `believed_parts` has the numbers of all their shots."""


def log_confidence(fact: Fact, unit: str) -> str:
    """A log that does not say what its precisions mean, and what the other reading would change."""
    rest = "1 shot rests" if fact.total == 1 else f"{fact.total} shots rest"
    return (
        f"Do the log's precisions mean 1 sigma or 95 %? {rest} on it: {fact.written} as 1 sigma (taken), "
        f'{fact.proposal} as 95 %. State confidence = "1 sigma" or "95 %" in [[shots]], as its settings say.'
    )


def believed_parts(facts: Sequence[Fact], unit: str) -> str:
    """What was taken of the stated uncertainty, and what speaks of it: both planes in one line."""
    typical = {fact.variant for fact in facts} == {"both"}
    head = "Typical 1 sigma, for none is stated or reported," if typical else "Stated 1 sigma"
    taken, why = zip(*(_believed(fact, unit) for fact in facts), strict=True)
    told = "; ".join(f"{one} ({reason})" for one, reason in zip(taken, why, strict=True))
    whole = f"{head} held against the data ({unit}): {told}."
    first = head.partition(",")[0]
    short = f"{first} held against the data ({unit}): {'; '.join(taken)}."
    if len(short) > LONGEST:
        parts = "; ".join(one.replace(" stated)", ")").replace(" typical)", ")") for one in taken)
        short = f"1 sigma taken ({first.partition(' ')[0].lower()}), by the data ({unit}): {parts}."
    return NoteLine(whole, short=short, more=whole)


def _believed(fact: Fact, unit: str) -> tuple[str, str]:
    """What is taken of one plane, and what speaks for it."""

    def size(value: float) -> str:
        return words.number(value, words.decimals("length", unit))

    own, session = ("typical" if fact.variant in (part, "both") else "stated" for part in ("own", "session"))

    def part(now: float, before: float, what: str, word: str) -> str:
        return f"{what} {size(now)}" + (f" ({size(before)} {word})" if size(now) != size(before) else "")

    why = []
    if fact.count:
        why.append(f"neighbours scatter {size(fact.u)}")
    if fact.total:
        why.append(f"repeats {size(fact.fourth)}")
    if fact.session:
        why.append(f"session{'s' if ' and ' in fact.session else ''} {fact.session} farther off than {session}")
    taken = f"{part(fact.number, fact.limit, 'own', own)}, {part(fact.second, fact.third, 'session', session)}"
    as_is = "" if "(" in taken else " as stated" if own == session == "stated" else f" as {own} and {session}"
    as_is = " as typical" if as_is == " as typical and typical" else as_is
    return f"in {fact.place} {taken}{as_is}", ", ".join(why) if why else "nothing in the data speaks of it"


def wide_lines(facts: Sequence[Fact], unit: str) -> str:
    """Lines whose shots scatter so widely that theirs is learned apart from all others, in one plane."""
    digits = words.decimals("length", unit)
    widest = sorted(facts, key=lambda fact: -fact.number)
    lines = [
        f"{fact.subject}{f' in session {fact.session}' if fact.session else ''} by {words.number(fact.number, digits)}"
        for fact in widest
    ]
    more = f" and {len(lines) - LINES_LISTED} more" if len(lines) > LINES_LISTED + 1 else ""
    shown = lines[:LINES_LISTED] if more else lines
    named = ", ".join(shown) + more if more else words.listed(shown)
    first = facts[0]
    rest = words.number(first.limit, digits)
    short = f"Neighbours scatter widely in {first.place} along {named}, elsewhere by {rest} {unit}."
    why = (
        "u of the shots there is taken from that alone, as far as repeats on marks allow; that of all others is not. "
        "Two heights or edges under one code, poor sky, or work that wobbles? Look at these shots first."
    )
    return NoteLine(f"{short} {why}", short=short, more=why)


def tilt_test(fact: Fact, unit: str) -> str:
    """How far the rod may lean: what a crew works by, and all that was found behind it."""
    return NoteLine(fact.written, short=fact.proposal, more=fact.written) if fact.proposal else fact.written


def budget(facts: Sequence[Fact], unit: str) -> str:
    """One sentence for all kinds of features whose uncertainty comes from the same sources.

    Examples
    --------
    >>> walk = {"subject": "walk", "reference": "log", "second": 0.02, "fourth": 0.0}
    >>> told = [Fact(place="h", number=0.02, third=0.0, limit=0.02, **walk),
    ...         Fact(place="v", number=0.028, third=0.02, limit=0.041, **walk)]
    >>> print(budget(told, "ft"))
    Stated uncertainty of one shot (1 sigma, ft): in plan 0.020, in elevation 0.028 (own 0.020, session 0.020), for \
walk; verdicts take 0.020 and 0.041. Log.
    """
    kinds = list(dict.fromkeys(fact.subject for fact in facts))
    more = f" and {len(kinds) - KINDS_LISTED} more kinds" if len(kinds) > KINDS_LISTED + 1 else ""
    shown = ", ".join(kinds[:KINDS_LISTED] if more else kinds) + more
    digits = words.decimals("length", unit)
    by_axis = [[fact for fact in facts if fact.place == axis] for axis in ("h", "v")]
    plan, level = (_parts(each, digits) for each in by_axis)
    taken = [[fact.limit for fact in each if fact.limit == fact.limit] for each in by_axis]
    told, head = "", "Uncertainty"
    stated = [[fact.number for fact in each if fact.number == fact.number] for each in by_axis]
    as_stated = all(taken) and [_range(each, digits) for each in taken] == [_range(each, digits) for each in stated]
    if all(taken) and not as_stated:
        told, head = f"; verdicts take {' and '.join(_range(each, digits) for each in taken)}", "Stated uncertainty"
    sources = facts[0].reference
    first = f"{head} of one shot (1 sigma, {unit}): in plan {plan}, in elevation {level}, for {shown}{told}."
    rest = f"{sources[:1].upper()}{sources[1:]}."
    if len(first) <= LONGEST:
        return NoteLine(f"{first} {rest}", short=first, more=rest)
    plan, level = (each.partition(" (")[0] for each in (plan, level))
    short = f"{head} of one shot (1 sigma, {unit}): in plan {plan}, in elevation {level}, for {shown}{told}."
    if len(short) > LONGEST:
        short = short.replace(f"for {shown}", f"for {words.many(len(kinds), 'kind')}")
    return NoteLine(f"{first} {rest}", short=short, more=f"{first} {rest}")


def _parts(facts: Sequence[Fact], digits: int) -> str:
    """Parts of one axis, the whole first; a part that is 0 is not told, and one that is the whole is not repeated."""
    parts = {"own": "second", "session": "third", "tilt": "fourth"}
    there = {part: sizes for part, name in parts.items() if any(sizes := [getattr(fact, name) for fact in facts])}
    whole = _range([fact.number for fact in facts], digits)
    if len(there) == 1 and _range(next(iter(there.values())), digits) == whole:
        return whole
    largest = max((fact.number for fact in facts if fact.number == fact.number), default=math.inf)
    # the whole is the middle of all shots, the lean that of leaning shots alone: it may be the larger one
    few = {part: " where the rod leans" for part, sizes in there.items() if part == "tilt" and max(sizes) > largest}
    named = ", ".join(f"{part} {_range(sizes, digits)}{few.get(part, '')}" for part, sizes in there.items())
    return f"{whole} ({named})" if named else whole


def _range(sizes: Sequence[float], digits: int) -> str:
    """Least and most, once where they print alike; a part of a kind that is NaN is not claimed."""
    known = [size for size in sizes if size == size]
    if not known:
        return "not claimed"
    low, high = (words.number(each, digits) for each in (min(known), max(known)))
    return low if low == high else f"{low} to {high}"
