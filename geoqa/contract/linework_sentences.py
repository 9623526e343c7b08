"""Sentences about lines that the shots make."""

from collections.abc import Sequence

from geoqa.contract.control_sentences import shifted
from geoqa.model import words
from geoqa.model.note_line import NoteLine
from geoqa.model.tables.fact import Fact


def _unused(fact: Fact, unit: str) -> str:
    return (
        f"{words.many(fact.count or 0, 'shot of a line does', 'shots of lines do')} not count and {_are(fact)} left out"
    )


def _repeat(fact: Fact, unit: str) -> str:
    return f"{words.many(fact.count or 0, 'shot repeats another one and is', 'shots repeat others and are')} no vertex"


def _passes(fact: Fact, unit: str) -> str:
    return (
        f"{words.many(fact.count or 0, 'later pass of a line is', 'later passes of lines are')} drawn by "
        f"{'its' if fact.count == 1 else 'their'} own name ({fact.written}); lengths, areas and the surface take the "
        "first pass"
    )


def _nameless(fact: Fact, unit: str) -> str:
    return (
        f"{words.many(fact.count or 0, 'shot has', 'shots have')} the code of a line and no line ID ({fact.written}); "
        f"give {'it' if fact.count == 1 else 'them'} one"
    )


def _alone(fact: Fact, unit: str) -> str:
    one = "is of 1 shot and no line" if fact.count == 1 else "are of 1 shot each and no lines"
    return f"{fact.written} {one}: is the line ID a slip, or was the rest not shot?"


def _long(fact: Fact, unit: str) -> str:
    """Length of a gap: nobody asks for its thousandths."""
    return words.quantity(fact.number, "length", unit, digits=1)


def _up_to(fact: Fact) -> str:
    return "" if fact.count == 1 else "up to "


def _gap(fact: Fact, unit: str) -> str:
    return (
        f"not drawn across {words.many(fact.count or 0, 'gap')} of {_up_to(fact)}{_long(fact, unit)}, "
        f"behind {fact.written}; state gap = in asbuilt-lines if lines go on there"
    )


def _jump(fact: Fact, unit: str) -> str:
    return (
        f"not drawn from one design line to another at {words.many(fact.count or 0, 'place')} over up to "
        f"{_long(fact, unit)}, behind {fact.written}"
    )


def _no_curve(fact: Fact, unit: str) -> str:
    return (
        f"{words.many(fact.count or 0, 'curve is', 'curves are')} drawn straight in {fact.written}: fewer than three "
        "shots, or in no order along a circle"
    )


def _strange(fact: Fact, unit: str) -> str:
    return (
        f"{words.many(fact.count or 0, 'shot bears', 'shots bear')} words that mean nothing to a line: {fact.written}; "
        "state start, arc, end and close = in asbuilt-lines"
    )


def _are(fact: Fact) -> str:
    return "is" if fact.count == 1 else "are"


_TOLD = {
    "unused": _unused, "repeat": _repeat, "passes": _passes, "nameless": _nameless, "one": _alone, "gap": _gap,
    "jump": _jump,
    "no-curve": _no_curve,
    "strange": _strange,
}  # fmt: skip


_ORDER = {variant: place for place, variant in enumerate(_TOLD)}


def linework(facts: Sequence[Fact], unit: str) -> str:
    """What of the shots is in no as-built line, and where lines are not drawn on."""
    order = sorted(facts, key=lambda fact: _ORDER[fact.variant])
    told = [_TOLD[fact.variant](fact, unit) for fact in order]
    head = f"As-built lines ({facts[0].total} drawn)"
    # which lines, and what to state, stands behind the counts
    first = [each.partition(", behind ")[0].partition(" (")[0].partition("; ")[0] for each in told]
    return NoteLine(f"{head}: {'; '.join(told)}.", short=f"{head}: {'; '.join(first)}.", more=f"{'; '.join(told)}.")


def _with_band(value: float, u: float, unit: str, *, signed: bool = False) -> str:
    """A number and its band of 95 %."""
    return f"{words.length(value, unit, signed=signed)} ± {words.length(2 * u, unit)}"


_REST = {
    "random": "what is left is chance",
    "wider": "what is left, {spread} (1 sigma), is more than the stated uncertainty",
    "narrower": "what is left, {spread} (1 sigma), is less than the stated uncertainty",
    "waving": "what is left, {spread} (1 sigma), is alike from shot to shot",
}


def line_shift(fact: Fact, unit: str) -> str:
    """A line that lies to one side, or too high, over its whole length."""
    spread = words.length(fact.second, unit)
    rest = _REST.get(fact.other, "").format(spread=spread)
    size = _with_band(fact.number, fact.u, unit)
    return (
        f"Line {fact.subject} lies {size} {fact.variant} of its design {fact.place} over its whole length "
        f"({words.many(fact.count or 0, 'shot')}){f'; {rest}' * bool(rest)}: one cause, not as many defects."
    )


def passes_differ(fact: Fact, unit: str) -> str:
    """A line that was shot twice at two heights."""
    size = _with_band(abs(fact.number), fact.u, unit)
    other = f"{fact.variant}, which was shot there before" if fact.variant else "the first pass of its line"
    return (
        f"{fact.subject} lies {size} {shifted('elevation', fact.number)} of {other}, by "
        f"{words.many(fact.count or 0, 'shot')}: one of the two is off, or it was built anew between them; each has "
        "numbers of its own. If it was built anew, leave the older shots out."
    )


def session_mean(fact: Fact, unit: str) -> str:
    """What the shots of a session share against the design, on several lines."""
    way = shifted(fact.place, fact.number)
    size = _with_band(abs(fact.number), fact.u, unit)
    shots, lines = words.many(fact.count or 0, "shot"), words.many(fact.total or 0, "design line")
    told = f"Session {fact.subject} lies {size} {way} of the design as a whole, by {shots} on {lines}"
    if fact.variant == "check":
        checks = _with_band(fact.second, fact.third, unit, signed=True)
        asked = "was it built so, or was the mark wrong?"
        return f"{told}. Its check shots are off by {checks} and do not explain it: {asked}"
    if fact.variant == "open":
        checks = _with_band(fact.second, fact.third, unit, signed=True)
        return f"{told}. Its check shots, off by {checks}, do not tell whether the work or the session is."
    return f"{told}. No check shot tells whether the work or the session is off: check it on a mark."


def hangs_on(session: str, read: str = "", without: str = "", *, checked: bool = False) -> str:
    """What an undecided number hangs on: how far a session is off, of which no shot is checked, or by its checks.

    Examples
    --------
    >>> hangs_on("B", "0.16 ft high", "0.05 ft high")
    'hangs on session B, of which no shot is checked: 0.16 ft high as read, 0.05 ft high without what the session \
may be off by'
    >>> hangs_on("B")
    'hangs on what session B is off by, of which no shot is checked'
    """
    if not read:
        return f"hangs on what session {session} is off by, of which no shot is checked"
    if checked:
        return (
            f"hangs on what session {session} is off by against the other: {read} as read, {without} without what the "
            "check shots of either say"
        )
    return (
        f"hangs on session {session}, of which no shot is checked: {read} as read, {without} without what the session "
        "may be off by"
    )


def loose_session(fact: Fact, unit: str) -> str:
    """A session without a check shot: the question it asks, or what its elevations are taken to share.

    Examples
    --------
    >>> fact = Fact(variant="shared", subject="B", number=0.116, u=0.012, unit="job", count=210, second=5, total=34)
    >>> loose_session(fact, "ft")
    'Session B lies 0.116 ft ± 0.024 ft high of the design as a whole, by 210 shots on 5 design lines, and no check \
shot tells whether the work or the session (rod, antenna, datum) is off: check it on a mark. 34 elevations are out as \
read alone, and wait for that.'
    >>> loose_session(Fact(variant="steps", subject="B", number=-0.2, u=0.01, unit="job", second=2), "ft")
    'Elevations of session B step together twice, and lie up to 0.200 ft ± 0.020 ft low of the design between steps; \
no check shot tells whether the work or the survey (rod, antenna, base) is off: check it on a mark.'
    >>> loose_session(Fact(variant="last", subject="B", number=-0.2, u=0.01, unit="job", count=53), "ft")
    'The last 53 shots of session B lie 0.200 ft ± 0.020 ft low of the design and none comes back; the work of that \
line and a change of the survey (rod, antenna, base) look alike here: check it on a mark from the same set-up, or \
shoot two of them again in a session that is checked.'
    >>> loose_session(Fact(variant="plan", subject="B", number=0.08, second=-0.05, u=0.01, unit="job", total=1), "ft")
    'Session B lies off the design in plan as a whole, easting +0.080 ft ± 0.020 ft, northing -0.050 ft ± 0.020 ft, \
and no check shot tells whether the work or the session (base, initialization) is off: check it on a mark. 1 number is \
out as read alone, and waits for that.'
    """
    if fact.variant == "open":
        size = words.length(fact.limit, unit)
        names = "session " if fact.count == 1 else "sessions "
        return (
            f"No check shot tells how high {names}{fact.subject} {'lies' if fact.count == 1 else 'lie'}: "
            f"elevations of {'it' if fact.count == 1 else 'them'} are taken to share {size} (1 sigma) at the least."
        )
    told = {"steps": _stepping, "plan": _lying_in_plan, "first": _at_an_end, "last": _at_an_end}.get(
        fact.variant, _lying_off
    )(fact, unit)
    of = ("number is", "numbers are") if fact.variant == "plan" else ("elevation is", "elevations are")
    waits = words.many(fact.total or 0, *of)
    wait = "waits" if fact.total == 1 else "wait"
    if not fact.total:
        return told
    return f"{told} {waits} out as read alone, and {wait} for that."


def _lying_off(fact: Fact, unit: str) -> str:
    size = _with_band(abs(fact.number), fact.u, unit)
    shots, lines = words.many(fact.count or 0, fact.written or "shot"), words.many(int(fact.second), "design line")
    return (
        f"Session {fact.subject} lies {size} {shifted('elevation', fact.number)} of the design as a whole, by {shots} "
        f"on {lines}, and no check shot tells whether the work or the session (rod, antenna, datum) is off: check it "
        "on a mark."
    )


def _stepping(fact: Fact, unit: str) -> str:
    size = _with_band(abs(fact.number), fact.u, unit)
    return (
        f"Elevations of session {fact.subject} step together {_times(int(fact.second))}, and lie up to {size} "
        f"{shifted('elevation', fact.number)} of the design between steps; no check shot tells whether the work or the "
        "survey (rod, antenna, base) is off: check it on a mark."
    )


def _at_an_end(fact: Fact, unit: str) -> str:
    size = _with_band(abs(fact.number), fact.u, unit)
    return (
        f"The {fact.variant} {words.many(fact.count or 0, 'shot')} of session {fact.subject} lie {size} "
        f"{shifted('elevation', fact.number)} of the design and none comes back; the work of that line and a change of "
        "the survey (rod, antenna, base) look alike here: check it on a mark from the same set-up, or shoot two of "
        "them again in a session that is checked."
    )


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _lying_in_plan(fact: Fact, unit: str) -> str:
    east, north = (_with_band(each, fact.u, unit, signed=True) for each in (fact.number, fact.second))
    return (
        f"Session {fact.subject} lies off the design in plan as a whole, easting {east}, northing {north}, and no "
        "check shot tells whether the work or the session (base, initialization) is off: check it on a mark."
    )


def lines_not_drawn(fact: Fact, unit: str) -> str:
    """As-built lines are left out of a job of very many shots.

    Examples
    --------
    >>> lines_not_drawn(Fact(count=98_000, total=20_000), "ft")
    'As-built lines are not drawn or compared as wholes, for the job has 98000 shots of lines; [[steps]] use = \
"asbuilt-lines" with most = 98000 draws them.'
    """
    count = fact.count or 0
    return (
        f"As-built lines are not drawn or compared as wholes, for the job has {words.many(count, 'shot')} of lines; "
        f'[[steps]] use = "asbuilt-lines" with most = {count} draws them.'
    )
