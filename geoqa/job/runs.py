"""The name of a run, and the runs that an output folder has seen: by these a file that comes back is known."""

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from geoqa.job.earlier import RECORD

MOST = 200
"""Runs that a record remembers; older ones are strangers."""
LENGTH = 24
"""Characters of a run's name."""


def with_run(record: Mapping[str, Any], earlier: Path | None) -> dict[str, Any]:
    """A record with the name of its run, which is a hash of all it says, and with the runs before it.

    Parameters
    ----------
    record : mapping
        JSON-ready.
    earlier : Path or None
        Output folder whose record holds the runs before; a run that is among them already adds nothing.

    Examples
    --------
    >>> made = with_run({"job": {"text": "a"}}, None)
    >>> made["runs"] == [made["run"]], len(made["run"])
    (True, 24)
    """
    text = json.dumps(record, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    name = hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:LENGTH]
    before = [] if earlier is None else runs_of(earlier)
    return {**record, "run": name, "runs": before if name in before else [*before, name][-MOST:]}


def runs_of(folder: Path) -> list[str]:
    """Names of the runs that the record in a folder remembers, oldest first; none without a record."""
    try:
        found = json.loads((folder / RECORD).read_text(encoding="utf-8")).get("runs", [])
    except (OSError, ValueError, AttributeError, RecursionError):
        return []
    whole = isinstance(found, list) and all(isinstance(each, str) and len(each) <= LENGTH for each in found)
    return found[-MOST:] if whole else []
