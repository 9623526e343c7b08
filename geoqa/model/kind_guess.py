"""What kind a drafter's word may mean: a guess to be confirmed, never a reading."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

USUAL_KINDS: Mapping[str, str] = MappingProxyType(
    {
        "curb-top": "line",
        "curb-flow": "line",
        "walk-front": "line",
        "walk-back": "line",
        "driveway": "line",
        "ramp-outline": "line",
        "water-top": "line",
        "storm-top": "line",
        "sewer-top": "line",
        "limits-of-work": "line",
        "ramp": "point",
        "detectable-warning": "point",
        "rim": "point",
        "invert": "point",
        "valve": "point",
        "hydrant": "point",
    }
)
"""Kinds that are guessed at where there is no code list: kind -> geometry."""

_ALSO: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "walk": ("sidewalk", "swk", "sw", "swlk", "footway", "footpath"),
        "front": ("frt", "fw", "face", "street"),
        "back": ("bk", "rear", "bw"),
        "top": ("tc", "tbc", "toc", "tob"),
        "flow": ("gutter", "gut", "fl", "flowline"),
        "curb": ("kerb", "tbc", "toc", "gutter"),
        "driveway": ("dwy", "drwy", "drive", "apron", "approach"),
        "rim": ("mh", "manhole", "cb", "catchbasin", "grate", "inlet", "structure"),
        "hydrant": ("fh", "fhyd", "firehydrant"),
        "valve": ("gv", "wv", "wvl", "gatevalve"),
        "detectable": ("dws", "tactile"),
        "warning": ("dws", "tactile"),
        "limits": ("limit", "low"),
        "of": ("limits", "limit", "low"),
        "work": ("grading", "disturbance", "low", "construction"),
    }
)
"""Other words of the trade for a part of a kind; short forms of the part itself need no entry."""

_NOT_NEW = frozenset(
    {"ex", "exist", "existing", "exst", "demo", "demolition", "remove", "removal", "abandoned", "topo"}
)
_PARTS = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|[^\W\d_]+")


def guessed_kind(
    word: str,
    *,
    kinds: Mapping[str, str] = USUAL_KINDS,
    codes: Mapping[str, str] = MappingProxyType({}),
    geometry: str = "",
) -> tuple[str, str]:
    """Guess the kind that a layer, a block or an attribute value stands for.

    Parameters
    ----------
    word : str
        As drawn.
    kinds : mapping of str to str
        Kinds to choose from, with the geometry each has: "line", "point", or "" for either.
    codes : mapping of str to str
        Field codes and their kinds; a word that is a code means its kind.
    geometry : str
        What is drawn under the word: "line", "point" or "" for both.

    Returns
    -------
    kind : str
        Empty where the word says nothing, or fits two kinds equally well.
    because : str

    Examples
    --------
    >>> guessed_kind("C-SWLK-FRNT", geometry="line")
    ('walk-front', 'its words')
    >>> guessed_kind("WVL", codes={"WVL": "valve"}), guessed_kind("C-CURB")
    (('valve', 'code WVL'), ('', 'curb-flow or curb-top'))
    >>> guessed_kind("V-SWLK-FRNT-EXST")
    ('', 'says exst: existing or to go, by its words')
    """
    parts = [each.casefold() for each in _PARTS.findall(word)]
    old = next((each for each in parts if each in _NOT_NEW), None)
    if old is not None:
        return "", f"says {old}: existing or to go, by its words"
    by_code = {code.casefold(): (code, kind) for code, kind in codes.items()}
    for each in (word.strip().casefold(), *parts):
        if each in by_code and _drawn_as(kinds.get(by_code[each][1], ""), geometry):
            code, kind = by_code[each]
            return kind, f"code {code}"
    scores = {
        kind: _score(kind.casefold().split("-"), parts) for kind, shape in kinds.items() if _drawn_as(shape, geometry)
    }
    best = max(scores.values(), default=0.0)
    if best == 0.0:
        return "", "no word of a known kind"
    first = sorted(kind for kind, score in scores.items() if score == best)
    if len(first) > 1:
        return "", " or ".join(first)
    return first[0], "its words" if best >= 1.0 else "part of its words"


def _drawn_as(shape: str, geometry: str) -> bool:
    return not shape or not geometry or shape == geometry


def _score(wanted: list[str], parts: list[str]) -> float:
    """Share of a kind's words that are there; a kind of more words, all there, is the better one."""
    there = sum(any(_means(part, each) for part in parts) for each in wanted)
    share = there / len(wanted)
    return share + 0.01 * len(wanted) if share == 1.0 else share


def _means(part: str, wanted: str) -> bool:
    if part == wanted or part in _ALSO.get(wanted, ()) or (part.endswith("s") and part[:-1] == wanted):
        return True
    if len(part) < 3 or part[0] != wanted[0] or len(part) > len(wanted):
        return False
    letters = iter(wanted)
    return all(letter in letters for letter in part)
