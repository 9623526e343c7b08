"""Whether an answer to a question of a draft can stand: what is wrong with one that cannot, to ask again."""

from __future__ import annotations

from geoqa.errors import GeoqaError, QuantityError
from geoqa.job.begin.questions import YES_NO, Question, parts_of
from geoqa.model.quantity import Length, Slope, length_unit

_LENGTHS = ("closure", "setup_length", "sigma")


def refusal(question: Question, answer: str) -> str:
    """Why an answer cannot stand; empty where it can.

    Examples
    --------
    >>> refusal(Question(line=0, key="closure", why="", asked="[[levels]] closure"), "wide")
    "'wide' is no length: write a number with its unit, such as 0.05 ft."
    """
    if question.limits:
        return _of_limits(question, answer)
    if question.previews:
        return (
            "" if answer.strip().casefold() in YES_NO else "answer yes or no; empty takes the line as it is proposed."
        )
    if question.key == "horizontal":
        return _of_frame(answer)
    if question.key == "unit":
        return _of_unit(answer)
    if question.key == "time_zone":
        return _of_zone(answer)
    if question.key in _LENGTHS:
        return "" if _is(Length, answer) else _no_length(answer)
    if question.key == "u":
        stands = _is(Slope, answer) or _is(Length, answer)
        return "" if stands else f"{answer!r} is no slope or length: write one with its unit, such as 0.1 % or 1/8 in."
    return ""


def _of_limits(question: Question, answer: str) -> str:
    parts = parts_of(question, answer)
    for (key, unit), part in zip(question.limits, parts, strict=False):
        written = part if any(mark.isalpha() or mark in "%:" for mark in part) else f"{part} {unit}"
        sort = Slope if unit == "%" else Length
        if part and not _is(sort, written):
            return f"{key}: " + (_no_length(part) if sort is Length else f"{part!r} is no slope, such as 2 % or 1:48.")
    if not parts[-1]:
        return "where it is written is missing: a limit needs the drawing and note, or the clause, after the last ;"
    return "" if any(parts[:-1]) else "no limit is given: write a number before where it is written."


def _no_length(answer: str) -> str:
    return f"{answer!r} is no length: write a number with its unit, such as 0.05 ft."


def _is(sort: type[Length] | type[Slope], answer: str) -> bool:
    try:
        sort.parse(answer)
    except QuantityError:
        return False
    return True


def _of_frame(answer: str) -> str:
    from geoqa.frames.systems.resolve import resolve

    try:
        resolve(answer)
    except GeoqaError as error:
        return str(error)
    return ""


def _of_unit(answer: str) -> str:
    try:
        length_unit(answer)
    except (GeoqaError, ValueError, KeyError) as error:
        return str(error)
    return ""


def _of_zone(answer: str) -> str:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        ZoneInfo(answer)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return f"no time zone is named {answer!r}; use a name such as America/Chicago or UTC."
    return ""
