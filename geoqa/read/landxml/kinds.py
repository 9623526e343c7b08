"""Which feature kind a thing in a LandXML file is: by the patterns of the job, or by its own words."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from fnmatch import fnmatchcase
from pathlib import Path

from geoqa.errors import SourceError
from geoqa.read.landxml.stream import Node

_WORD = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*$")


class Kinds:
    """Patterns on name, code and description, or the kind of an element itself, in the job's order; "" leaves out.

    Parameters
    ----------
    patterns : mapping of pattern to kind
        ``*`` stands for anything; capitals do not count.
    """

    def __init__(self, patterns: Mapping[str, str]) -> None:
        self.patterns = {pattern.casefold(): kind for pattern, kind in patterns.items()}
        self.used: set[str] = set()
        self.unstated: Counter[str] = Counter()
        self.left_out: Counter[str] = Counter()
        self.heard: dict[str, None] = {}

    def kind_of(self, node: Node, default: str) -> str:
        """Kind of a thing; empty where it is to be left out."""
        words = [each for each in (node.get("name"), node.get("code"), node.get("desc")) if each]
        self.heard.update(dict.fromkeys([*words, *filter(None, [default])]))
        for pattern, kind in self.patterns.items():
            if pattern == default or any(fnmatchcase(word.casefold(), pattern) for word in words):
                self.used.add(pattern)
                if not kind:
                    self.left_out[node.name] += 1
                return kind
        own = next((each for each in (node.get("code"), node.get("desc")) if _WORD.match(each)), default)
        if own:
            self.unstated[own] += 1
        return own

    def refuse_unused(self, path: Path) -> None:
        """Refuse a pattern that nothing in the file fits."""
        strange = [each for each in self.patterns if each not in self.used and each != "*"]
        if strange:
            there = ", ".join(list(self.heard)[:20]) or "nothing"
            more = f" and {len(self.heard) - 20} more" if len(self.heard) > 20 else ""
            listed = ", ".join(f"'{each}'" for each in strange)
            raise SourceError(
                f"'{path.name}' has no name, code or description that fits kinds = {listed}; there are {there}{more}."
            )
