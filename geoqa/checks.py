"""What a check from outside is built of: records that declare it, and functions that judge its numbers.

A package brings a check with three entry points: the check itself under ``geoqa.checks``, the step that makes its
findings under ``geoqa.steps``, and, where it raises flags or writes notes of its own, their words under
``geoqa.words``. ``DEVELOPERS.md`` shows the four moves.

>>> from geoqa import checks
>>> width = checks.ToleranceKey(name="width", zero=False, description="Least clear width.")
>>> checks.Check(
...     name="clear-width", title="Clear width", subject="work", quantity="length", tolerance=width, bound="least",
...     compared="…", judged="…", cannot_show="…", source="common practice, no source",
... ).why("no-elevation") > 0
True
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from geoqa.model.check import Check, ToleranceKey
    from geoqa.model.reasons import Reason
    from geoqa.model.tables.fact import Fact
    from geoqa.model.vocabulary import Flag, Note
    from geoqa.steps.judging.findings import asked, evidence_of, findings_of, with_limits
    from geoqa.steps.shots.flags import all_flags, flagged, noted

_HOMES = {
    "Check": "geoqa.model.check",
    "ToleranceKey": "geoqa.model.check",
    "Reason": "geoqa.model.reasons",
    "Fact": "geoqa.model.tables.fact",
    "Flag": "geoqa.model.vocabulary",
    "Note": "geoqa.model.vocabulary",
    "asked": "geoqa.steps.judging.findings",
    "evidence_of": "geoqa.steps.judging.findings",
    "findings_of": "geoqa.steps.judging.findings",
    "with_limits": "geoqa.steps.judging.findings",
    "all_flags": "geoqa.steps.shots.flags",
    "flagged": "geoqa.steps.shots.flags",
    "noted": "geoqa.steps.shots.flags",
}

__all__ = [
    "Check",
    "Fact",
    "Flag",
    "Note",
    "Reason",
    "ToleranceKey",
    "all_flags",
    "asked",
    "evidence_of",
    "findings_of",
    "flagged",
    "noted",
    "with_limits",
]


def __getattr__(name: str) -> Any:
    """Import what is asked for, when it is asked for: a check is declared without importing a step."""
    from geoqa.plugins import imported

    if name not in _HOMES:
        raise AttributeError(f"module 'geoqa.checks' has no attribute '{name}'; it has {', '.join(__all__)}")
    return imported(_HOMES[name], name)


def __dir__() -> list[str]:
    return __all__
