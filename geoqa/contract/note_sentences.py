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
    return (
        f"{fact.subject} repeats {fact.other}: {count} of its {rows} are the same measurements, and count once. Were "
        "they exported twice?"
    )


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
        f"Do the precisions in the log mean 1 sigma or 95 %? The job does not say, and {rest} on it. "
        f"Taken as 1 sigma, the larger uncertainty, their verdicts are {fact.written}; as 95 % they would be "
        f'{fact.proposal}. State confidence = "1 sigma" or "95 %" in [[shots]], as the receiver\'s settings say.'
    )


def believed_parts(facts: Sequence[Fact], unit: str) -> str:
    """What was taken of the stated uncertainty, and what speaks of it: both planes in one line."""
    return (
        "Uncertainty of one shot, held against the data (1 sigma): "
        + "; ".join(_believed(f, unit) for f in facts)
        + "."
    )


def _believed(fact: Fact, unit: str) -> str:
    def size(value: float) -> str:
        return words.length(value, unit)

    def part(now: float, stated: float, what: str) -> str:
        return f"{size(now)} {what}" + (f" ({size(stated)} stated)" if size(now) != size(stated) else " as stated")

    why = []
    if fact.count:
        compared = words.many(fact.count, "comparison", "comparisons")
        why.append(f"neighbours along design lines scatter by {size(fact.u)} ({compared})")
    if fact.total:
        why.append(f"repeats on marks by {size(fact.fourth)} ({words.many(fact.total, 'visit', 'visits')})")
    if fact.session:
        why.append(
            f"check shots put session{'s' if ' and ' in fact.session else ''} {fact.session} farther off than stated"
        )
    taken = f"{part(fact.number, fact.limit, 'by itself')}, {part(fact.second, fact.third, 'shared by a session')}"
    return f"in {fact.place} {taken}: {words.listed(why) if why else 'nothing in the data speaks of it'}"


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
    walk-back, elevation against design: one shot (1 sigma 0.036 ft) decides 31 of 100 perfect places; unproven are \
40 numbers within the limits and 1 beyond. Of these 41 would be decided: about 19 by one more shot of each place in \
another session 4 h or more later.
    """
    first, *rest = facts
    check = check_named(first.place)
    within, beyond = first.count or 0, first.total or 0
    numbers = "number" if within == 1 else "numbers"
    told = (
        f"{first.subject}, {check.title.lower()}: one shot (1 sigma {first.amount(unit)}) decides "
        f"{100 * first.second:.0f} of 100 perfect places; unproven are {within} {numbers} within the limits and "
        f"{beyond or 'none'} beyond."
    )
    by = {
        "shift": "without the shift of their session, as its check shots know it",
        "again": "by one more shot of each place in another session 4 h or more later",
        "better": f"by {check.better} at each",
    }
    ways = [
        f"{'' if fact.variant == 'shift' else 'about '}{fact.count} {by[fact.variant]}"
        f"{f' (u {fact.amount(unit)})' if fact.variant == 'better' else ''}"
        for fact in rest
    ]
    return f"{told} Of these {within + beyond} would be decided: {'; '.join(ways)}." if ways else told


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
    return (
        f"The design has nothing of kind {fact.subject}, so {words.many(fact.count, 'shot')} cannot be compared. "
        "Is a layer or its kind misnamed?"
    )


def no_tolerance_of_check(facts: Sequence[Fact], unit: str) -> str:
    """Kinds that have a tolerance, but none for one of the checks."""
    return f"No tolerance for {check_named(facts[0].place).title.lower()} is given for: {_counted(facts, 'subject')}."


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


def control_marks(facts: Sequence[Fact], unit: str) -> str:
    """Marks that do not agree."""
    return f"Control {facts[0].place}: {marks_say(facts, unit)}."


def session_shift(fact: Fact, unit: str) -> str:
    """A session's shift, and its verdicts with and without it, in one line."""
    also = f", and in {fact.other}" if fact.other else ""
    told = (
        f"Session {fact.session} is shifted as a whole: by its check shots {fact.amount(unit)} ± "
        f"{words.length(fact.u, unit)} in {fact.place} (t {words.number(fact.second, 1)}){also}"
    )
    if fact.variant == "refused":
        return (
            f"The job asks to take the shift of session {fact.session} off its numbers, but no shift of it is proven: "
            "nothing was taken off."
        )
    if not fact.total:
        return f"{told}. No number is judged in it."
    if fact.variant == "applied":
        return (
            f"{told}. As the job says, it is TAKEN OFF the numbers of its single shots, and its own uncertainty stands "
            f"in place of what they share: {fact.proposal}; as read: {fact.written}; {fact.count} of {fact.total} "
            "verdicts change. Check shots and coordinates stay as read; nothing else was corrected."
        )
    return (
        f"{told}. Its single shots as read: {fact.written}; without the shift: {fact.proposal}; {fact.count} of "
        f"{words.many(fact.total, 'verdict changes', 'verdicts change')}. Nothing was corrected; to take it off: "
        f'[[steps]] use = "session-shifts" with apply = ["{fact.session}"].'
    )


def left_out(fact: Fact, unit: str) -> str:
    """Check shots that are in no statistic."""
    are = "1 check shot is" if fact.count == 1 else f"{fact.count} check shots are"
    return f"{are} in no mean, 95 % number or accuracy: {fact.written}."


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
    }[fact.variant]


def site_fit(fact: Fact, unit: str) -> str:
    """The same, as a note."""
    return f"Site fit: {site_fit_warning(fact, unit)}."


def budget(facts: Sequence[Fact], unit: str) -> str:
    """One sentence for all kinds of features with the same uncertainty from the same sources."""
    kinds = ", ".join(dict.fromkeys(fact.subject for fact in facts))
    plan, level = (next(_parts(fact, unit) for fact in facts if fact.place == axis) for axis in ("h", "v"))
    sources = facts[0].reference
    return f"Uncertainty of one shot, 1 sigma ({kinds}): in plan {plan}; in elevation {level}. {sources}."


def _parts(fact: Fact, unit: str) -> str:
    """Parts of one axis, the whole first; a part that is 0 is not told."""
    parts = (("each shot alone", fact.second), ("shared by a session", fact.third), ("tilt", fact.fourth))
    named = ", ".join(
        f"{part} {words.length(size, unit) if size == size else 'not claimed'}" for part, size in parts if size != 0
    )
    return f"{fact.amount(unit)} ({named})" if named else fact.amount(unit)
