"""Notes on how sure one shot is, in sentences: its parts, what the log means, and how far the rod may lean."""

from collections.abc import Sequence

from geoqa.model import words
from geoqa.model.note_line import NoteLine
from geoqa.model.tables.fact import Fact


def log_confidence(fact: Fact, unit: str) -> str:
    """A log that does not say what its precisions mean, and what the other reading would change."""
    rest = "1 shot rests" if fact.total == 1 else f"{fact.total} shots rest"
    return (
        f"Do the log's precisions mean 1 sigma or 95 %? {rest} on it: {fact.written} as 1 sigma (taken), "
        f'{fact.proposal} as 95 %. State confidence = "1 sigma" or "95 %" in [[shots]], as its settings say.'
    )


def believed_parts(facts: Sequence[Fact], unit: str) -> str:
    """What was taken of the stated uncertainty, and what speaks of it: both planes in one line."""
    told = "; ".join(_believed(fact, unit) for fact in facts)
    typical = {fact.variant for fact in facts} == {"both"}
    head = "Typical 1 sigma, for none is stated or reported," if typical else "Stated 1 sigma"
    return f"{head} held against the data ({unit}): {told}."


def _believed(fact: Fact, unit: str) -> str:
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
    return f"in {fact.place} {taken}{as_is} ({', '.join(why) if why else 'nothing in the data speaks of it'})"


def tilt_test(fact: Fact, unit: str) -> str:
    """How far the rod may lean: what a crew works by, and all that was found behind it."""
    return NoteLine(fact.written, short=fact.proposal, more=fact.written) if fact.proposal else fact.written


KINDS_LISTED = 3
"""Kinds that are written out; the layer `budget` has all of them."""


def budget(facts: Sequence[Fact], unit: str) -> str:
    """One sentence for all kinds of features with the same uncertainty from the same sources."""
    kinds = list(dict.fromkeys(fact.subject for fact in facts))
    more = f" and {len(kinds) - KINDS_LISTED} more kinds" if len(kinds) > KINDS_LISTED + 1 else ""
    shown = ", ".join(kinds[:KINDS_LISTED] if more else kinds) + more
    plan, level = (next(_parts(fact, unit) for fact in facts if fact.place == axis) for axis in ("h", "v"))
    sources = facts[0].reference
    first = f"Uncertainty of one shot (1 sigma, {unit}): in plan {plan}, in elevation {level}, for {shown}."
    rest = f"{sources[:1].upper()}{sources[1:]}."
    return NoteLine(f"{first} {rest}", short=first, more=rest)


def _parts(fact: Fact, unit: str) -> str:
    """Parts of one axis, the whole first; a part that is 0 is not told, and one that is the whole is not repeated."""
    digits = words.decimals("length", unit)
    parts = (("own", fact.second), ("session", fact.third), ("tilt", fact.fourth))
    there = [(part, size) for part, size in parts if size != 0]
    whole = words.number(fact.number, digits)
    if len(there) == 1 and words.number(there[0][1], digits) == whole:
        return whole
    named = ", ".join(f"{part} {words.number(size, digits) if size == size else 'not claimed'}" for part, size in there)
    return f"{whole} ({named})" if named else whole
