"""Write everything, or nothing: a temporary folder first, then all files into place, the manifest last."""

import json
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from geoqa.errors import OutputError
from geoqa.job.beside.processes import Beside
from geoqa.job.earlier import LEFT, RECORD, left_text, may_be_replaced, will_be_left
from geoqa.job.execute import Progress, silent
from geoqa.job.inputs.sources import sha256
from geoqa.job.placing import finish, place_all
from geoqa.job.read_me import READ_ME, RECORD_SAYS, may_be_written, read_me
from geoqa.job.workplace import new_workplace, sweep
from geoqa.model.output import Output
from geoqa.model.results import Results

MANIFEST = RECORD


def deliver(
    results: Results,
    folder: Path,
    outputs: Iterable[Output],
    *,
    originals: Iterable[Path] = (),
    beside: Beside | None = None,
    progress: Progress = silent,
) -> tuple[Path, ...]:
    """Write `results` with every writer and page, and the record with the hash of each file.

    Parameters
    ----------
    results : Results
    folder : Path
        Made where it is missing. Files of the same name are replaced, others are left alone; those that an earlier run
        made and this one does not are named in `earlier_run.txt`; `README.txt` says what each file of several outputs
        is.
    outputs : iterable of Output
    originals : iterable of Path
        Files that were read; an output that would fall on one of them is refused.
    beside : Beside, optional
        Processes that write too; without, all is written here.
    progress : callable
        As for `run`.

    Returns
    -------
    tuple of Path
        Files written, the record last.

    Raises
    ------
    OutputError
        Something could not be written, or would have replaced an original; what stood in the folder
        before is still whole.
    """
    outputs = list(outputs)
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"The output folder {folder.name} cannot be written to: it is a file. Name another.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        finish(folder)
        sweep(folder)
        workplace = new_workplace(folder)
    except OSError as error:
        raise OutputError(
            f"The output folder {folder.name} cannot be written to: {error.strerror or error}."
        ) from error
    try:
        made = _written(results, workplace, outputs, beside or Beside(), progress)
        # one that stands there is renewed even beside a single output: it would tell of another run
        several = len(outputs) > 1 or (folder / READ_ME).exists()
        if several and READ_ME not in made and may_be_written(folder):
            text = read_me(results, {**made, MANIFEST: RECORD_SAYS})
            (workplace / READ_ME).write_text(text, encoding="utf-8", newline="\n")
            made[READ_ME] = ""
        names = list(made)
        _write_manifest(results, workplace, names)
        old, told = will_be_left(folder, names), may_be_replaced(folder)
        if old and told:
            (workplace / LEFT).write_text(left_text(old), encoding="utf-8", newline="\n")
        placed = (*names, *([LEFT] if old and told else []), MANIFEST)
        _spare(tuple(originals), folder, placed)
        place_all(workplace, folder, placed)
    finally:
        shutil.rmtree(workplace, ignore_errors=True)
    progress("written", len(outputs), len(outputs))
    return tuple(folder / name for name in (*names, MANIFEST))


def _written(
    results: Results, workplace: Path, outputs: list[Output], beside: Beside, progress: Progress
) -> dict[str, str]:
    """Files in the order of their outputs, each with what it is in a few words."""
    made: dict[str, str] = {}
    for output, names in zip(outputs, beside.write(outputs, results, workplace, progress=progress), strict=True):
        if clash := set(names) & set(made):
            raise OutputError(f"Two outputs write the same file {sorted(clash)[0]}; rename or drop one in [outputs].")
        made |= {name: output.says_of(name) for name in names}
    return made


def _write_manifest(results: Results, workplace: Path, names: list[str]) -> None:
    record: dict[str, Any] = dict(results.record)
    record["outputs"] = {name: sha256(workplace / name) for name in sorted(names)}
    text = json.dumps(record, indent=2, sort_keys=True, ensure_ascii=False, allow_nan=False)
    (workplace / MANIFEST).write_text(text + "\n", encoding="utf-8", newline="\n")


def _spare(originals: tuple[Path, ...], folder: Path, names: Iterable[str]) -> None:
    """Refuse to write over a file the job reads; also where it goes by another name, case or link."""
    for name in names:
        place = folder / name
        if place.is_symlink() or not place.exists():
            continue  # a link is replaced, not followed
        if hit := next((each for each in originals if each.exists() and each.samefile(place)), None):
            raise OutputError(
                f"The output {name} would replace {hit.name}, which was read; originals are never written to. "
                "Nothing was replaced. Name another output folder."
            )
