"""Whether an output folder is what its job makes: hashes first, then the whole run once more."""

import csv
import json
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from geoqa.job.deliver import deliver
from geoqa.job.document.load import LoadedJob
from geoqa.job.earlier import RECORD
from geoqa.job.execute import Progress, silent
from geoqa.job.inputs.intake import originals, take_in
from geoqa.job.inputs.sources import sha256
from geoqa.job.inputs.unframed import load_framed
from geoqa.job.run import judge
from geoqa.model.tables.finding import earlier_id, is_beginning
from geoqa.review.last_digits import SAID as LAST_DIGITS
from geoqa.review.last_digits import only_last_digits
from geoqa.review.recorded import Recorded, job_file, recorded

_Rows = dict[str, dict[str, Any]]
SUMMARY = "summary.json"
KEYS = {"findings.csv": "finding", "shots.csv": "shot_key"}
"""Tables whose rows are told apart by a column, so that a difference can be told row by row."""


@dataclass(frozen=True, kw_only=True)
class Verified:
    """What was found.

    Attributes
    ----------
    compared : int
        Files of the record that were compared.
    inputs, outputs : mapping of str
        Files that are not what the record says -> "changed" or "missing".
    versions : mapping of str
        Packages of another version -> (then, now).
    differing : mapping of str
        Files that the same job makes otherwise now -> what differs, in words.
    unchecked : str
        What could not be made again, in words, and what stands in its place; empty where all was.
    """

    compared: int
    inputs: Mapping[str, str] = field(default_factory=dict)
    outputs: Mapping[str, str] = field(default_factory=dict)
    versions: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    differing: Mapping[str, str] = field(default_factory=dict)
    unchecked: str = ""

    @property
    def identical(self) -> bool:
        """Every file is what the record says, and what the job makes now, as far as that was checked."""
        return not (self.inputs or self.outputs or self.differing)


def verify(folder: str | Path, *, job: str | Path | None = None, progress: Progress = silent) -> Verified:
    """Compare an output folder with its record, its inputs, and what its job makes now.

    Parameters
    ----------
    folder : path
        Output folder of a run.
    job : path or None
        Job file; None looks for it beside the folder.
    progress : callable
        As in `geoqa.job.run`.

    Returns
    -------
    Verified

    Raises
    ------
    OutputError
        The folder holds no record, or the job file is nowhere.
    JobError, SourceError, FrameError
        The job cannot be run any more.
    """
    record = recorded(Path(folder))
    path = Path(job) if job is not None else job_file(record)
    loaded, lost = _without_lost_round(load_framed(path))
    intake = take_in(loaded, progress=progress)
    results = judge(loaded, intake, earlier=record.folder, progress=progress)
    since = _told_since(record) if lost else None
    if since is not None:
        results = replace(results, summary={**results.summary, "since": since})
    with tempfile.TemporaryDirectory() as made:
        again = Path(made)
        deliver(results, again, loaded.job.outputs.every, originals=originals(loaded), progress=progress)
        now = recorded(again)
        differing = _differing(record, now)
    return Verified(
        compared=len(record.outputs),
        inputs=_other_inputs(record, now),
        outputs=_unlike(record.outputs, record.folder),
        versions=_other_versions(record.versions, now.versions),
        differing=differing,
        unchecked=_unchecked(lost, since is not None) if lost else "",
    )


def _without_lost_round(loaded: LoadedJob) -> tuple[LoadedJob, str]:
    """The job, without the round before where its folder is not there any more; and what the job calls that."""
    previous = loaded.job.job.previous
    if previous is None or (loaded.resolve(previous) / RECORD).is_file():
        return loaded, ""
    head = loaded.job.job.model_copy(update={"previous": None})
    return replace(loaded, job=loaded.job.model_copy(update={"job": head})), str(previous)


def _told_since(record: Recorded) -> dict[str, Any] | None:
    """What the run told of the changes since the round before, where its summary is still the one it wrote."""
    if SUMMARY not in record.outputs or _unlike({SUMMARY: record.outputs[SUMMARY]}, record.folder):
        return None
    since = json.loads((record.folder / SUMMARY).read_text(encoding="utf-8")).get("since")
    return since if isinstance(since, dict) else None


def _unchecked(lost: str, taken: bool) -> str:
    said = f"what changed since the round before: its folder, {lost}, is not there any more or holds no {RECORD}. "
    if taken:
        return said + f"It was taken from {SUMMARY} as it stands; all else was made again."
    return said + "A file that tells of it is made otherwise now; all else was made again."


def _other_inputs(then: Recorded, now: Recorded) -> dict[str, str]:
    """What was read by name, also where it stands in the job file itself, and is another one now."""
    before, after = ({**each.inputs, then.job: each.job_sha256} for each in (then, now))
    found = {name: "changed" for name in before if name in after and after[name] != before[name]}
    found |= {name: "not read any more" for name in before if name not in after}
    return dict(sorted((found | {name: "read now" for name in after if name not in before}).items()))


def _unlike(hashes: Mapping[str, str], folder: Path) -> dict[str, str]:
    """Files whose bytes are not those of their hash."""
    found = {}
    for name, digest in sorted(hashes.items()):
        if not (folder / name).is_file():
            found[name] = "missing"
        elif sha256(folder / name) != digest:
            found[name] = "changed"
    return found


def _other_versions(then: Mapping[str, str], now: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    names = sorted(set(then) | set(now))
    pairs = {name: (then.get(name, "none"), now.get(name, "none")) for name in names}
    return {name: pair for name, pair in pairs.items() if pair[0] != pair[1]}


def _differing(then: Recorded, now: Recorded) -> dict[str, str]:
    found = {}
    for name in sorted(set(then.outputs) | set(now.outputs)):
        if name not in now.outputs:
            found[name] = "the job does not make it any more"
        elif name not in then.outputs:
            found[name] = "the job makes it now"
        elif then.outputs[name] != now.outputs[name]:
            before, after = then.folder / name, now.folder / name
            digits = only_last_digits(before, after)
            found[name] = LAST_DIGITS if digits else _rows_apart(before, after, KEYS.get(name, ""))
    return found


def _rows_apart(then: Path, now: Path, key: str) -> str:
    """Which rows of two tables differ; only that they do where rows have no name."""
    if not key or not then.is_file():
        return "differs"
    before, after = _rows(then, key), _rows(now, key)
    before, shorter = _lengthened(before, after)
    gone, fresh = sorted(set(before) - set(after)), sorted(set(after) - set(before))
    other = [name for name in before if name in after and before[name] != after[name]]
    counted = (
        ("ids with fewer digits", shorter), ("rows that differ", other), ("rows that are gone", gone),
        ("new rows", fresh),
    )  # fmt: skip
    parts = [f"{what}: {len(names)}" for what, names in counted if names]
    if other:
        first = other[0]
        names = [name for name in before[first] if before[first][name] != after[first].get(name)]
        parts.append(f"first {first}: {names[0]} {before[first][names[0]]} was, {after[first].get(names[0], '')} is")
    return "; ".join(parts) or "differs"


def _lengthened(then: _Rows, now: _Rows) -> tuple[_Rows, list[str]]:
    """Rows of an earlier geoqa by the ids that the same findings have now, and the shorter ones that they had."""
    longer = {earlier_id(name): name for name in now if is_beginning(name) and earlier_id(name) not in now}
    shorter = [name for name in then if name in longer]
    if not shorter:
        return then, []
    rows = {
        longer.get(name, name): {
            column: longer.get(value, value) if isinstance(value, str) else value for column, value in row.items()
        }
        for name, row in then.items()
    }
    return rows, shorter


def _rows(path: Path, key: str) -> _Rows:
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return {str(row.get(key)): row for row in csv.DictReader(stream)}
