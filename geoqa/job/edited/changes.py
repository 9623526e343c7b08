"""What changed between two runs: keys of the job file, files it reads, versions; each a row with was and is."""

import datetime
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

STATED = "edits"
"""Table of the job file that says why: it is no edit itself."""
LONGEST = 300
"""Characters of a value that are kept."""
HASH = 12
"""Characters of a hash that tell two files apart for people; the record has all."""
NAMED_BY = ("id", "file", "use", "name")
"""Keys by which one table of several of a kind is called, before its number."""


def changes(before: Mapping[str, Any], now: Mapping[str, Any]) -> list[dict[str, str]]:
    r"""Every change from one record to the next, as rows of texts: what, was, is.

    Parameters
    ----------
    before, now : mapping
        Records; the earlier one may have been written by anybody, and what it does not say is no change.

    Examples
    --------
    >>> old = {"job": {"text": "[tolerance.rim]\nvertical = '0.1 ft'"}, "inputs": [{"path": "a.csv", "sha256": "11"}]}
    >>> new = {"job": {"text": "[tolerance.rim]\nvertical = '0.2 ft'"}, "inputs": [{"path": "a.csv", "sha256": "22"}]}
    >>> for row in changes(old, new):
    ...     print(row["what"], row["was"], row["is"], sep=" | ")
    tolerance.rim.vertical | 0.1 ft | 0.2 ft
    a.csv | file 11 | file 22
    """
    return [*_of_job(before, now), *_of_files(_files(before), _files(now)), *_of_versions(before, now)]


def _row(what: str, was: str, now: str) -> dict[str, str]:
    return {"what": what[:LONGEST], "was": was[:LONGEST], "is": now[:LONGEST]}


def _of_job(before: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[dict[str, str]]:
    texts = [_text(each) for each in (before, now)]
    if texts[0] is None or texts[1] is None or texts[0] == texts[1]:
        return
    was, after = (settings(each) for each in texts if each is not None)
    files = {*_files(before), *_files(now)}
    names = [*was, *(name for name in after if name not in was)]
    # that a table came or went with its file is told of the file
    with_file = tuple(
        name.removesuffix("file")
        for name in names
        if name.endswith(".file") and (name in was) != (name in after) and (was | after)[name] in files
    )
    for name in names:
        one, other = was.get(name, ""), after.get(name, "")
        if one != other and not name.startswith(with_file):
            yield _row(name, one, other)


def _text(record: Mapping[str, Any]) -> str | None:
    job = record.get("job")
    text = job.get("text") if isinstance(job, Mapping) else None
    return text if isinstance(text, str) else None


def settings(text: str) -> dict[str, str]:
    r"""Every value of a job file by its address, without the table of reasons; none where it is no such file.

    Examples
    --------
    >>> settings("[job]\nname = 'A'\n[[shots]]\nfile = 'd/1.csv'\nunit = 'ft'")
    {'job.name': 'A', 'shots.d/1.csv.file': 'd/1.csv', 'shots.d/1.csv.unit': 'ft'}
    """
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError):
        return {}
    return dict(_flat("", {name: value for name, value in table.items() if name != STATED}))


def _flat(at: str, value: Any) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        for name, each in value.items():
            yield from _flat(f"{at}.{name}" if at else str(name), each)
    elif isinstance(value, list) and value and all(isinstance(each, Mapping) for each in value):
        for nth, each in enumerate(value, start=1):
            called = next((str(each[key]) for key in NAMED_BY if isinstance(each.get(key), str)), str(nth))
            yield from _flat(f"{at}.{called}", each)
    else:
        yield at, _said(value)


def _said(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return ", ".join(map(_said, value)) if isinstance(value, list) else str(value)


def _files(record: Mapping[str, Any]) -> dict[str, str]:
    """Hash of every file by its path, the register of decisions among them."""
    rows = record.get("inputs")
    found = {
        row["path"]: row["sha256"]
        for row in (rows if isinstance(rows, list) else [])
        if isinstance(row, Mapping) and isinstance(row.get("path"), str) and isinstance(row.get("sha256"), str)
    }
    decided = record.get("decisions")
    if isinstance(decided, Mapping) and isinstance(decided.get("file"), str):
        found[decided["file"]] = str(decided.get("sha256", ""))
    return found


def _of_files(was: Mapping[str, str], now: Mapping[str, str]) -> Iterator[dict[str, str]]:
    earlier = {digest: name for name, digest in was.items()}
    for name in [*was, *(name for name in now if name not in was)]:
        if was.get(name) == now.get(name):
            continue
        is_now = f"file {now[name][:HASH]}" if name in now else "not read"
        if name not in was and (other := earlier.get(now[name])):
            is_now += f", {other} byte for byte"
        yield _row(name, f"file {was[name][:HASH]}" if name in was else "not read", is_now)


def _of_versions(before: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[dict[str, str]]:
    then, after = (_versions(each) for each in (before, now))
    for name in sorted(set(then) & set(after)):
        if then[name] != after[name]:
            yield _row(f"version of {name}", then[name], after[name])


def _versions(record: Mapping[str, Any]) -> dict[str, str]:
    rows = record.get("versions")
    found = {str(name): str(value) for name, value in rows.items()} if isinstance(rows, Mapping) else {}
    return found | ({"geoqa": str(record["geoqa"])} if "geoqa" in record else {})
