"""A job as the text of a job file: what was said, in the words in which it would be said there."""

import datetime
from collections.abc import Mapping
from pathlib import PurePath
from typing import Any

from pydantic import BaseModel

from geoqa import plugins
from geoqa.contract.checks import tolerance_keys
from geoqa.job.document.named import Off
from geoqa.job.document.tolerance import Sides, Tolerance
from geoqa.model.output import Output
from geoqa.model.source import Reader
from geoqa.model.step import Step


def as_tables(job: BaseModel) -> dict[str, Any]:
    r"""A job as plain tables, lists, texts and numbers; what was left to its default is left out.

    A table in memory has its name as a file would, and the name of its reader.

    Examples
    --------
    >>> from geoqa.job.document.load import parse
    >>> text = '[job]\nname = "A"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'
    >>> as_tables(parse(text + 'unit = "ft"\nskip = 2\n'))["shots"]
    [{'file': 'a.csv', 'unit': 'ft', 'skip': 2}]
    """
    return _stated(job)


def _plain(value: Any) -> Any:
    if isinstance(value, Off):
        return {"use": value.name, "off": True}
    if isinstance(value, Output):
        return {"use": value.name, **_stated(value)} if _stated(value) else value.name
    if isinstance(value, Step):
        return {"use": value.name, **_stated(value)}
    if isinstance(value, Tolerance):
        return {name: _limit(name, each) for name, each in _set(value).items()}
    if isinstance(value, BaseModel):
        return _stated(value)
    if isinstance(value, Mapping):
        return {str(name): _plain(each) for name, each in value.items() if each is not None}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return value if isinstance(value, str | int | float | datetime.date) else str(value)


def _stated(model: BaseModel) -> dict[str, Any]:
    """What was stated for a model; for an input, the options of its reader stand beside its own keys."""
    reader = getattr(model, "reader", None)
    stated = {name: _plain(value) for name, value in _set(model).items()}
    if not isinstance(reader, Reader):
        return stated
    name = _reader_name(reader, str(stated.get("file", "")))
    return stated | ({"use": name} if name else {}) | _stated(reader)


def _set(model: BaseModel) -> dict[str, Any]:
    fields = type(model).model_fields
    stated = {name: getattr(model, name) for name in fields if name in model.model_fields_set}
    return {name: value for name, value in stated.items() if value is not None and not fields[name].exclude}


def _limit(name: str, value: Any) -> Any:
    if not isinstance(value, Sides):
        return _plain(value)
    if value.lower == value.upper:
        return _plain(value.lower)
    sides = zip(tolerance_keys()[name].sides or (), (value.lower, value.upper), strict=True)
    return {side: _plain(amount) for side, amount in sides if amount is not None}


def _reader_name(reader: Reader, file: str) -> str:
    """Name that must be stated for a reader; empty where the file's suffix picks it."""
    declared = plugins.declared("readers")
    kind = f"{type(reader).__module__}:{type(reader).__qualname__}"
    named = [name for name, entry in declared.items() if entry.value == kind]
    by_suffix = f"{reader.role}.{PurePath(file).suffix.lower().removeprefix('.')}"
    return "" if by_suffix in named or f"points.{reader.role}" in named else next(iter(named), "")
