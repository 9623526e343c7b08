"""A rule file that several jobs share: read, and every trouble in it said with file, line and place."""

import datetime
import hashlib
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from geoqa.contract.checks import readers_of, tolerance_keys
from geoqa.errors import JobError
from geoqa.job.document.bounds import too_large, too_much
from geoqa.job.document.locate import Address, line_of, locate
from geoqa.job.document.rule_sets import ALSO, HEAD, RuleSet, made_rule_set, rule_sets
from geoqa.job.document.tolerance import tolerance_model
from geoqa.model.check import CONTROL
from geoqa.model.words import many

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
_RESERVED = ("job", "method", "no rule")
LARGEST = 1_000_000
"""Bytes; a larger rule file is somebody's data."""


def rule_file(path: Path, *, shown: str) -> RuleSet:
    """The rule set that a file states.

    Parameters
    ----------
    path : Path
    shown : str
        The file as the job names it.

    Raises
    ------
    JobError
        The file is not there or is no rule file; a line for each trouble, with file, line and place.
    """
    if not path.is_file():
        raise JobError(f"{shown}: there is no such file. Paths start from the job file's folder")
    try:
        raw = path.read_bytes()
        text = raw.decode("utf-8-sig")
    except (OSError, UnicodeDecodeError):
        raise JobError(f"{shown}: cannot be read as UTF-8 text") from None
    if len(raw) > LARGEST or too_much(text):
        raise JobError(f"{shown}: no rule file is so large; is this a file of something else?")
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise JobError(f"{shown} is not valid TOML: {error}") from None
    if at := next(too_large(table), None):
        raise JobError(f"{shown}: {at} is too large a number")
    name = table.get("name", Path(shown.replace("\\", "/")).stem)
    places = locate(text)
    if troubles := [_said(shown, each, words, places) for each, words in _troubles(name, table)]:
        raise JobError(f"{shown} has {many(len(troubles), 'problem')}: " + "; ".join(troubles))
    rules = made_rule_set(name, table)
    lines = {kind: line for kind in rules.limits if (line := line_of(places, (kind,)))}
    return replace(rules, file=shown, sha256=hashlib.sha256(raw).hexdigest(), lines=lines)


def _said(shown: str, address: Address, words: str, places: dict[Address, int]) -> str:
    line = line_of(places, address)
    where = str(address[0]) if len(address) == 1 else f"[{address[0]}], {', '.join(str(each) for each in address[1:])}"
    return f"{shown}{f', line {line}' if line else ''}, {where}: {words}"


def _troubles(name: object, table: Mapping[str, Any]) -> Iterator[tuple[Address, str]]:
    """Everything that is wrong, with where it stands."""
    if not isinstance(name, str) or not _NAME.fullmatch(name):
        yield ("name",), "must be a word of letters, figures, - _ and ., by which jobs name the rule set"
    elif name in (*_RESERVED, *rule_sets()):
        yield ("name",), f"'{name}' is taken; give the file a name of its own: name = \"our-{name}\""
    for key in HEAD:
        if key not in table:
            yield (key,), f"missing; a rule file says {', '.join(HEAD)}"
    for key in ("title", "edition", "reference"):
        if key in table and not (isinstance(table[key], str) and table[key].strip()):
            yield (key,), "must be text in quotes, and not empty"
    date = table.get("date", 2000)
    if type(date) is not datetime.date and not (type(date) is int and 1000 <= date <= 9999):
        yield ("date",), "must be a date, such as 2026-05-15 without quotes, or a year"
    if not isinstance(table.get("verified", False), bool):
        yield ("verified",), "must be true or false"
    kinds = [key for key in table if key not in (*HEAD, *ALSO)]
    if not kinds:
        yield ("the file",), 'limits nothing; add [KIND] with KEY = { limit = …, clause = "…" }'
    for kind in kinds:
        yield from _of_kind(kind, table[kind])


def _of_kind(kind: str, keys: object) -> Iterator[tuple[Address, str]]:
    if not isinstance(keys, dict):
        yield (kind,), f"not an option here; allowed: {', '.join((*HEAD, *ALSO))}, and tables [KIND] of limits"
        return
    if not keys:
        yield (kind,), f"limits nothing; allowed: {', '.join(_keys_of(kind))}"
    for key, value in keys.items():
        allowed = _keys_of(kind)
        if key not in allowed:
            close = get_close_matches(key, allowed, 1)
            guess = f"did you mean {close[0]}? " if close else ""
            yield (kind, key), f"no check reads that under this kind; {guess}allowed: {', '.join(allowed)}"
        elif not isinstance(value, dict) or set(value) != {"limit", "clause"}:
            yield (kind, key), 'takes { limit = …, clause = "…" }, and nothing else'
        elif not (isinstance(value["clause"], str) and value["clause"].strip()):
            yield (kind, key), "clause must be text in quotes: where the limit is written"
        else:
            yield from (((kind, key), words) for words in _of_limit(key, value["limit"]))


def _keys_of(kind: str) -> list[str]:
    """Keys that some check reads under a kind."""
    return [
        key
        for key in tolerance_keys()
        if any(check.of_kind == kind if check.of_kind else kind != CONTROL for check in readers_of(key))
    ]


def _of_limit(key: str, value: object) -> Iterator[str]:
    try:
        tolerance_model().model_validate({"reference": "-", key: value})
    except ValidationError as error:
        yield from (f"limit {each['msg']}" for each in error.errors(include_url=False))
