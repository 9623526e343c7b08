"""Write everything, or nothing: a temporary folder first, then all files into place, the manifest last."""

import json
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from geoqa.errors import GeoqaError, LayerError, OutputError
from geoqa.job.earlier import LEFT, RECORD, left_text, may_be_replaced, will_be_left
from geoqa.job.execute import Progress, silent
from geoqa.job.inputs.sources import sha256
from geoqa.job.placing import finish, place_all
from geoqa.job.read_me import READ_ME, RECORD_SAYS, may_be_written, read_me
from geoqa.job.workplace import new_workplace, sweep
from geoqa.model.output import Output
from geoqa.model.results import Results

MANIFEST = RECORD
NO_ROOM = 1_000_000
"""Bytes: a disk with less is full, whatever a format library calls it."""


def deliver(
    results: Results,
    folder: Path,
    outputs: Iterable[Output],
    *,
    originals: Iterable[Path] = (),
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
        made = _written(results, workplace, outputs, progress)
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


def _written(results: Results, workplace: Path, outputs: list[Output], progress: Progress) -> dict[str, str]:
    """Files in the order in which they were written, each with what it is in a few words."""
    made: dict[str, str] = {}
    for done, output in enumerate(outputs):
        progress(f"writing {output.name}", done, len(outputs))
        try:
            written = output.write(results, workplace)
            output.read_back(results, workplace)
        except LayerError as error:
            raise OutputError(
                f"'{output.name}' cannot be written for this job: {error.brief}. "
                "Take it out of [outputs], or add the step that makes what it needs. Nothing was replaced."
            ) from error
        except GeoqaError:
            raise
        except OSError as error:
            raise OutputError(
                f"Writing {output.name} failed: {error.strerror or error}. Nothing was replaced; "
                "the previous output is still whole."
            ) from error
        except Exception as error:  # of a format library, over a disk that is full
            if shutil.disk_usage(workplace).free > NO_ROOM:
                raise
            raise OutputError(
                f"Writing {output.name} failed: the disk is full ({error}). Nothing was replaced; "
                "the previous output is still whole."
            ) from error
        if clash := set(written) & set(made):
            raise OutputError(f"Two outputs write the same file {sorted(clash)[0]}; rename or drop one in [outputs].")
        made |= {name: output.says_of(name) for name in written}
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
