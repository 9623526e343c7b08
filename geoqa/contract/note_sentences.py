"""Notes in sentences: made of facts, in the job's own unit."""

from collections.abc import Sequence

from geoqa.contract.causes import cause_named
from geoqa.contract.checks import check_named
from geoqa.contract.flag_sentences import check_on_control
from geoqa.model import words
from geoqa.model.tables.fact import Fact, amount

CODES_LISTED = 12
"""Codes that are written out; the count is always complete."""


def blunder(fact: Fact, unit: str) -> str:
    """What the diagnosis says, what would tell its causes apart, and the change to make."""
    apart = f" To tell these apart: {fact.other}." if fact.other else ""
    return f"Survey blunder? {fact.written}.{apart} What to do: {fact.proposal}."


def rows_left_out(fact: Fact, unit: str) -> str:
    """Rows that are in no table, so that no verdict can tell of them."""
    count = "1 row could not be read and is" if fact.count == 1 else f"{fact.count} rows could not be read and are"
    return f"{count} left out of everything that follows; the first: {fact.written}."


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
        f"{fact.subject} {fact.written} ({near.get(fact.variant, '')}{fact.proposal}?)" for fact in facts[:CODES_LISTED]
    )
    more = f" and {len(facts) - CODES_LISTED} more" if len(facts) > CODES_LISTED else ""
    return (
        f"{rows} a name, line ID or code as a spreadsheet leaves it: {shown}{more}. Export the file again without "
        "opening it in a spreadsheet; nothing was changed."
    )


def no_station(facts: Sequence[Fact], unit: str) -> str:
    """Shots that have no station on the baseline, and why."""
    parts = [f"{fact.count} {fact.written}" for fact in facts]
    total = sum(fact.count or 0 for fact in facts)
    have = "shot has" if total == 1 else "shots have"
    return f"{total} of {facts[0].total} {have} no station on the baseline {facts[0].subject}: {', '.join(parts)}."


def control_widens(fact: Fact, unit: str) -> str:
    """Stated uncertainties that control proves too small."""
    return (
        f"Check shots scatter {fact.number:.1f} times as widely as their stated uncertainties say: every verdict on "
        "the work takes these as many times larger. State them as they are, and run again."
    )


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


def assumed_mark_u(fact: Fact, unit: str) -> str:
    """Published values that state no uncertainty."""
    whose = "1 mark states" if fact.count == 1 else f"{fact.count} marks state"
    return (
        f"{whose} no uncertainty of the published values: {fact.amount(unit)} (1 sigma, each axis) was assumed, not 0. "
        "State it in the control list if it is known."
    )


def unprovable(fact: Fact, unit: str) -> str:
    """A tolerance tighter than this method can prove."""
    stay = words.many(fact.count or 0, "number stays", "numbers stay")
    return (
        f"{fact.subject}, {check_named(fact.place).title.lower()}: the tolerance of {fact.amount(unit)} cannot be "
        f"proven with this measurement (1 sigma {amount(fact.u, fact.unit, unit)}); {stay} undecided unless "
        "clearly out."
    )


def undecided(facts: Sequence[Fact], unit: str) -> str:
    """A kind of which one shot decides too little: how many stay open, and what would decide them, cheapest first.

    Examples
    --------
    >>> about = {"subject": "walk-back", "place": "elevation", "unit": "job"}
    >>> first = Fact(number=0.036, second=0.31, count=40, total=1, **about)
    >>> print(undecided([first, Fact(variant="again", number=0.036, count=19, **about)], "ft"))
    walk-back, elevation against design: 41 numbers undecided, 1 of them beyond the limit (one shot proves 31 % of \
perfect work); of these 41, a second session would decide about 19.
    """
    first, *rest = facts
    check = check_named(first.place)
    within, beyond = first.count or 0, first.total or 0
    far = f"{beyond} of them beyond the limit" if beyond else "none beyond the limit"
    told = (
        f"{first.subject}, {check.title.lower()}: {words.many(within + beyond, 'number')} undecided, {far} "
        f"(one shot proves {100 * first.second:.0f} % of perfect work)"
    )
    by = {"shift": "the session's shift", "again": "a second session", "better": check.better}
    ways = [f"{by[fact.variant]} {'' if fact.variant == 'shift' else 'about '}{fact.count}" for fact in rest]
    if not ways:
        return f"{told}."
    first_way = f"{by[rest[0].variant]} would decide{ways[0].removeprefix(by[rest[0].variant])}"
    return f"{told}; of these {within + beyond}, {', '.join([first_way, *ways[1:]])}."


def no_tolerance(facts: Sequence[Fact], unit: str) -> str:
    """Kinds without any tolerance."""
    return (
        f"No tolerance is given for these kinds, so their shots are shown and not judged: {_counted(facts, 'subject')}."
    )


def unknown_codes(facts: Sequence[Fact], unit: str) -> str:
    """Codes that the code list does not know."""
    total = sum(fact.count or 0 for fact in facts)
    more = f" and {len(facts) - CODES_LISTED} more" if len(facts) > CODES_LISTED else ""
    have = "1 shot has a code that is" if total == 1 else f"{total} shots have codes that are"
    shown = _counted(facts[:CODES_LISTED], "written")
    return f"{have} not in the code list, shown and not judged: {shown}{more}."


def drawn_twice(facts: Sequence[Fact], unit: str) -> str:
    """Design lines of one kind that lie in the same place."""
    shown = "; ".join(
        f"{fact.subject} and {fact.other} ({words.many(fact.count or 0, 'shot')})" for fact in facts[:CODES_LISTED]
    )
    more = f"; and {len(facts) - CODES_LISTED} more pairs" if len(facts) > CODES_LISTED else ""
    return f"Design lines that lie in the same place, so that shots count for one of them only: {shown}{more}."


def design_apart(fact: Fact, unit: str) -> str:
    """Shots that lie away from all design as a whole."""
    return (
        "Design and shots lie apart as a whole: without design of its kind within reach "
        f"{'is' if fact.count == 1 else 'are'} {fact.count} of {words.many(fact.total or 0, 'shot', 'shots')}; half of "
        f"them lie {words.length(fact.second, unit)} and more from the nearest of their kind, the middle of the shots "
        f"{fact.amount(unit)} {fact.place} of the middle of the design. Is one of the two in another frame, on ground "
        "or local coordinates, shifted, or of another site? What follows line by line cannot be believed until that "
        "is settled."
    )


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
    lines = f"{fact.count} design line{'' if fact.count == 1 else 's'} ({fact.amount(unit)} of them)"
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
        f"{fact.subject} (chords of {words.length(fact.second, unit)} on a radius of {words.length(fact.third, unit)}: "
        f"middle ordinate {fact.amount(unit)})"
        for fact in facts[:CODES_LISTED]
    ]
    shown = "; ".join(each) + (f"; and {len(facts) - CODES_LISTED} more lines" if len(facts) > CODES_LISTED else "")
    if facts[0].variant == "arc":
        return f"Curves that are drawn in chords and judged against their arcs, as the job says: {shown}."
    return (
        f"Curves that are drawn in chords: {shown}. The arc lies outside of them by that; where chord and arc give two "
        'verdicts, the shot stays undecided. State which is the design: [[steps]] use = "chorded-curves" with '
        'arcs = ["LINE"] or chords = ["LINE"].'
    )


def unused_tolerance(fact: Fact, unit: str) -> str:
    """A tolerance of a kind that the design has nothing of, or that nobody knows."""
    if fact.count is None:
        return f"[tolerance.{fact.subject}]: neither the shots nor the design have this kind. Is it misspelt?"
    idle = f"so {words.many(fact.count, 'shot')} cannot be compared"
    if fact.written:
        return (
            f"The design has no line or point of kind {fact.subject}, {idle}; {fact.written}. If a line or point of "
            "it is meant to have this kind: is its layer or kind misnamed?"
        )
    return f"The design has nothing of kind {fact.subject}, {idle}. Is a layer or its kind misnamed?"


def surface_not_compared(fact: Fact, unit: str) -> str:
    """Surfaces that the job names, which nothing looks at."""
    return f"{fact.written[:1].upper()}{fact.written[1:]}."


def no_tolerance_of_check(facts: Sequence[Fact], unit: str) -> str:
    """Kinds that have a tolerance, but none for one of the checks."""
    return f"No tolerance for {check_named(facts[0].place).title.lower()} is given for: {_counted(facts, 'subject')}."


def no_spacing(facts: Sequence[Fact], unit: str) -> str:
    """Kinds of judged lines without a spacing."""
    return (
        f"No spacing is given for lines of: {_counted(facts, 'subject')}. How long a reach of them may go without a "
        "shot is not asked; only lines without any shot are listed."
    )


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


def _counted(facts: Sequence[Fact], name: str) -> str:
    return ", ".join(f"{getattr(fact, name)} ({fact.count})" for fact in facts)


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


def session_shift(fact: Fact, unit: str) -> str:
    """A session's shift, and its verdicts with and without it, in one line."""
    also = f", and in {fact.other}" if fact.other else ""
    shift = words.number(fact.number, words.decimals("length", unit), signed=True)
    told = (
        f"Session {fact.session} is shifted as a whole: {shift} ± {words.length(2 * fact.u, unit)} (95 %) in "
        f"{fact.place} by its check shots{also}"
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
        return f"{told}. No number is judged in it."
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
    return f'{both}; [[steps]] use = "session-shifts", apply = ["{fact.session}"] takes it off.'


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
    return f"{' and '.join(parts)}: {fact.written}."


def diagnosis_gap(fact: Fact, unit: str) -> str:
    """What the diagnosis had to do without."""
    return f"Diagnosis without {fact.subject} ({words.many(fact.count or 0, 'shot')}): {fact.written}."


def screening_gap(fact: Fact, unit: str) -> str:
    """What could not be screened."""
    shots = words.many(fact.count or 0, "shot")
    return f"Screening by {fact.subject} was not possible for {shots}: {fact.written}."


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


KINDS_LISTED = 3
"""Kinds that are written out; the layer `budget` has all of them."""


def budget(facts: Sequence[Fact], unit: str) -> str:
    """One sentence for all kinds of features with the same uncertainty from the same sources."""
    kinds = list(dict.fromkeys(fact.subject for fact in facts))
    more = f" and {len(kinds) - KINDS_LISTED} more kinds" if len(kinds) > KINDS_LISTED + 1 else ""
    shown = ", ".join(kinds[:KINDS_LISTED] if more else kinds) + more
    plan, level = (next(_parts(fact, unit) for fact in facts if fact.place == axis) for axis in ("h", "v"))
    sources = facts[0].reference
    return (
        f"Uncertainty of one shot (1 sigma, {unit}): in plan {plan}, in elevation {level}, for {shown}. "
        f"{sources[:1].upper()}{sources[1:]}."
    )


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
