"""Rule sets: published limits by name, with edition, date and the clause of each."""

import datetime
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
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
    date : date or int
        A year where the source states no day.
    verified : bool
        A person compared these numbers with the published text.
    limits : mapping of str to mapping of str to RuleLimit
        By kind, then by key of ``[tolerance.KIND]``.
    published : str
        Where it is published.
    file, sha256 : str
        The file a job named, as it is named there, and its hash; empty where it comes with geoqa.
    lines : mapping of str to int
        In which line of that file the table of each kind stands.
    """

    name: str
    title: str
    edition: str
    date: datetime.date | int
    verified: bool
    limits: Mapping[str, Mapping[str, RuleLimit]]
    published: str = ""
    file: str = ""
    sha256: str = ""
    lines: Mapping[str, int] = field(default_factory=dict)

    @property
    def words(self) -> str:
        """Title, edition and date.

        Examples
        --------
        >>> rule_set("ada-2010").words
        'ADA Standards, 2010, 2010-09-15'
        """
        return f"{self.title}, {self.edition}, {self.date}"

    def reference(self, limit: RuleLimit) -> str:
        """What a limit is one of, in words.

        Examples
        --------
        >>> rules = rule_set("prowag-2023")
        >>> rules.reference(rules.limits["walk"]["cross_slope"])
        'numeric limit of rule set PROWAG, final rule, 88 FR 53604, 2023-08-08, R302.5.1'
        """
        return f"numeric limit of rule set {self.words}, {limit.clause}"

    def in_force(self, kinds: Iterable[str]) -> str:
        """What a job is told of a rule set that it names, with the kinds it is named for.

        Examples
        --------
        >>> rule_set("ada-2010").in_force(["walk"])
        'rule set ada-2010 holds for walk: ADA Standards, 2010, 2010-09-15. NOT VERIFIED: no person has compared its \
numbers with the published text'
        """
        origin = "".join(f"; {each}" for each in (self.published, self.file) if each)
        doubt = "" if self.verified else ". NOT VERIFIED: no person has compared its numbers with the published text"
        return f"rule set {self.name} holds for {', '.join(sorted(kinds))}: {self.words}{origin}{doubt}"


def rule_sets() -> list[str]:
    """Names of the rule sets that come with geoqa.

    Examples
    --------
    >>> rule_sets()
    ['aci-117-quoted', 'ada-2010', 'prowag-2023']
    """
    names = sorted(each.name.removesuffix(".toml") for each in _FOLDER.iterdir() if each.name.endswith(".toml"))
    return [name for name in names if name != BY_DIAMETER]


_FOLDER = files("geoqa") / "presets" / "rules"
BY_DIAMETER = "sewer-minimum"
"""A list of slopes by diameter, which stands beside the rule sets: a step asks for it by kind."""


@cache
def rule_set(name: str) -> RuleSet:
    """The rule set of a name.

    Raises
    ------
    JobError
        Nobody knows it, or its file names a key that no check reads.
    """
    if name == BY_DIAMETER:
        raise JobError(f"'{name}' lists slopes by diameter; ask for it by [[steps]] use = \"pipes\", minimum_slopes")
    if name not in rule_sets():
        raise JobError(f"no rule set '{name}'; use one of {', '.join(rule_sets())}")
    text = (_FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    return made_rule_set(name, tomllib.loads(text))


HEAD = ("title", "edition", "date", "verified")
"""What every rule set says of itself."""
ALSO = ("name", "reference")
"""What it may say beside: how a job calls it, and where it is published."""


def made_rule_set(name: str, table: Mapping[str, Any]) -> RuleSet:
    """A rule set of what its file holds.

    Raises
    ------
    JobError
        Something is missing, or a key that no check reads.
    """
    kinds = {kind: each for kind, each in table.items() if kind not in (*HEAD, *ALSO)}
    if lost := [key for key in HEAD if key not in table]:
        raise JobError(f"rule set '{name}' does not say its {', '.join(lost)}")
    strange = sorted({key for each in kinds.values() for key in each} - set(tolerance_keys()))
    if strange:
        raise JobError(f"rule set '{name}' limits {', '.join(strange)}, and no check reads that")
    limits = {
        kind: {key: RuleLimit(value=each["limit"], clause=str(each["clause"])) for key, each in keys.items()}
        for kind, keys in kinds.items()
    }
    head = {key: table[key] for key in HEAD}
    return RuleSet(name=name, limits=limits, published=str(table.get("reference", "")), **head)
