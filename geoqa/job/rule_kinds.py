"""Kinds that a rule file limits and this job has not, or has and does not hold to it."""

from collections.abc import Iterator
from difflib import get_close_matches
from typing import Any

from geoqa.contract.tolerance_sentences import rule_kind
from geoqa.job.document.file import Job
from geoqa.model.check import CONTROL
from geoqa.model.tables.edge_pairs import pair_kind, paired_kinds
from geoqa.model.tables.fact import Fact
from geoqa.model.tables.layer import Layers

LISTED = 20
"""Kinds of the job that are named; more are counted."""


def rule_kinds(job: Job, layers: Layers) -> Iterator[dict[str, Any]]:
    """A fact for each table of a rule file that limits nothing here.

    Parameters
    ----------
    job : Job
    layers : Layers
        As they were taken in.

    Yields
    ------
    dict
        `subject` the kind, `place` file and line, `other` the rule set, `written` the kinds of this job, `proposal`
        a kind of a name like it; variant ``not-named`` where the job has the kind, and its tolerance does not name
        the set. A file may limit kinds that one of its jobs does not have, so this is told and refuses nothing.
    """
    kinds = _kinds(job, layers)
    for rules in job.own_rules.values():
        for kind in rules.limits:
            named = kind in job.tolerance and rules.name in job.tolerance[kind].rules
            if named:
                continue
            line = rules.lines.get(kind)
            fact = {"note": "rule-kind", "subject": kind, "other": rules.name,
                    "place": f"{rules.file}{f', line {line}' if line else ''}"}  # fmt: skip
            if kind in kinds:
                yield fact | {"variant": "not-named"}
                continue
            more = len(kinds) - LISTED
            listed = ", ".join(kinds[:LISTED]) + (f" and {more} more" if more > 0 else "")
            yield fact | {"variant": "no-kind", "written": listed, "proposal": _like(kind, kinds)}


def rule_kind_lines(job: Job, layers: Layers) -> Iterator[str]:
    """The same in words, for who looks before running."""
    for row in rule_kinds(job, layers):
        yield rule_kind(Fact(name=row["note"], **{key: value for key, value in row.items() if key != "note"}), "")


def _kinds(job: Job, layers: Layers) -> list[str]:
    """Kinds of codes, of their pairs, of the design and of the tolerances."""
    found = {*job.tolerance, CONTROL}
    for table in ("codes", "design_lines", "design_points", "structure_notes"):
        if table in layers and "kind" in layers[table]:
            found |= set(map(str, layers[table]["kind"].dropna()))
    if "codes" in layers:
        found |= {pair_kind(*both) for both in paired_kinds(layers["codes"])}
    return sorted(found)


def _like(kind: str, kinds: list[str]) -> str:
    close = get_close_matches(kind, kinds, 1)
    return close[0] if close else ""
