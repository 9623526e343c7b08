"""What the record of an output folder says: the job, its inputs and outputs with their hashes, the versions."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geoqa.errors import OutputError
from geoqa.job.earlier import RECORD, inside
from geoqa.job.placing import refuse_unfinished

UP = 3
"""Folders above an output folder in which its job file is looked for."""
LARGEST = 50_000_000
"""Bytes; a larger record is none of ours."""


@dataclass(frozen=True, kw_only=True)
class Recorded:
    """The record of one run.

    Attributes
    ----------
    folder : Path
        Output folder it stands in.
    job : str
        Name of the job file.
    job_sha256 : str
    inputs, outputs : mapping of str
        File as the record names it -> hash of its bytes.
    versions : mapping of str
        Package -> version; geoqa itself under "geoqa".
    """

    folder: Path
    job: str
    job_sha256: str
    inputs: Mapping[str, str]
    outputs: Mapping[str, str]
    versions: Mapping[str, str]


def recorded(folder: Path) -> Recorded:
    """Read the record of an output folder; it may come from anybody.

    Raises
    ------
    OutputError
        There is none, or it is not one that geoqa writes, or the files beside it may be of two runs.
    """
    refuse_unfinished(folder)
    place = folder / RECORD
    try:
        if place.stat().st_size > LARGEST:
            raise ValueError("it is too large")
        facts = json.loads(place.read_text(encoding="utf-8"))
        versions = {**_texts(facts["versions"]), "geoqa": str(facts["geoqa"])}
        inputs = {str(row["path"]): str(row["sha256"]) for row in facts["inputs"] if row.get("sha256")}
        if decided := facts.get("decisions"):
            inputs[str(decided["file"])] = str(decided["sha256"])
        outputs = _texts(facts["outputs"])
        job, digest = str(facts["job"]["file"]), str(facts["job"]["sha256"])
    except FileNotFoundError:
        raise OutputError(
            f"{folder.name} holds no {RECORD}: it is not the output folder of a run, or the record was taken out. "
            "Name the folder that [outputs] of the job names."
        ) from None
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError) as error:
        reason = error.strerror if isinstance(error, OSError) else error
        raise OutputError(
            f"{folder.name}/{RECORD} cannot be read as the record of a run: {reason}. Name the output folder of a run, "
            "or run the job again."
        ) from error
    if strange := [name for name in outputs if not inside(name)]:
        raise OutputError(
            f"{folder.name}/{RECORD} names an output outside its folder ({strange[0]!r}); geoqa writes no such record. "
            "Nothing was opened."
        )
    return Recorded(folder=folder, job=job, job_sha256=digest, inputs=inputs, outputs=outputs, versions=versions)


def job_file(record: Recorded) -> Path:
    """Where the job file of a record is: beside its output folder, or up to three folders above.

    Raises
    ------
    OutputError
        It is nowhere there.
    """
    folder = record.folder.resolve()
    if inside(record.job):
        for above in list(folder.parents)[:UP]:
            if (above / record.job).is_file():
                return above / record.job
    raise OutputError(
        f"The job file {record.job} that made {record.folder.name} is in none of the {UP} folders above it. "
        "Name it with --job."
    )


def _texts(mapping: Mapping[str, Any]) -> dict[str, str]:
    return {str(name): str(value) for name, value in mapping.items()}
