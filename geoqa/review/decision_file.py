"""The file of one reviewer, as the page of the map saves it: read with suspicion, for it comes by mail."""

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints, ValidationError

from geoqa.contract.decisions import CHECK, FILE_FORMAT, VERSION, check_value
from geoqa.errors import SourceError
from geoqa.job.decided import Opinion, Said

LARGEST = 5_000_000
"""Bytes; a larger file is no reviewer's."""
MOST = 5000


class OfJob(Said):
    """The job a file speaks of."""

    name: str = Field("", max_length=500)
    file: str = Field("", max_length=300)


class _Written(Said):
    format: Literal["geoqa decision file"]
    version: Literal[1]
    job: OfJob
    run: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{24}$")]
    decisions: Annotated[list[Opinion], Field(min_length=1, max_length=MOST)]


@dataclass(frozen=True, kw_only=True)
class DecisionFile:
    """What one file says.

    Attributes
    ----------
    name, sha256 : str
        Of the file itself.
    job : OfJob
        The job it says it is of.
    run : str
        Name of the run whose map the reviewer saw.
    opinions : tuple of Opinion
    """

    name: str
    sha256: str
    job: OfJob
    run: str
    opinions: tuple[Opinion, ...]


def read_decision_file(path: Path) -> DecisionFile:
    """Read the file of a reviewer.

    Raises
    ------
    SourceError
        It cannot be read, is no such file, or is not as it was saved.
    """
    try:
        if path.stat().st_size > LARGEST:
            raise SourceError(f"{path.name} has over {LARGEST:,} bytes: no file of decisions has. Nothing was read.")
        raw = path.read_bytes()
    except OSError as error:
        raise SourceError(f"{path.name} cannot be read: {error.strerror or error}.") from error
    facts = _facts(raw, path.name)
    try:
        same = facts.pop(CHECK, None) == check_value(facts)
    except (ValueError, RecursionError):
        same = False
    if not same:
        raise SourceError(
            f"{path.name} is not as it was saved: its check value is not that of what it says. It was changed by hand "
            "or damaged on its way; ask for the file anew."
        )
    try:
        said = _Written.model_validate_json(json.dumps(facts))
    except ValidationError as error:
        raise SourceError(f"{path.name} cannot be taken: {_first(error)} Ask for the file anew.") from None
    return DecisionFile(
        name=path.name,
        sha256=hashlib.sha256(raw).hexdigest(),
        job=said.job,
        run=said.run,
        opinions=tuple(said.decisions),
    )


def _facts(raw: bytes, name: str) -> dict[str, Any]:
    try:
        facts = json.loads(raw.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        facts = None
    if not isinstance(facts, dict) or facts.get("format") != FILE_FORMAT:
        raise SourceError(
            f"{name} is no file of decisions: save one from the map (Decide, Save decisions), and name that."
        )
    if facts.get("version") != VERSION:
        raise SourceError(
            f"{name} is a file of decisions of version {str(facts.get('version'))[:20]}; this geoqa reads version "
            f"{VERSION}. Make the map anew with this geoqa, or apply the file with the one it was made for."
        )
    return facts


def _first(error: ValidationError) -> str:
    """The first problem with its place, in words: a whole file is refused for it."""
    problem = error.errors(include_url=False, include_input=False)[0]
    place = ".".join(str(part + 1 if isinstance(part, int) else part) for part in problem["loc"])
    return f"{place or 'it'}: {problem['msg'].lower().replace('input should be', 'must be')}."
