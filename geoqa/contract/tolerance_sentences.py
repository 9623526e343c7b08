"""Notes on tolerances in sentences: what cannot be proven, stays open, or is not asked."""

from collections.abc import Sequence

from geoqa.contract.checks import check_named
from geoqa.contract.listing import counted
from geoqa.model import words
from geoqa.model.note_line import NoteLine
from geoqa.model.shown import limit_digits, slope_digits
from geoqa.model.tables.fact import Fact, amount


def unprovable(fact: Fact, unit: str) -> str:
    """A tolerance tighter than this method can prove."""
    limit = (
        words.quantity(fact.number, "length", unit, digits=limit_digits(fact.number, unit))
        if fact.unit == "job"
        else ""
    )
    one = amount(fact.u, fact.unit, unit)
    if fact.unit in ("slope", "ratio"):
        limit = f"{words.number(100 * fact.number, 3).rstrip('0').rstrip('.')} %"
        one = words.quantity(fact.u, fact.unit, unit, digits=slope_digits(fact.u, u=fact.u))
    return (
        f"{fact.subject}, {check_named(fact.place).title.lower()}: {limit or fact.amount(unit)} cannot be proven with "
        f"this measurement (1 sigma {one}): {words.many(fact.count or 0, 'number')} undecided."
    )


def undecided(facts: Sequence[Fact], unit: str) -> str:
    """A kind of which one shot decides too little: how many stay open, and what would decide them, cheapest first.

    Examples
    --------
    >>> about = {"subject": "walk-back", "place": "elevation", "unit": "job"}
    >>> first = Fact(number=0.036, second=0.31, count=40, total=1, **about)
    >>> told = undecided([first, Fact(variant="again", number=0.036, count=19, **about)], "ft")
    >>> print(told.short)
    walk-back, elevation: 41 undecided, 1 of them beyond the limit; a second session would decide about 19.
    >>> print(told.more)
    Of perfect work one shot proves 31 %.
    """
    first, *rest = facts
    check = check_named(first.place)
    within, beyond = first.count or 0, first.total or 0
    far = f"{beyond} of them beyond the limit" if beyond else "none beyond the limit"
    told = f"{first.subject}, {check.name.replace('-', ' ')}: {within + beyond} undecided, {far}"
    by = {"shift": "the session's shift", "again": "a second session", "better": check.better}
    ways = [f"{by[fact.variant]}{'' if nth else ' would decide'} {_how_many(fact)}" for nth, fact in enumerate(rest)]
    short = f"{told}{'; ' * bool(ways)}{', '.join(ways)}."
    more = f"Of perfect work one shot proves {100 * first.second:.0f} %."
    return NoteLine(f"{short} {more}", short=short, more=more)


def _how_many(fact: Fact) -> str:
    """Of the undecided numbers; what is expected and not counted says about."""
    return "none" if not fact.count else f"{'' if fact.variant == 'shift' else 'about '}{fact.count}"


def no_tolerance(facts: Sequence[Fact], unit: str) -> str:
    """Kinds without any tolerance."""
    return (
        f"No tolerance is given for these kinds, so their shots are shown and not judged: {counted(facts, 'subject')}."
    )


def edges_without_pair(facts: Sequence[Fact], unit: str) -> str:
    """Kinds of edges that a tolerance of their pair is meant for, and that no code makes a pair."""
    return (
        f"{counted(facts, 'subject')}: by their names these are edges under [tolerance.{facts[0].place}], but no code "
        "pairs them: no cross slope, running slope or width is judged; set pairs_with in the code list."
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


def readings_idle(fact: Fact, unit: str) -> str:
    """Readings beside the shots that no verdict is of.

    Examples
    --------
    >>> print(readings_idle(Fact(subject="slopes", place="cross-slope", variant="limit", written="cross_slope",
    ...                          count=6), "ft"))
    6 readings of slopes (cross-slope) are compared with nothing: no [tolerance.KIND] has cross_slope = "…" or rules = \
that limit it.
    """
    count = words.many(fact.count or 0, "reading")
    whose = f"{count} of {fact.subject} ({fact.place}) {'is' if fact.count == 1 else 'are'} compared with nothing"
    if fact.variant == "limit":
        return f'{whose}: no [tolerance.KIND] has {fact.written} = "…" or rules = that limit it.'
    if fact.variant == "quantity":
        return f"{whose}: {fact.place} is a {fact.written}, and {'it is' if fact.count == 1 else 'they are'} none."
    return (
        f"{whose}: the shots make no number of {fact.place} that they could stand beside. Is the kind, its pair in "
        "[codes] or the line ID of the shots missing?"
    )


def rule_kind(fact: Fact, unit: str) -> str:
    """A kind that a rule file limits, and that limits nothing in this job.

    Examples
    --------
    >>> rule_kind(Fact(subject="wolk", place="town.toml, line 9", other="town", written="curb, walk",
    ...                proposal="walk", variant="no-kind"), "ft")
    "town.toml, line 9, [wolk]: limits nothing here: no code, design or tolerance of this job is of kind 'wolk'; did \
you mean walk? Kinds of this job: curb, walk. A rule file that several jobs share may limit kinds that one of \
them does not have."
    """
    head = f"{fact.place}, [{fact.subject}]: limits nothing here: "
    if fact.variant == "not-named":
        return (
            f"{head}[tolerance.{fact.subject}] does not name the rule set {fact.other}; write rules = "
            f'"{fact.other}" there, beside the sets it names.'
        )
    meant = f"did you mean {fact.proposal}? " if fact.proposal else ""
    return (
        f"{head}no code, design or tolerance of this job is of kind '{fact.subject}'"
        f"{'; ' + meant if meant else '. '}Kinds of this job: {fact.written}. A rule file that several jobs share may "
        "limit kinds that one of them does not have."
    )


def no_tolerance_of_check(facts: Sequence[Fact], unit: str) -> str:
    """Kinds that have a tolerance, but none for one of the checks."""
    return f"No tolerance for {check_named(facts[0].place).title.lower()} is given for: {counted(facts, 'subject')}."


def no_spacing(facts: Sequence[Fact], unit: str) -> str:
    """Kinds of judged lines without a spacing."""
    return (
        f"No spacing is given for lines of: {counted(facts, 'subject')}. How long a reach of them may go without a "
        "shot is not asked; only lines without any shot are listed."
    )
