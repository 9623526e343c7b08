"""A whole batch: find the jobs, run those that need it, put together what they say."""

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geoqa.batch.cluster import Engine
from geoqa.batch.found import PARTS, Found, find_jobs
from geoqa.batch.part import FACTS, Part, kept_part
from geoqa.batch.season.make import crews_of, make_season
from geoqa.batch.written import write_season
from geoqa.errors import GeoqaError, OutputError
from geoqa.job.workplace import sweep
from geoqa.model.season import Season
from geoqa.model.signs import SIGNS
from geoqa.present.season.page import headline

JUDGED, KEPT, REFUSED = "judged", "kept", "refused"
Told = Callable[[dict[str, Any], int, int], None]
Run = Callable[[Sequence[tuple[Found, str]]], Iterator[tuple[Found, dict[str, Any]]]]


@dataclass(frozen=True, kw_only=True)
class Batch:
    """What became of a batch.

    Attributes
    ----------
    season : Season
        Its table `jobs` has a row for each job.
    headline : str
        What it says first.
    files : tuple of Path
        Written into the folder of the batch.
    """

    season: Season
    headline: str
    files: tuple[Path, ...]


def run_batch(
    places: Iterable[Path],
    folder: Path,
    *,
    engine: Run | None = None,
    crews: bool = False,
    told: Told = lambda row, done, of: None,
) -> Batch:
    """Run every job that is not done, and write the tables and the page of the season.

    Parameters
    ----------
    places : iterable of Path
        Job files, and folders that hold them.
    folder : Path
        Of the batch; made where it is missing.
    engine : callable, optional
        Runs jobs; one process for each processor of this machine without.
    crews : bool
        Tell what each crew achieved.
    told : callable
        Called with the row of each job once it has ended, how many have, and how many there are.

    Raises
    ------
    JobError
        There is no job, or what runs them is not installed.
    OutputError
        The folder cannot be written to, or the scheduler cannot be reached.
    """
    found = find_jobs(places, folder)
    parts = folder / PARTS
    try:
        parts.mkdir(parents=True, exist_ok=True)
        sweep(parts)
    except OSError as error:
        raise OutputError(f"The folder {folder.name} cannot be written to: {error.strerror or error}.") from error
    rows: dict[str, dict[str, Any]] = {}

    def ended(job: Found, state: str, trouble: str = "", kind: str = "") -> None:
        rows[job.label] = _row(job, parts, state, trouble, kind)
        told(rows[job.label], len(rows), len(found.jobs))

    waiting = []
    for job in found.jobs:
        if job.refused:
            ended(job, REFUSED, job.refused, "JobError")
        elif kept_part(parts / job.key, job.path) is not None:
            ended(job, KEPT)
        else:
            waiting.append((job, str(parts.resolve() / job.key)))
    for job, made in (engine or Engine())(waiting) if waiting else ():
        whole = made["trouble"] == "" or (made["again"] and kept_part(parts / job.key, job.path) is not None)
        ended(job, JUDGED if whole else REFUSED, "" if whole else made["trouble"], "" if whole else made["kind"])
    sweep(parts)  # of workers that were lost
    season = _season(found.jobs, rows, parts, crews=crews, others=found.others)
    return Batch(season=season, headline=headline(season), files=write_season(season, folder))


def _row(job: Found, parts: Path, state: str, trouble: str, kind: str) -> dict[str, Any]:
    """Row of a job in the table `jobs`; one whose part is not there is refused."""
    part = None if state == REFUSED else _read(parts / job.key)
    if state != REFUSED and part is None:
        state, kind = REFUSED, "OutputError"
        trouble = f"its part is not in {parts.parent.name}: the workers must see the same folders under the same names."
    facts = {} if part is None else part.facts
    counts = facts.get("counts", {})
    return {
        "job": job.label, "name": facts.get("name", ""), "date": facts.get("date", ""), "owner": facts.get("owner", ""),
        "state": state, "shots": facts.get("shots", 0), **{sign: counts.get(sign, 0) for sign in SIGNS},
        "rows_left_out": facts.get("rows_left_out", 0), "trouble": trouble, "kind_of_trouble": kind,
    }  # fmt: skip


def _read(place: Path) -> Part | None:
    try:
        return Part(facts=json.loads((place / FACTS).read_text(encoding="utf-8"))["told"], folder=place)
    except (OSError, ValueError, LookupError, TypeError):
        return None


def _season(
    jobs: Iterable[Found], rows: dict[str, dict[str, Any]], parts: Path, *, crews: bool, others: tuple[str, ...]
) -> Season:
    import pandas as pd

    told = []
    for job in jobs:
        part = None if rows[job.label]["state"] == REFUSED else _read(parts / job.key)
        if part is None:
            continue
        try:
            checks = part.checks()
        except GeoqaError as error:
            rows[job.label] |= {"state": REFUSED, "trouble": f"{error}. Run the batch again.",
                                "kind_of_trouble": "SourceError"}  # fmt: skip
            continue
        if crews:
            checks["crew"] = checks["source"].map(crews_of(job.path)).astype("str")
        told.append((job.label, dict(part.facts), checks))
    table = pd.DataFrame([rows[job.label] for job in jobs])
    return make_season(told, table, crews=crews, others=others)
