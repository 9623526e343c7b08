"""A traced number in lines for people: the finding, its arithmetic, its shots as read, its limit, what made it."""

import math
from collections.abc import Iterator, Mapping
from typing import Any

from geoqa.contract.checks import check_named, reason_texts
from geoqa.contract.spoken import spoken
from geoqa.contract.survey import subject_in_words
from geoqa.model import words
from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.review.trace import AS_READ, Traced, TracedShot

HASH = 12
"""Characters of a hash that are printed; the record has all."""


def trace_lines(results: Results, traced: tuple[Traced, ...]) -> list[str]:
    """Write traced findings, then once what made them all.

    Parameters
    ----------
    results : Results
    traced : tuple of Traced

    Returns
    -------
    list of str
    """
    unit = results.layers.frame.unit.name
    told = [line for each in traced for line in _finding(each, unit)]
    return [*told, *_made_by(results)]


def _finding(traced: Traced, unit: str) -> Iterator[str]:
    row = traced.finding
    item = f"item {row['item']}, " if _text(row.get("item")) else ""
    head, subject, label = spoken(row, unit), subject_in_words(row), _text(row["label"])
    yield f"{item}{row['finding']}  {SIGNS[row['verdict']].mark} {head}"
    yield f"  {label}" if subject == "-" or subject in f"{head} {label}" else f"  {subject}, {label}"
    yield f"  why: {row['why']} – {reason_texts().get(row['why'], 'by its own words')}"
    yield f"  {_arithmetic(row, unit)}"
    yield f"  {_limit(row, unit)}"
    if _text(row["cause"]):
        yield f"  cause: {row['cause']}"
    for source in traced.sources:
        sheet = "".join(f", {name} {source[name]}" for name in ("sheet", "revision") if _text(source[name]))
        yield f"  {source['role']}: {source['path']}{sheet} (sha256 {_short(source['sha256'])})"
    if traced.members:
        yield f"  stands for {words.many(traced.members, 'finding')} of its shots (column run of findings.csv)"
    if traced.of:
        yield f"  made of {words.many(traced.of, 'shot')}:"
    for shot in traced.shots:
        yield f"    {_shot(shot, unit)}"
    if traced.of > len(traced.shots):
        yield f"    and {traced.of - len(traced.shots)} more (layer evidence)"


def _arithmetic(row: Mapping[str, Any], unit: str) -> str:
    kind = row["quantity"]
    if kind == "count":  # what was counted has no design and no uncertainty
        return str(words.quantity(row["measured"], kind, unit)) if _known(row["measured"]) else "no number"
    numbers = [f"{name} {words.quantity(row[name], kind, unit)}" for name in ("measured", "design", "deviation")
               if _known(row[name])]  # fmt: skip
    if is_itself(row["measured"], row["design"], row["deviation"]):
        numbers[-1] = "judged is the measured number itself"
    parts = [f"{name} {words.quantity(row[each], kind, unit)}"
             for name, each in (("shared by a session", "u_common"), ("each shot's own", "u_random"), ("whole", "u"))
             if _known(row[each])]  # fmt: skip
    told = ", ".join(numbers) or "no number"
    return f"{told}; 1 sigma: {', '.join(parts)}" if parts else told


def is_itself(measured: Any, design: Any, deviation: Any) -> bool:
    """Whether what is judged is the measured number, and not what it differs by from the design that is told with it.

    Examples
    --------
    >>> is_itself(0.75, 0.50, 0.75), is_itself(100.20, 100.10, 0.10), is_itself(0.35, 0.0, 0.35)
    (True, False, False)
    """
    if not all(_known(each) for each in (measured, design, deviation)):
        return False
    return bool(abs(deviation - measured) < abs(measured - design - deviation))


def _limit(row: Mapping[str, Any], unit: str) -> str:
    lower, upper = row["lower"], row["upper"]
    if row["quantity"] == "count" and check_named(row["check"]).subject == "survey":
        return "limit: none, it is a count"
    if not (_known(lower) or _known(upper)):
        return "limit: none"
    allowed = words.limits(lower, upper, check_named(row["check"]), row["quantity"], unit)
    source = _text(row["reference"]) + (f", {row['edition']}" if _text(row["edition"]) else "")
    sure = f"; {words.probability(row['p_conform'])} that it lies within the limits" if _known(row["p_conform"]) else ""
    return f"limit: {allowed}; from {source or 'nobody said'}; rule {row['rule']}{sure}"


def _shot(traced: TracedShot, unit: str) -> str:
    row = traced.shot
    read = " ".join(_text(row[name]) or words.MISSING for name in AS_READ)
    told = [f"{_text(row['shot']) or row['shot_key']}: {traced.path}, line {row['line']}, read as {read}"]
    told.append(" ".join(part for part in (_text(row["code"]), _text(row["line_id"]), _text(row["session"])) if part))
    if _known(row["rod_height"]):
        told.append(f"rod {words.quantity(row['rod_height'], 'length', unit)}")
    if _known(row["tilt"]):
        told.append(f"tilt {row['tilt']:.1f}°")
    if _known(traced.weight):
        told.append(f"weight {traced.weight:.3f}")
    told += [f"flags {row['flags']}"] if _text(row["flags"]) else []
    told += [f"blunder {cause}" for cause in traced.causes]
    return "; ".join(part for part in told if part)


def _made_by(results: Results) -> Iterator[str]:
    record = results.record
    versions = record["versions"]
    yield ""
    yield f"frame: {results.layers.frame.describe()}"
    yield f"job file: {record['job']['file']} (sha256 {_short(record['job']['sha256'])})"
    packages = ", ".join(f"{name} {versions[name]}" for name in ("python", "numpy", "pyproj") if name in versions)
    yield f"geoqa {record['geoqa']}; {packages}; settings of every step: steps in record.json"


def _known(value: Any) -> bool:
    return isinstance(value, float | int) and not math.isnan(value)


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""


def _short(digest: Any) -> str:
    return _text(digest)[:HASH] or "unknown"
