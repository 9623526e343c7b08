"""What is wrong with a job file, in sentences: where, what, what is allowed."""

from contextlib import suppress
from difflib import get_close_matches
from typing import Any, get_args

from pydantic import BaseModel
from pydantic_core import ErrorDetails, PydanticCustomError

from geoqa.errors import GeoqaError
from geoqa.job.document.file import Job
from geoqa.job.document.locate import Address, line_of
from geoqa.job.document.named import Named, ReadAs
from geoqa.job.document.tolerance import OfChecks


def sentence(error: ErrorDetails, table: object, places: dict[Address, int]) -> str:
    """One line for one problem: address, line in the file, what is wrong, what is allowed."""
    address: Address = tuple(error["loc"])
    return f"{place_of(address, table, places)}: {trouble(error, table)}"


def place_of(address: Address, table: object, places: dict[Address, int]) -> str:
    """Where something stands: its address and, if known, its line."""
    line = line_of(places, address)
    return _name(address, table) + (f", line {line}" if line else "")


def trouble(error: Any, table: Any) -> str:
    """What is wrong in one place of a job, and what is allowed there."""
    address: Address = tuple(error["loc"])
    if error["type"] == "extra_forbidden":
        allowed = _allowed(address[:-1], table)
        close = get_close_matches(str(address[-1]), allowed, 1)
        guess = f"did you mean {close[0]}? " if close else ""
        return f"not an option here; {guess}allowed: {', '.join(allowed)}"
    if error["type"] == "missing":
        return f"missing, and it has no default: add {address[-1]} = …"
    said = error["msg"].replace("Input should be ", "must be ").removeprefix("Value error, ")
    said = said.replace("String should have at least 1 character", "must not be empty")
    said = said.replace("String should have", "must have")
    said = _PLAIN.get(error["type"], said)
    shown = (
        ""
        if isinstance(error["input"], dict | list) or repr(error["input"]) in said
        else f" (it is {_short(error['input'])})"
    )
    return f"{said}{shown}"


_PLAIN = {
    "string_type": "must be text in quotes",
    "bool_type": "must be true or false",
    "bool_parsing": "must be true or false",
    "date_from_datetime_parsing": "must be a date, such as 2026-05-15 without quotes",
    "date_parsing": "must be a date, such as 2026-05-15 without quotes",
    "date_from_datetime_inexact": "must be a date, such as 2026-05-15 without quotes",
    "date_type": "must be a date, such as 2026-05-15 without quotes",
    "model_type": "must be a table with keys of its own",
    "dict_type": "must be a table with keys of its own",
    "tuple_type": "must be a list in [ ]; where tables are listed, their heads stand in [[ ]]",
}
"""What the validator says in the words of programmers, in those of the file."""


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) < 60 else text[:57] + "…"


def _name(address: Address, table: object) -> str:
    """Write an address as the file does: `[[steps]] 2 (runs), shortest`."""
    if not address:
        return "the file"
    first = str(address[0])
    rest = list(address[1:])
    here = table.get(first) if isinstance(table, dict) else None
    if rest and isinstance(rest[0], int) and isinstance(here, list):
        entry = here[rest[0]] if rest[0] < len(here) else None
        label = entry.get("use") or entry.get("file") if isinstance(entry, dict) else entry
        parts = [f"[[{first}]] {int(rest.pop(0)) + 1}" + (f" ({label})" if label else "")]
    else:
        parts = [f"[{first}]"]
        while rest and isinstance(here, dict) and isinstance(here.get(rest[0]), dict):
            here = here[rest[0]]
            parts = [parts[0][:-1] + f".{rest.pop(0)}]"]
    rows = [
        f"row {part + 1}" if before == ReadAs.rows_in_job and isinstance(part, int) else str(part)
        for before, part in zip(["", *rest], rest, strict=False)
    ]
    return ", ".join([*parts, *rows])


def _allowed(address: Address, table: Any) -> list[str]:
    """Keys that may stand in the table at `address`."""
    model: Any = Job
    here = table
    for part in address:
        if isinstance(model, ReadAs) and isinstance(part, str):  # what stands inside an option of a reader
            with suppress(GeoqaError, PydanticCustomError):
                model = model.plugin(here)
        here = here.get(part) if isinstance(here, dict) else here[part]
        if isinstance(part, int):
            continue
        field = model.model_fields.get(part) if isinstance(model, type) and issubclass(model, BaseModel) else None
        model = _inner(field) if field is not None else (model if isinstance(model, type | OfChecks) else Job)
    if isinstance(model, OfChecks):
        return model.keys()
    if isinstance(model, Named | ReadAs):
        keys = ["use"]
        if isinstance(model, ReadAs):
            keys += [key for key in model.common().model_fields if key != "reader"]
        with suppress(GeoqaError, PydanticCustomError):
            keys += [key for key, field in model.plugin(here).model_fields.items() if not field.exclude]
        return keys
    return [key for key in model.model_fields if key != "reader"] if hasattr(model, "model_fields") else []


def _inner(field: Any) -> Any:
    """The model or marker behind a field's annotation."""
    for mark in field.metadata:
        if isinstance(mark, Named | ReadAs | OfChecks):
            return mark
    found: list[Any] = []

    def walk(annotation: Any) -> None:
        for mark in getattr(annotation, "__metadata__", ()):
            if isinstance(mark, Named | ReadAs | OfChecks):
                found.append(mark)
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            found.append(annotation)
        for each in get_args(annotation):
            walk(each)

    walk(field.annotation)
    return found[0] if found else None
