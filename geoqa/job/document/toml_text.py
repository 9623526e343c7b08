"""A job's tables as the text of a job file."""

import datetime
from collections.abc import Mapping, Sequence
from typing import Any

from geoqa.job.document.quoted import quoted


def toml_text(job: Mapping[str, Any]) -> str:
    """Write tables as TOML.

    Parameters
    ----------
    job : mapping of str to mapping or list
        Tables, lists of tables, and in them texts, numbers, truths, dates, lists and tables again. None is left out;
        anything else is written as its text.

    Examples
    --------
    >>> print(toml_text({"job": {"name": "A"}, "tolerance": {"rim": {"vertical": "0.1 ft"}}}), end="")
    [job]
    name = "A"
    <BLANKLINE>
    [tolerance.rim]
    vertical = "0.1 ft"
    """
    blocks: list[str] = []
    for name, table in job.items():
        if isinstance(table, Mapping):
            blocks += _tables(_key(name), table)
        elif _listed(table) and all(isinstance(each, Mapping) for each in table):
            blocks += ["\n".join([f"[[{_key(name)}]]", *_lines(each)]) for each in table]
        elif table is not None:
            blocks.insert(0, f"{_key(name)} = {_value(table)}")
    return "\n\n".join(blocks) + "\n"


def _tables(name: str, table: Mapping[str, Any]) -> list[str]:
    """A table, or one for each of its own where it holds nothing but tables."""
    if table and all(isinstance(each, Mapping) for each in table.values()):
        return ["\n".join([f"[{name}.{_key(key)}]", *_lines(each)]) for key, each in table.items()]
    return ["\n".join([f"[{name}]", *_lines(table)])]


def _lines(table: Mapping[str, Any]) -> list[str]:
    return [f"{_key(name)} = {_value(value)}" for name, value in table.items() if value is not None]


def _key(name: Any) -> str:
    text = str(name)
    bare = text.isascii() and text.replace("_", "").replace("-", "").isalnum()
    return text if bare else quoted(text)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(name)} = {_value(each)}" for name, each in value.items() if each is not None)
        return f"{{ {inner} }}" if inner else "{}"
    if _listed(value):
        return f"[{', '.join(_value(each) for each in value)}]"
    return quoted(str(value))


def _listed(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str)
