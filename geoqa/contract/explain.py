"""Every check in plain words: what is compared, how it is judged, and what it cannot show."""

from geoqa.contract.checks import check_named
from geoqa.contract.odds_sentences import PIECES
from geoqa.model.check import Check
from geoqa.model.reasons import SHARED, Reason
from geoqa.model.words import CERTIFICATION

RULE = (
    "IN if the true value lies within the limits with a probability of at least 95 %, OUT if it lies beyond one of "
    "them with at least 95 %, else UNDECIDED; NO_DATA where something is missing (JCGM 106:2012, no prior knowledge "
    "of the value assumed). The job may choose another rule; every output prints which."
)
SUBJECTS = {
    "work": "the work: was it built so?",
    "survey": "the survey: may the measurement be trusted?",
    "evidence": "the evidence: what was not measured?",
}
SPOILED = {
    "use": "the use of the work",
    "water": "where the water runs",
    "clearance": "the clearance to other work",
    "position": "the position of the work",
}
"""What a defect spoils, in words."""


def explain(name: str) -> str:
    """Write the explanation of one check as text for a terminal.

    Examples
    --------
    >>> explain("offset").splitlines()[0]
    'Offset from design line (offset)'
    """
    check = check_named(name)
    own = f"Reasons of its own:\n{_listed(check.reasons)}" if check.reasons else ""
    parts = (
        f"{check.title} ({check.name})",
        f"It asks about {SUBJECTS[check.subject]}",
        check.compared,
        f"{check.judged} {felt_in_words(check)}\n{RULE}",
        f"What it cannot show: {check.cannot_show}",
        f"Its limit: {limits_in_words(check)}.",
        f"Source: {check.source}.",
        own,
        f"Reasons that any check may print with a verdict:\n{_listed(SHARED)}",
        _odds() if check.subject == "work" else "",
        CERTIFICATION,
    )
    return "\n\n".join(part for part in parts if part)


def limits_in_words(check: Check) -> str:
    """Where the limits of a check come from.

    Examples
    --------
    >>> from geoqa.contract.evidence import COVERAGE
    >>> limits_in_words(COVERAGE)
    'spacing in [tolerance.KIND], a length'

    A radius has no sides.

    >>> from geoqa.contract.work import POSITION
    >>> limits_in_words(POSITION)
    'horizontal in [tolerance.KIND], a length'
    """
    if check.tolerance is None:
        return "set by its method, not by the job"
    kind = check.of_kind or "KIND"
    sides = (
        f", or a table with {' and '.join(check.tolerance.sides)}" if check.tolerance.sides and not check.radial else ""
    )
    return f"{check.tolerance.name} in [tolerance.{kind}], a {check.tolerance.quantity}{sides}"


def felt_in_words(check: Check) -> str:
    """Which part of the uncertainty is counted, and what a defect spoils."""
    counted = {
        "both": "Counted are the common and the random part.",
        "random": "Counted is the random part alone.",
        "common": "Counted is the common part alone.",
    }[check.feels]
    return f"{counted} A defect spoils {SPOILED[check.consequence]}." if check.consequence else counted


def _odds() -> str:
    """How it is weighed whether the work or its measurement is off."""
    pieces = "\n".join(f"  {piece.name:<20} {piece.compared}\n{'':<23}({piece.source})" for piece in PIECES)
    return (
        "Work or survey? With everything of the work that is out of tolerance stand the odds that the work is so, and "
        "not this shot, its initialization or its session wrong. They change no verdict. Each piece of evidence is a "
        "likelihood ratio; the layer work_odds holds its natural log, and their sum is that of the odds:\n" + pieces
    )


def _listed(reasons: tuple[Reason, ...]) -> str:
    return "\n".join(f"  {reason.name:<20} {reason.text}" for reason in reasons)
