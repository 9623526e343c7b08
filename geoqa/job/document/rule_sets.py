"""Rule sets: published limits by name, with edition, date and the clause of each."""

import datetime
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from geoqa.contract.checks import tolerance_keys
from geoqa.errors import JobError


@dataclass(frozen=True, kw_only=True)
class RuleLimit:
    """One limit of a rule set.

    Attributes
    ----------
    value : str or dict
        As a job file would write it.
    clause : str
    """

    value: Any
    clause: str


@dataclass(frozen=True, kw_only=True)
class RuleSet:
    """Limits that were published together.

    Attributes
    ----------
    name : str
        As a job names it, such as ``prowag-2023``.
    title, edition : str
    date : date
    verified : bool
        A person compared these numbers with the published text.
    limits : mapping of str to mapping of str to RuleLimit
        By kind, then by key of ``[tolerance.KIND]``.
    """

    name: str
    title: str
    edition: str
    date: datetime.date
    verified: bool
    limits: Mapping[str, Mapping[str, RuleLimit]]

    def reference(self, limit: RuleLimit) -> str:
        """What a limit is one of, in words.

        Examples
        --------
        >>> rules = rule_set("prowag-2023")
        >>> rules.reference(rules.limits["walk"]["cross_slope"])
        'numeric limit of rule set PROWAG, final rule, 88 FR 53604, 2023-08-08, R302.5.1'
        """
        return f"numeric limit of rule set {self.title}, {self.edition}, {self.date.isoformat()}, {limit.clause}"


def rule_sets() -> list[str]:
    """Names of the rule sets that come with geoqa.

    Examples
    --------
    >>> rule_sets()
    ['ada-2010', 'prowag-2023']
    """
    folder = files("geoqa") / "presets" / "rules"
    return sorted(each.name.removesuffix(".toml") for each in folder.iterdir() if each.name.endswith(".toml"))


@cache
def rule_set(name: str) -> RuleSet:
    """The rule set of a name.

    Raises
    ------
    JobError
        Nobody knows it, or its file names a key that no check reads.
    """
    if name not in rule_sets():
        raise JobError(f"no rule set '{name}'; use one of {', '.join(rule_sets())}")
    text = (files("geoqa") / "presets" / "rules" / f"{name}.toml").read_text(encoding="utf-8")
    return made_rule_set(name, tomllib.loads(text))


_HEAD = ("title", "edition", "date", "verified")


def made_rule_set(name: str, table: Mapping[str, Any]) -> RuleSet:
    """A rule set of what its file holds.

    Raises
    ------
    JobError
        Something is missing, or a key that no check reads.
    """
    kinds = {kind: each for kind, each in table.items() if kind not in _HEAD}
    if lost := [key for key in _HEAD if key not in table]:
        raise JobError(f"rule set '{name}' does not say its {', '.join(lost)}")
    strange = sorted({key for each in kinds.values() for key in each} - set(tolerance_keys()))
    if strange:
        raise JobError(f"rule set '{name}' limits {', '.join(strange)}, and no check reads that")
    limits = {
        kind: {key: RuleLimit(value=each["limit"], clause=str(each["clause"])) for key, each in keys.items()}
        for kind, keys in kinds.items()
    }
    head = {key: table[key] for key in _HEAD}
    return RuleSet(name=name, limits=limits, **head)
