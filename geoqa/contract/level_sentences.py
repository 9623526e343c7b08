"""Notes on level runs in sentences."""

from geoqa.model import words
from geoqa.model.note_line import NoteLine
from geoqa.model.tables.fact import Fact, amount


def level_run(fact: Fact, unit: str) -> str:
    """Misclosure of a level run, and how many shots take their elevation from it."""
    judged = words.many(fact.count or 0, "shot is", "shots are")
    if fact.variant == "several":
        return (
            f"Level run {fact.subject}: {words.many(fact.count or 0, 'name is', 'names are')} borne by several shots, "
            f"and not taken ({fact.written}). Give the levelled points names of their own."
        )
    if fact.variant == "reduced":
        return f"Levelled elevations {fact.subject}: {judged} judged by them, each with its stated uncertainty."
    if fact.variant == "open":
        return (
            f"Level run {fact.subject} is not closed: only one end stands on a mark, so nothing proves it, and its "
            "elevations are not taken. Level on to a second mark, or back to the first."
        )
    missed = f"misses by {amount(fact.number, fact.unit, unit)} over {words.number(fact.second, 0)} {unit}"
    allowed = amount(fact.limit, fact.unit, unit)
    way = f"Level run {fact.subject}, {fact.place} to {fact.other}, {missed}, {allowed} allowed"
    if fact.variant == "over":
        return f"{way} ({fact.reference}): its elevations are not taken. Level it again, or find the wrong reading."
    whose = "its levelled elevation" if fact.count == 1 else "their levelled elevations"
    whole = f"{way} ({fact.reference}): {judged} judged by {whose}."
    return NoteLine(whole, short=f"{way}: {judged} judged by {whose}.", more=f"Allowed by {fact.reference}.")
