"""Notes on what was read, in sentences: rows, listings, names, codes and fields."""

from collections.abc import Sequence

from geoqa.contract.listing import NAMES_LISTED, counted
from geoqa.model import words
from geoqa.model.note_line import NoteLine
from geoqa.model.tables.fact import Fact, facts_of
from geoqa.model.tables.layer import Layers


def rows_left_out(fact: Fact, unit: str) -> str:
    """Rows that are in no table, so that no verdict can tell of them."""
    count = "1 row could not be read and is" if fact.count == 1 else f"{fact.count} rows could not be read and are"
    first = "" if fact.count == 1 else " The first:"
    return f"{count} left out of everything that follows{':' if not first else '.' + first} {fact.written}."


def rows_not_read(fact: Fact) -> str:
    """The same rows in short, with their lines.

    Examples
    --------
    >>> rows_not_read(Fact(name="rows-left-out", count=2, place="lines 7, 8 of pts.txt"))
    '2 rows not read: lines 7, 8 of pts.txt'
    """
    return f"{words.many(fact.count or 0, 'row')} not read: {fact.place}"


def not_read(layers: Layers) -> str:
    """What is said in short of rows that are in no table; empty where all were read."""
    told = [fact for fact in facts_of(layers["notes"], "note") if fact.name == "rows-left-out"]
    return "; ".join(map(rows_not_read, told))


def contacts_left_out(fact: Fact, unit: str) -> str:
    """Crew notes that name how to reach a person: not handed over."""
    count = "1 crew note holds" if fact.count == 1 else f"{fact.count} crew notes hold"
    those = "it is" if fact.count == 1 else "they are"
    return (
        f"{count} a telephone number or an e-mail address: {those} left out of what is handed over ({fact.place}). "
        'To hand over all notes: "personal = true" in [outputs].'
    )


def listed_twice(fact: Fact, unit: str) -> str:
    """A file, or single rows, that repeat measurements listed before."""
    count = fact.count or 0
    if fact.variant == "single":
        rows = "1 row repeats a measurement" if count == 1 else f"{count} rows repeat measurements"
        return f"{fact.subject}: {rows} listed before; each counts once."
    once = "its 1 row counts" if count == 1 else f"its {count} rows count"
    if fact.variant == "bytes":
        return f"{fact.subject} is {fact.other} again, byte for byte: {once} once. Name one of the two in the job."
    if fact.variant == "two-ways":
        return (
            f"{fact.subject} is {fact.other} again, byte for byte, but read otherwise (unit, frame or a setting of its "
            f"table): {once} once, as read first. Name one of the two in the job, read as it was made."
        )
    rows = words.many(fact.total or 0, "row")
    same = "is the same measurement, and counts" if count == 1 else "are the same measurements, and count"
    return f"{fact.subject} repeats {fact.other}: {count} of its {rows} {same} once. Was it exported twice?"


def damaged_names(facts: Sequence[Fact], unit: str) -> str:
    """Words that a spreadsheet has changed, and what each may have been."""
    rows = words.many(sum(fact.count or 0 for fact in facts), "row bears", "rows bear")
    near = {"number": "near "}
    shown = ", ".join(
        f"{fact.subject} {fact.written} ({near.get(fact.variant, '')}{fact.proposal}?)" for fact in facts[:NAMES_LISTED]
    )
    more = f" and {len(facts) - NAMES_LISTED} more" if len(facts) > NAMES_LISTED else ""
    return (
        f"{rows} a name, line ID or code as a spreadsheet leaves it: {shown}{more}. Export the file again without "
        "opening it in a spreadsheet; nothing was changed."
    )


def unknown_codes(facts: Sequence[Fact], unit: str) -> str:
    """Codes that the code list does not know."""
    total = sum(fact.count or 0 for fact in facts)
    more = f" and {len(facts) - NAMES_LISTED} more" if len(facts) > NAMES_LISTED else ""
    have = "1 shot has a code that is" if total == 1 else f"{total} shots have codes that are"
    shown = counted(facts[:NAMES_LISTED], "written")
    return f"{have} not in the code list, shown and not judged: {shown}{more}."


_ASKS = ("What to do: ", "What would settle it: ")


def frame_doubt(fact: Fact, unit: str) -> str:
    """What is in doubt of a file's frame, and what to do; what speaks for it stands behind.

    Examples
    --------
    >>> told = frame_doubt(Fact(written="Is a.csv in ft? It lies off. What to do: ask. Nothing was changed."), "ft")
    >>> told.short, told.more
    ('Is a.csv in ft? What to do: ask. Nothing was changed.', 'It lies off.')
    """
    written = fact.written or ""
    if fact.proposal:
        return NoteLine(written, short=fact.proposal, more=written)
    question, found, rest = written.partition("? ")
    told, ask, do = next((parts for each in _ASKS if (parts := rest.partition(each))[1]), (rest, "", ""))
    if not found or not ask or not told:
        return written
    return NoteLine(written, short=f"{question}? {ask}{do}", more=told.strip())


def screening_rule(fact: Fact, unit: str) -> str:
    """A screening rule that applies to no shot, or whose words no shot bears."""
    if fact.variant == "kind":
        meant = f" Is {fact.proposal} meant?" if fact.proposal else ""
        rules = "Screening rules" if (fact.count or 1) > 1 else "A screening rule"
        verb = "are" if (fact.count or 1) > 1 else "is"
        return f"{rules} for kind {fact.subject} {verb} never used: no code and no shot has this kind.{meant}"
    return (
        f"A screening rule allows only {fact.written} as {(fact.subject or '').replace('_', ' ')}, and no shot has "
        f"that; most have {fact.other}. Is the rule misspelt?"
    )


def screening_gap(fact: Fact, unit: str) -> str:
    """What could not be screened."""
    shots = words.many(fact.count or 0, "shot")
    return f"Screening by {fact.subject} was not possible for {shots}: {fact.written}."
