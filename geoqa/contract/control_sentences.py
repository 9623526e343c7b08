"""Notes on control in sentences: blunders, sessions, marks, checks and site fits."""

import math
from collections.abc import Sequence

from geoqa.contract.causes import cause_named
from geoqa.contract.flag_sentences import check_on_control
from geoqa.model import words
from geoqa.model.note_line import LONGEST, NoteLine
from geoqa.model.tables.fact import Fact, amount


def shots_acted_on(sure: int, doubtful: int) -> str:
    """How many shots a blunder acts on, and of how many that is not known.

    Examples
    --------
    >>> shots_acted_on(85, 39), shots_acted_on(1, 0), shots_acted_on(0, 4)
    ('85 shots sure and 39 in doubt', '1 shot', '4 shots in doubt')
    """
    if not doubtful:
        return words.many(sure, "shot")
    return (
        f"{words.many(sure, 'shot')} sure and {doubtful} in doubt"
        if sure
        else f"{words.many(doubtful, 'shot')} in doubt"
    )


def blunder(fact: Fact, unit: str) -> str:
    """What the diagnosis says, what would tell its causes apart, and the change to make."""
    apart = f" To tell these apart: {fact.other}." if fact.other else ""
    do = f"What to do: {fact.proposal}."
    cause = cause_named(fact.subject) if fact.subject else None
    title, asks = (cause.title, cause.asks) if cause else ("", "Survey blunder?")
    head = (f"{fact.place[:1].upper()}{fact.place[1:]}" if fact.place else title) or fact.written
    shots = f", {shots_acted_on(fact.count, fact.total or 0)}" if fact.count else ""
    if cause and cause.alike:
        head = (fact.place or "").partition("): ")[2] or head
        head = head[:1].upper() + head[1:]
    whole, more = f"{asks} {fact.written}.{apart} {do}", f"{fact.written}.{apart}"
    short = f"{asks} {head}{shots}. {do}"
    if (len(short) <= LONGEST and not (cause and cause.alike)) or not (cause and cause.brief):
        return NoteLine(whole, short=short, more=more)
    heads = (head, head.partition(": ")[2] or head, title.partition(",")[0])
    lines = [f"{asks} {each[:1].upper()}{each[1:]}{shots}. What to do: {cause.brief}." for each in heads]
    # all that was to be said stands behind the line, not in it
    return NoteLine(whole, short=next((each for each in lines if len(each) <= LONGEST), lines[-1]), more=f"{more} {do}")


def diagnosis_gap(fact: Fact, unit: str) -> str:
    """What the diagnosis had to do without."""
    return f"Diagnosis without {fact.subject} ({words.many(fact.count or 0, 'shot')}): {fact.written}."


def session_shift(fact: Fact, unit: str) -> str:
    """A session's shift, and its verdicts with and without it, in one line."""
    also = f", and in {words.listed(fact.other.split('; '))}" if fact.other else ""
    shift, way = words.number(abs(fact.number), words.decimals("length", unit)), shifted(fact.place, fact.number)
    told = (
        f"Session {fact.session} is shifted as a whole: {shift} ± {words.length(2 * fact.u, unit)} {way} (95 %) by its "
        f"check shots{also}"
    )
    if fact.variant == "refused":
        return (
            f"The job asks to take the shift of session {fact.session} off its numbers, but no shift of it is proven: "
            "nothing was taken off."
        )
    if fact.variant == "one-mark":
        return (
            f"The job asks to take the shift of session {fact.session} off its numbers, but it rests on one mark, and "
            "whether mark or session is off cannot be told: nothing was taken off. Check a second mark in that session."
        )
    third = words.number(fact.third, words.decimals("length", unit))
    worth = f" (then ± {third}, 1 sigma)" if fact.third == fact.third else ""
    if not fact.total:
        return f"{told}. No number that it would change is judged."
    if fact.variant == "applied":
        return (
            f"{told}. TAKEN OFF its single shots{worth}, as the job says: {fact.proposal}; as read: {fact.written}. "
            "Check shots and coordinates stay as read."
        )
    both = (
        f"{told}. Single shots as read: {fact.written}; without the shift{worth}: {fact.proposal}. Nothing was "
        "corrected"
    )
    if fact.variant == "by-one-mark":
        return f"{both}: it rests on one mark, and whether mark or session is off cannot be told."
    line = f'[[steps]] use = "session-shifts", apply = ["{fact.session}"] takes it off.'
    short = f"{told}. {line}"
    if len(short) > LONGEST:
        short = f"{told.replace(' as a whole', '').replace(' by its check shots', ' by its checks')}. {line}"
    if len(short) > LONGEST:
        short = f"{told}. Nothing was corrected."
    return NoteLine(f"{both}; {line}", short=short, more=f"{both.removeprefix(told + '. ')}; {line}")


def shifted(axis: str, by: float) -> str:
    """Which way a session lies that is shifted along an axis.

    Examples
    --------
    >>> shifted("elevation", -0.04), shifted("easting", 0.02)
    ('low', 'east')
    """
    ways = {"easting": ("west", "east"), "northing": ("south", "north")}
    return ways.get(axis, ("low", "high"))[int(by > 0)]


def session_together(fact: Fact, unit: str) -> str:
    """A session whose check shots are off together by more than its stated common part allows."""
    by = [
        f"{amount(size, fact.unit, unit)} in {plane}"
        for size, plane in ((fact.number, "plan"), (fact.second, "elevation"))
        if size > 0
    ]
    return (
        f"Session {fact.subject}: its check shots are off together by {' and '.join(by)}; its verdicts take at least "
        "that as what all its shots share."
    )


def control_widens(fact: Fact, unit: str) -> str:
    """Stated uncertainties that control proves too small."""
    return (
        f"Check shots scatter {fact.number:.1f} times as widely as stated: every verdict on the work takes its "
        "uncertainty as many times larger. State it as it is, and run again."
    )


def assumed_mark_u(fact: Fact, unit: str) -> str:
    """Published values that state no uncertainty."""
    whose = "1 mark states" if fact.count == 1 else f"{fact.count} marks state"
    return (
        f"{whose} no uncertainty: {fact.amount(unit)} (1 sigma, each axis) was assumed, not 0. State it in the control "
        "list if it is known."
    )


def marks_say(facts: Sequence[Fact], unit: str) -> str:
    """What the marks of a session say of each other, in plan or in elevation.

    Examples
    --------
    >>> marks_say([Fact(variant="outlying", other="M3", number=0.21, unit="job", total=4)], "ft")
    'outlying: M3 by 0.210 ft; the other 4 agree and are kept'
    """
    first = facts[0]
    if first.variant == "outlying":
        off = words.listed([f"{fact.other} by {fact.amount(unit)}" for fact in facts])
        return f"outlying: {off}; the other {first.total} agree and are kept"
    if first.variant == "two-disagree":
        apart = first.amount(unit)
        return f"two disagree: {first.subject} and {first.other} by {apart}; a third mark is needed"
    return {
        "none": "no mark",
        "one": "one mark: it cannot be told whether mark or survey is off",
        "agree": words.many(first.count or 0, "mark agrees", "marks agree"),
        "disagree": f"{first.count} marks disagree, and which of them is off cannot be told",
    }[first.variant]


def marks_assumed(count: int, u: float, unit: str) -> str:
    """What was assumed of marks that state no uncertainty, after what they say of each other.

    Examples
    --------
    >>> marks_assumed(2, 0.03, "ft")
    '; 2 marks state no uncertainty, and are taken with 0.030 ft'
    """
    verb = "states no uncertainty, and is" if count == 1 else "state no uncertainty, and are"
    return f"; {words.many(count, 'mark')} {verb} taken with {words.length(u, unit)}"


def control_marks(facts: Sequence[Fact], unit: str) -> str:
    """Marks that do not agree."""
    return f"Control {facts[0].place}: {marks_say(facts, unit)}."


def left_out(fact: Fact, unit: str) -> str:
    """Check shots that are in no statistic."""
    level = fact.total or 0
    parts = []
    if fact.count:
        parts.append(
            f"{words.many(fact.count, 'check shot is', 'check shots are')} in no mean, 95 % number or accuracy"
        )
    if level:
        parts.append(f"{words.many(level, 'check shot is', 'check shots are')} in those of plan positions alone")
    every, twice = (fact.count or 0) + level, 0 if math.isnan(fact.third) else int(fact.third)
    it = "it" if every == 1 else "them"
    listed = f"{'it is' if every == 1 else 'they are'} one measurement listed twice"
    blunder = f"a survey blunder acts on {it}"
    why = listed if twice == every else f"{blunder} or {listed}" if twice else blunder
    short = f"{' and '.join(parts)}, for {why}."
    whole = f"{' and '.join(parts)}: {fact.written}."
    return NoteLine(whole, short=short, more=whole)


def check_missing(fact: Fact, unit: str) -> str:
    """A check on control that a rule asks for and that was not made."""
    return f"Check on control, {fact.subject} ({fact.reference}): {check_on_control(fact, unit)}."


def site_fit_warning(fact: Fact, unit: str) -> str:
    """What a site fit would hide, or cannot tell."""
    return {
        "hides": f"the fit takes away {fact.amount(unit)}, which is what '{cause_named(fact.subject).title}' does here "
        f"({fact.written}); it would hide that. Settle the cause first, then fit",
        "separation": f"the fit takes away {words.length(fact.number, unit, signed=True)} in elevation: a geoid "
        "separation, not a site; name the geoid or the height system first",
        "scale": f"the fit scales by {fact.number:+.1f} ± {fact.u:.1f} ppm: compare with the combined factor of the "
        "site; ground distances are declared in [frame], not fitted away",
        "two": "two marks fit exactly whatever is wrong with them; use four",
        "outlying": f"{fact.other} does not fit the others; leave it out of the fit and check it",
        "disagree": "the marks do not fit each other, and which of them is off cannot be told",
        "left-out": f"{words.many(fact.count or 0, 'check shot')} left out: {fact.written}",
        "none-left": f"not made, for fewer than two marks have a check shot free of a known blunder: {fact.written}. "
        "Settle that first, and run again",
    }[fact.variant]


def site_fit(fact: Fact, unit: str) -> str:
    """The same, as a note."""
    return f"Site fit: {site_fit_warning(fact, unit)}."
