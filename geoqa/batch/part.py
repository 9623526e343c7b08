"""The part of one job in the folder of a batch: whole or not there, and believed only while nothing changed."""

import glob
import json
import os
import shutil
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa import plugins
from geoqa.batch.told import checks_of, facts_of
from geoqa.errors import GeoqaError, SourceError
from geoqa.job.document.load import LoadedJob
from geoqa.job.earlier import RECORD, inside
from geoqa.job.inputs.intake import originals
from geoqa.job.inputs.sources import sha256
from geoqa.job.inputs.unframed import load_framed
from geoqa.job.placing import refuse_unfinished
from geoqa.job.record import versions
from geoqa.job.workplace import new_workplace
from geoqa.model.results import Results
from geoqa.version import VERSION

if TYPE_CHECKING:
    import pandas as pd

FACTS, CHECKS = "part.json", "checks.parquet"
_FORMAT = 1


@dataclass(frozen=True, kw_only=True)
class Part:
    """What a job told when it was run.

    Attributes
    ----------
    facts : mapping
        Of `geoqa.batch.told.facts_of`.
    folder : Path
        Where it is kept.
    """

    facts: Mapping[str, Any]
    folder: Path

    def checks(self) -> "pd.DataFrame":
        """Check shots of the job.

        Raises
        ------
        SourceError
            The file cannot be read.
        """
        import pandas as pd

        try:
            return pd.read_parquet(self.folder / CHECKS).drop(columns="geometry", errors="ignore")
        except Exception as error:  # whatever a format library calls it
            raise SourceError(f"{self.folder.name}/{CHECKS} cannot be read: {error}") from error


def write_part(results: Results, loaded: LoadedJob, read: Mapping[str, str], place: Path) -> Part:
    """Keep what a job says, and every layer of it that lies somewhere as GeoParquet.

    Parameters
    ----------
    results : Results
        Delivered already.
    loaded : LoadedJob
    read : mapping
        Of `fingerprint`, taken before the job was run: a file that changes meanwhile is found the next time.
    place : Path
        Folder of the part; one that stands there is replaced.
    """
    place.parent.mkdir(parents=True, exist_ok=True)
    made = new_workplace(place.parent)
    try:
        plugins.load("writers", "parquet")().write(results, made)
        checks_of(results, loaded).to_parquet(
            made / CHECKS, index=False, compression="zstd", schema_version="1.1.0", write_covering_bbox=False
        )
        files = sorted(each for each in made.rglob("*") if each.is_file())
        told = facts_of(results, loaded)
        facts = {
            "format": _FORMAT,
            "told": told,
            "read": dict(read),
            "geoqa": VERSION,
            "versions": dict(results.record["versions"]),
            "steps": {each["step"]: each["from"] for each in results.record["steps"]},
            "record": sha256(loaded.resolve(loaded.job.outputs.folder) / RECORD),
            "files": {each.relative_to(made).as_posix(): sha256(each) for each in files},
        }
        text = json.dumps(facts, indent=1, sort_keys=True, ensure_ascii=False)
        (made / FACTS).write_text(text + "\n", encoding="utf-8", newline="\n")
        os.chmod(made, 0o755)
        _exchange(made, place)
    finally:
        shutil.rmtree(made, ignore_errors=True)
    return Part(facts=told, folder=place)


def kept_part(place: Path, job: Path) -> Part | None:
    """The part of a job that need not be run again; None where it must.

    It stands where every file that the job reads, itself among them, every file that it wrote, every file of the part
    and the versions of all that made them are what they were.
    """
    try:
        facts = json.loads((place / FACTS).read_text(encoding="utf-8"))
        if facts["format"] != _FORMAT or facts["geoqa"] != VERSION:
            return None
        if dict(versions(each for each in facts["versions"] if each != "python")) != facts["versions"]:
            return None
        installed = plugins.declared("steps")
        now = {step: plugins.owner("steps", step) if step in installed else None for step in facts["steps"]}
        if now != facts["steps"]:
            return None
        if not facts["files"] or any(
            not inside(name) or sha256(place / name) != digest for name, digest in facts["files"].items()
        ):
            return None
        loaded = load_framed(job)
        if fingerprint(loaded) != facts["read"] or not _delivered(loaded, facts["record"]):
            return None
        return Part(facts=facts["told"], folder=place)
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError, GeoqaError):
        return None


def fingerprint(loaded: LoadedJob) -> dict[str, str]:
    """Hash of every file that decides what a job makes, and of those beside them that bear the same name."""
    files = set(originals(loaded))
    if loaded.job.job.previous is not None:
        files.add(loaded.resolve(loaded.job.job.previous) / RECORD)
    for each in list(files):
        files |= {Path(name) for name in glob.glob(glob.escape(str(each.with_suffix(""))) + ".*")}
    there = sorted(each for each in files if each.is_file())
    return {Path(os.path.relpath(each, loaded.folder)).as_posix(): sha256(each) for each in there}


def _delivered(loaded: LoadedJob, digest: str) -> bool:
    """Whether the output folder holds what the run wrote that the part is of."""
    folder = loaded.resolve(loaded.job.outputs.folder)
    refuse_unfinished(folder)
    if sha256(folder / RECORD) != digest:
        return False
    outputs = json.loads((folder / RECORD).read_text(encoding="utf-8"))["outputs"]
    return all(sha256(folder / name) == hashed for name, hashed in outputs.items())


def _exchange(made: Path, place: Path) -> None:
    """Put a folder into its place; another worker may have done so a moment before."""
    for _ in range(3):
        with suppress(FileNotFoundError):
            away = new_workplace(place.parent)
            try:
                os.replace(place, away / "old")
            finally:
                shutil.rmtree(away, ignore_errors=True)
        with suppress(OSError):
            os.rename(made, place)
            return
    os.rename(made, place)
