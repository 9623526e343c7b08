"""Notes on the design in sentences: where it lies, how it is drawn, and what is left out of it."""

from collections.abc import Sequence

from geoqa.contract.listing import NAMES_LISTED
from geoqa.model import words
from geoqa.model.tables.fact import Fact


def design_apart(fact: Fact, unit: str) -> str:
    """Shots that lie away from all design as a whole."""
    if fact.variant == "files":
        return _files_apart(fact, unit)
    if fact.variant in ("file", "foot"):
        return _file_apart(fact, unit)
    near, middle = (f"{words.number(each, 0)} {unit}" for each in (fact.second, fact.number))
    return (
        "Design and shots lie apart as a whole: without design of its kind within reach "
        f"{'is' if fact.count == 1 else 'are'} {fact.count} of {words.many(fact.total or 0, 'shot', 'shots')}; half of "
        f"them lie {near} and more from the nearest of their kind, the middle of the shots {middle} {fact.place} of "
        "the middle of the design. Is one of the two in another frame, on ground or local coordinates, shifted, or of "
        "another site? Nothing is held against the design until that is settled."
    )


def _file_apart(fact: Fact, unit: str) -> str:
    """One design file that lies apart, while others do not."""
    alike = "all" if fact.count == fact.total else f"{fact.count} of {fact.total}"
    head = (
        f"Design file {fact.subject} lies apart from the shots, and the other design does not: of shots of its kinds "
        f"that lie beside no other design, {alike} ({words.many(fact.count or 0, 'shot')}) lie on {fact.proposal} "
    )
    away = f"{words.number(fact.number, 1 if fact.variant == 'foot' else 0)} {unit}"
    if fact.variant == "foot":
        return (
            f"{head}once it is read in {fact.other}, not in {fact.written}: {away} to the {fact.place} at its "
            f'coordinates. What to do: ask whose unit it is, and state unit = "{fact.other}" in its [[design]], '
            f"with accept = true where the file says {fact.written}. Nothing is held against it until then."
        )
    return (
        f"{head}once it is moved some {away} to the {fact.place}. Is it in another "
        "frame, on ground or local coordinates, or shifted? Nothing is held against it until that is settled."
    )


def _files_apart(fact: Fact, unit: str) -> str:
    """One of several design files that lie apart, each by a shift of its own."""
    moved = (
        f"moved some {words.number(fact.number, 0)} {unit} to the {fact.place}"
        if fact.number == fact.number
        else "moved, by how much is open, for either file fits the shots of the other"
    )
    several = " and " in (fact.other or "")
    return (
        f"Design file {fact.subject} lies apart from the shots, and so {'do' if several else 'does'} {fact.other}, "
        f"each by a shift of its own: of shots of its kinds that lie beside no design, {fact.count} of "
        f"{words.many(fact.total or 0, 'shot')} lie on {fact.proposal} once it is {moved}. Is it in another frame, on "
        f"ground or local coordinates, or shifted? Nothing is held against {'any of them' if several else 'either'} "
        "until that is settled."
    )


def drawn_twice(facts: Sequence[Fact], unit: str) -> str:
    """Design lines of one kind that lie in the same place."""
    shown = "; ".join(
        f"{fact.subject} and {fact.other} ({words.many(fact.count or 0, 'shot')})" for fact in facts[:NAMES_LISTED]
    )
    more = f"; and {len(facts) - NAMES_LISTED} more pairs" if len(facts) > NAMES_LISTED else ""
    return f"Design lines that lie in the same place, so that shots count for one of them only: {shown}{more}."


def zero_design(fact: Fact, unit: str) -> str:
    """Design elevations of exactly 0 among others far from it."""
    count = "1 vertex" if fact.count == 1 else f"{fact.count} vertices"
    if fact.variant == "points":
        count = "1 design point lies" if fact.count == 1 else f"{fact.count} design points lie"
        where = f"{count} at elevation 0 exactly ({fact.subject})"
    else:
        where = f"Design line {fact.subject} has {count} at elevation 0 exactly"
    return f"{where}, and the others near {fact.amount(unit)}. Does 0 mean none there? Elevations there are not judged."


def limits_of_work(fact: Fact, unit: str) -> str:
    """What lies beyond the limits of work, and the shots there."""
    lines = f"{fact.count} design line{'' if fact.count == 1 else 's'} ({words.extent(fact.number, unit)} of them)"
    points = f"{fact.total} design point{'' if fact.total == 1 else 's'}"
    shots = (
        f"{fact.second:.0f} shot{' lies' if fact.second == 1 else 's lie'} there too, judged as ever: {fact.written}."
        if fact.second > 0
        else "No shot lies there."
    )
    return f"Beyond the limits of work lie {lines} and {points}: no evidence of them is asked for. {shots}"


def chorded_curves(facts: Sequence[Fact], unit: str) -> str:
    """Lines with curves drawn in chords, and what that does to their verdicts."""
    each = [
        f"{fact.subject} (chords of {words.extent(fact.second, unit)} on a radius of {words.extent(fact.third, unit)}: "
        f"middle ordinate {fact.amount(unit)})"
        for fact in facts[:NAMES_LISTED]
    ]
    shown = "; ".join(each) + (f"; and {len(facts) - NAMES_LISTED} more lines" if len(facts) > NAMES_LISTED else "")
    if facts[0].variant == "arc":
        return f"Curves that are drawn in chords and judged against their arcs, as the job says: {shown}."
    return (
        f"Curves that are drawn in chords: {shown}. The arc lies outside of them by that; where chord and arc give two "
        'verdicts, the shot stays undecided. State which is the design: [[steps]] use = "chorded-curves" with '
        'arcs = ["LINE"] or chords = ["LINE"].'
    )


def surface_not_compared(fact: Fact, unit: str) -> str:
    """Surfaces that the job names, which nothing looks at."""
    return f"{fact.written[:1].upper()}{fact.written[1:]}."


def no_station(facts: Sequence[Fact], unit: str) -> str:
    """Shots that have no station on the baseline, and why."""
    parts = [f"{fact.count} {fact.written}" for fact in facts]
    total = sum(fact.count or 0 for fact in facts)
    have = "shot has" if total == 1 else "shots have"
    return f"{total} of {facts[0].total} {have} no station on the baseline {facts[0].subject}: {', '.join(parts)}."


def shared_misses(fact: Fact, unit: str) -> str:
    """How far and which way the lines of a design file are missed, in which sessions."""
    ways = [
        f"{words.length(abs(size), unit)} {names[int(size > 0)]}"
        for size, names in ((fact.number, ("left", "right")), (fact.second, ("low", "high")))
        if size == size
    ]
    if fact.variant.endswith("plan"):
        ways.insert(0, f"{words.length(fact.third, unit)} in plan")
    several = " and " in fact.session
    sessions = f"{'sessions' if several else 'session'} {fact.session}"
    beside = "no other lines were shot" if fact.limit > 0 else "other lines are sound"
    return f"{' and '.join(ways)}, in {sessions}, where {beside}"


def fits_in(fact: Fact, unit: str) -> str:
    """How far shots lie off a design file in either foot."""
    read, other = (words.length(size, unit) for size in (fact.number, fact.second))
    return (
        f"{words.many(fact.count or 0, 'shot')} along {fact.place} lie {read} off {fact.subject} as {fact.written} and "
        f"{other} as {fact.other}: the one shift is what the two feet differ by at these coordinates"
    )


def wrong_foot_remedy(fact: Fact) -> str:
    """The line of the job that settles in which foot a design file is."""
    also = f"; {fact.session} of the job reads the same file: state it there too" if fact.session else ""
    other = "" if fact.variant == "checked" else "; or that of the [[shots]], if it is they: no check shot tells which"
    state = f'state unit = "{fact.other}" in its [[design]], with accept = true where the file says {fact.written}'
    return f"ask whose unit it is, and {state}{also}{other}"


def other_foot(fact: Fact, unit: str) -> str:
    """A design file read in the one foot, which fits in the other."""
    return (
        f"{fits_in(fact, unit)}. Work that was set out in the wrong foot would look the same, and no verdict against "
        f"this file holds until its unit is sure: they wait, shown both ways. What to do: {wrong_foot_remedy(fact)}."
    )


def older_design(fact: Fact, unit: str) -> str:
    """A design file whose lines are all missed by one shift: older than the register says, or not known to be."""
    share = f"the {words.many(fact.count or 0, 'shot')} along {fact.place} share one shift: {shared_misses(fact, unit)}"
    if fact.variant.startswith("asked"):
        return (
            f"Design file {fact.subject}: {share}. A superseded revision would look so; so would work that was set out "
            "off as a whole. Nothing in the job says which revision is in force, and all is judged as ever: state "
            "sheet, revision and dated of each [[design]], and see that this one is the last."
        )
    out = f"{words.many(fact.total or 0, 'number')} against it {'is' if fact.total == 1 else 'are'} out as read"
    head = f"Design file {fact.subject} ({fact.written}) is older than {fact.other}. {out}, and {share}."
    if fact.variant.startswith("told"):
        return f"{head} Whether the revision or the survey makes it is not proven, and all is judged as ever. " + (
            f"What to do: {fact.proposal}."
        )
    return (
        f"{head} "
        f"Verdicts against these lines wait, shown both ways; what is out without the shift too stays out. "
        f"What to do: {fact.proposal}."
    )
