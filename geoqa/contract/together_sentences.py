"""Notes on many numbers together, in sentences."""

from collections.abc import Sequence

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.model.note_line import NoteLine
from geoqa.model.tables.fact import Fact, amount


def many_checks(fact: Fact, unit: str) -> str:
    """How many of what is out stand, of so many numbers judged.

    Examples
    --------
    >>> told = Fact(count=8, total=9, second=1462.0, number=0.05, unit="ratio", third=0.44)
    >>> print(many_checks(told, "ft"))
    Of 1,462 numbers of the work 9 are out of tolerance; 8 of them stand when all are looked at together. By chance at \
most about 0.4 sound numbers would be out; on average over many jobs at most 5 % of what stands is sound work.
    """
    held, out = fact.count or 0, fact.total or 0
    if out == 1:
        stand = "it stands" if held else "it does not stand"
    else:
        stand = f"{'all' if held == out else held or 'none'} of them {'stands' if held < 2 else 'stand'}"
    numbers = f"{int(fact.second):,} number{'' if fact.second == 1 else 's'}"
    short = (
        f"Of {numbers} of the work {words.many(out, 'is', 'are')} out of tolerance; {stand} when all are looked at "
        "together."
    )
    share = f"n average over many jobs at most {100 * fact.number:g} % of what stands is sound work."
    more = f"O{share}"
    if fact.third == fact.third:  # a rule without a guard calls out all that could tell
        more = f"By chance at most about {words.number(fact.third, 1)} sound numbers would be out; o{share}"
    return NoteLine(f"{short} {more}", short=short, more=more)


def field_change(fact: Fact, unit: str) -> str:
    """What an approved change of the design replaces, and how many numbers it turns in or out of tolerance.

    Examples
    --------
    >>> told = Fact(written="Field change 2, 2026-04-30", other="MH-2 rim", count=1, total=0, second=1.0, third=2.0)
    >>> field_change(told, "ft")
    'Field change 2, 2026-04-30: judged against it, not against the design before: MH-2 rim. 1 number that was out of \
tolerance against the design before is not out against it; both verdicts are kept.'
    >>> told = Fact(written="Field change 2", other="MH-2 rim", count=1, total=0, second=0.0, third=20.0, fourth=19.0)
    >>> field_change(told, "ft").partition("rim. ")[2]
    '19 numbers that were not out of tolerance against the design before are out against it; both verdicts are kept.'
    """
    replaced, added = fact.count or 0, fact.total or 0
    parts = []
    if replaced:
        more = f" and {replaced - 6} more" if replaced > 6 else ""
        parts.append(f"judged against it, not against the design before: {fact.other}{more}")
    if added:
        more = f" and {added - 6} more" if added > 6 else ""
        parts.append(f"added to the design, for it bears a name of its own: {fact.place}{more}")
    turned = []
    for count, before, now in ((fact.second, "", "not out"), (fact.fourth, "not ", "out")):
        if count > 0:
            turned.append(
                f"{words.many(int(count), f'number that was {before}out', f'numbers that were {before}out')} of "
                f"tolerance against the design before {'is' if count == 1 else 'are'} {now} against it"
            )
    tail = (
        f"{'; '.join(turned)}; both verdicts are kept."
        if turned
        else "Nothing comes in or out of tolerance by it; "
        f"{words.many(int(fact.third), 'verdict')} against the design before kept."
        if fact.third
        else "Nothing that was shot there is judged."
    )
    return f"{fact.written}: {'; '.join(parts)}. {tail}"


def limit_use(fact: Fact, unit: str) -> str:
    """Work of a kind that leans on one limit as a whole.

    Examples
    --------
    >>> told = Fact(subject="walk-back", place="elevation", number=0.045, u=0.004, unit="job", count=72,
    ...             second=0.75, third=0.31, limit=0.06)
    >>> limit_use(told, "ft")
    'walk-back, elevation against design: built 0.045 ± 0.008 ft high on average over 72 numbers, 75 % of the limit; \
about 31 % of it lies within a fifth of a limit or beyond.'
    """
    check = check_named(fact.place)
    side = (check.directions or ("", ""))[int(fact.number > 0)]
    size = amount(abs(fact.number), fact.unit, unit)
    number, _, of = size.partition(" ")
    band = amount(2 * fact.u, fact.unit, unit).partition(" ")[0]
    return (
        f"{fact.subject}, {check.title.lower()}: built {number} ± {band} {of} {side} on average over "
        f"{words.many(fact.count or 0, 'number')}, {100 * fact.second:.0f} % of the limit; about "
        f"{100 * fact.third:.0f} % of it lies within a fifth of a limit or beyond."
    )


def rule_sets_differ(facts: Sequence[Fact], unit: str) -> str:
    """Which rule set says what of the numbers of a kind and check.

    Examples
    --------
    >>> one = Fact(subject="walk", place="offset", other="job", count=1, total=4, second=3.0, third=0.0, fourth=0.0,
    ...            written="contract, SP 12", proposal="town")
    >>> two = Fact(subject="walk", place="offset", other="town", count=1, total=4, second=2.0, third=1.0, fourth=1.0,
    ...            written="numeric limit of rule set Town, 2nd, 2024-01-01, 4.2", proposal="town")
    >>> rule_sets_differ([one, two], "ft")
    'walk, offset from design line: rule sets differ on 1 of 4 numbers. job (contract, SP 12): 3 within, 0 undecided, \
0 exceed; town (numeric limit of rule set Town, 2nd, 2024-01-01, 4.2): 2 within, 1 undecided, 1 exceeds. town is the \
stricter by its numbers; each number is reported and counted once, by its strictest verdict.'
    """
    first = facts[0]
    sets = "; ".join(
        f"{each.other} ({each.written}): {each.second:,.0f} within, {each.third:,.0f} undecided, "
        f"{each.fourth:,.0f} {'exceeds' if each.fourth == 1 else 'exceed'}"
        for each in facts
    )
    strictest = first.proposal.split(", ") if first.proposal else []
    several = len(strictest) > 1
    told = (
        f"{' and '.join(strictest)} {'are' if several else 'is'} the "
        f"{'stricter' if len(facts) == 2 else 'strictest'} by {'their' if several else 'its'} numbers"
        if strictest
        else "None is the strictest on both sides"
    )
    return (
        f"{first.subject}, {check_named(first.place).title.lower()}: rule sets differ on {first.count or 0:,} of "
        f"{words.many(first.total or 0, 'number')}. {sets}. {told}; each number is reported and counted once, by its "
        "strictest verdict."
    )
