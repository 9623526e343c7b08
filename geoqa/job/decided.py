"""The register of decisions beside a job: what reviewers said of items, and the changes of design it led to.

A run reads it and shows what still fits; `geoqa decide` alone writes it. No original is edited.
"""

import datetime
import hashlib
import json
import os
import tempfile
import tomllib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from geoqa.contract.decisions import CHECK, DECISIONS, REGISTER_FORMAT, VERSION, check_value
from geoqa.errors import JobError
from geoqa.job.document.load import LoadedJob, validated
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers

SUFFIX = ".decisions.json"
CHANGE = "field_change_"
"""The register of job.toml is job.decisions.json, a change of the design job.field_change_ITEM.csv."""
LAYER = "decisions"
LARGEST = 20_000_000

Item = Annotated[str, StringConstraints(pattern=r"^[1-9]\d{0,6}$")]
Hash = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{16,64}$")]


def _a_moment(text: str) -> str:
    datetime.datetime.fromisoformat(text)
    return text


Moment = Annotated[str, StringConstraints(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$"), AfterValidator(_a_moment)]
Number = Annotated[str, StringConstraints(pattern=r"^-?\d{1,9}(\.\d{1,6})?$")]
Name = Annotated[str, StringConstraints(min_length=1, max_length=200, strip_whitespace=True)]


class Said(BaseModel):
    """A part of a file that somebody may have changed: nothing unknown, nothing left out, nothing endless."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class ChangedPoint(Said):
    """A design point with the coordinates that are approved; those not given stay."""

    point: Name
    easting: Number | None = None
    northing: Number | None = None
    elevation: Number | None = None


class ChangedLine(Said):
    """A reach of a design line, by stations along it, and how far it is moved; minus is left and down."""

    line: Name
    start: Number
    end: Number
    right: Number | None = None
    up: Number | None = None


class Opinion(Said):
    """What one reviewer says of one item."""

    item: Item
    findings: Annotated[list[Annotated[str, StringConstraints(max_length=40)]], Field(max_length=20_000)]
    seen: Hash
    told: str = Field("", max_length=1000)
    decision: Literal["accept", "fix", "re-measure", "field-change"]
    by: Name
    when: Moment
    note: str = Field("", max_length=2000)
    change: Annotated[list[ChangedPoint | ChangedLine], Field(max_length=50)] = []

    @property
    def who(self) -> str:
        """The reviewer, however his name was typed."""
        return " ".join(self.by.casefold().split())

    @property
    def meant(self) -> tuple[Any, ...]:
        """What two reviewers agree or disagree on."""
        return self.decision, tuple(sorted(each.model_dump_json() for each in self.change))


class Change(Said):
    """A change of the design that a decision led to, and what was seen of the item when it was decided."""

    item: Item
    seen: Hash
    file: Annotated[str, StringConstraints(pattern=r"^[^/\\]+$", max_length=200)]
    dated: Annotated[str, StringConstraints(pattern=r"^\d{4}-\d\d-\d\d$")]
    points: list[Name]
    lines: list[Name] = []


class Entry(Said):
    """A line of the log: what was done when, by whose word, from which file."""

    at: Moment
    did: Literal["applied", "refused", "taken back"]
    item: str = ""
    decision: str = ""
    by: str = ""
    when: str = ""
    note: str = ""
    file: str = ""
    sha256: str = ""
    why: str = ""


class Register(Said):
    """Everything decided on a job."""

    format: Literal["geoqa decisions of a job"] = REGISTER_FORMAT  # type: ignore[assignment]
    version: Literal[1] = VERSION  # type: ignore[assignment]
    opinions: tuple[Opinion, ...] = ()
    changes: tuple[Change, ...] = ()
    log: tuple[Entry, ...] = ()


def register_path(job: Path) -> Path:
    """Where the register of a job file is."""
    return job.with_name(f"{job.stem}{SUFFIX}")


def change_path(job: Path, item: str) -> Path:
    """Where the changed design of an item is."""
    return job.with_name(f"{job.stem}.{CHANGE}{item}.csv")


def read_register(job: Path) -> Register:
    """The register of a job; an empty one where nothing was ever decided.

    Raises
    ------
    JobError
        It cannot be read, or was changed by hand.
    """
    place = register_path(job)
    if not place.is_file():
        return Register()
    try:
        if place.stat().st_size > LARGEST:
            raise ValueError("it is too large")
        facts = json.loads(place.read_text(encoding="utf-8"))
        if facts.get(CHECK) != check_value(facts):
            raise ValueError("its check value is not that of what it says")
        del facts[CHECK]
        return Register.model_validate_json(json.dumps(facts))
    except (OSError, ValueError, AttributeError, TypeError, RecursionError, ValidationError) as error:
        what = "it says what no such file says" if isinstance(error, ValidationError) else str(error)
        raise JobError(
            f"{place.name}, the register of decisions on {job.name}, was changed by hand or is damaged: {what}. Put "
            "back the one that geoqa decide wrote, or move it away: then nothing is decided."
        ) from None


def write_register(job: Path, register: Register) -> None:
    """Put a register in its place, whole or not at all."""
    facts = register.model_dump(mode="json")
    facts[CHECK] = check_value(facts)
    put_whole(register_path(job), json.dumps(facts, indent=1, sort_keys=True, ensure_ascii=False) + "\n")


def put_whole(place: Path, text: str) -> None:
    """Write a text file beside its place first, then into it."""
    handle, beside = tempfile.mkstemp(prefix=f".{place.name}-", dir=place.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(beside, 0o644)
        os.replace(beside, place)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise


def by_item(opinions: Sequence[Opinion]) -> dict[tuple[str, str], list[Opinion]]:
    """Opinions on the same item as it was seen, in no order of time."""
    groups: dict[tuple[str, str], list[Opinion]] = {}
    for each in sorted(opinions, key=lambda each: (int(each.item), each.seen, each.who)):
        groups.setdefault((each.item, each.seen), []).append(each)
    return groups


def settled(opinions: Sequence[Opinion]) -> bool:
    """Whether all who saw the same decided the same."""
    return len({each.meant for each in opinions}) == 1


def with_decisions(layers: Layers, job: Path) -> Layers:
    """Layers with what was decided, without a name and a note; the same layers where nothing was."""
    import pandas as pd

    register = read_register(job)
    # what a changed design was made for is judged anew by it: the note on that change tells of it
    changed = {(each.item, each.seen) for each in register.changes}
    rows = [
        {"item": item, "decision": decision, "decided_on": max(each.when for each in mine)[:10], "seen": seen,
         "settled": settled(mine)}
        for (item, seen), mine in by_item(register.opinions).items()
        for decision in sorted({each.decision for each in mine}, key=list(DECISIONS).index)
        if decision != "field-change" or (item, seen) not in changed
    ]  # fmt: skip
    if not rows:
        return layers
    table = conform(LAYER, pd.DataFrame(rows))
    return type(layers)({**dict(layers), LAYER: table}, frame=layers.frame)


def without_decisions(layers: Layers) -> Layers:
    """Layers as people get them: what holds stands with items and findings."""
    if LAYER not in layers:
        return layers
    return type(layers)({name: table for name, table in layers.items() if name != LAYER}, frame=layers.frame)


def register_facts(job: Path) -> dict[str, Any]:
    """What the record says of the register: its name and hash; nothing where there is none."""
    place = register_path(job)
    if not place.is_file():
        return {}
    return {"decisions": {"file": place.name, "sha256": hashlib.sha256(place.read_bytes()).hexdigest()}}


def with_field_changes(loaded: LoadedJob) -> LoadedJob:
    """A job that reads the approved changes of its design as if they stood in it; its text stays what the file says.

    Raises
    ------
    JobError
        A change that the register names is not beside the job.
    """
    changes = read_register(loaded.path).changes
    if not changes or loaded.in_code:
        return loaded
    for change in changes:
        if not (loaded.folder / change.file).is_file():
            raise JobError(
                f"{change.file}, the changed design of item {change.item}, is not beside {loaded.name}. Put it back, "
                f"or take the decision back: geoqa decide {loaded.name} --take-back {change.item}"
            )
    table = tomllib.loads(loaded.text)
    table["design"] = [*table.get("design", []), *(_design(change) for change in changes)]
    return replace(loaded, job=validated(table, name=loaded.name, text=loaded.text, folder=loaded.folder))


def _design(change: Change) -> dict[str, Any]:
    return {
        "file": change.file,
        "id": f"field-change-{change.item}",
        "field_change": f"Field change decided on item {change.item}",
        "dated": datetime.date.fromisoformat(change.dated),
    }
