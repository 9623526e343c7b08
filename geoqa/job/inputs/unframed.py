"""A job whose files are about to be read: where its frame is not said, the files are asked what they may be in."""

import tomllib
from collections.abc import Collection
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from geoqa.errors import JobError
from geoqa.frames.files.place import place_files
from geoqa.frames.files.reading import frame_lines
from geoqa.job.decided import with_field_changes
from geoqa.job.document.file import Job
from geoqa.job.document.load import FrameMissing, LoadedJob, load
from geoqa.job.document.named import REQUIRED
from geoqa.job.inputs.descriptions import patterns_of, with_descriptions
from geoqa.job.inputs.named_files import inputs
from geoqa.job.inputs.reading import read_files

ASKED = ("shots", "control", "codes", "design")
"""Tables of the job file whose files say something of the frame."""
NOT_STATED = "not stated"
"""Stands where the code of a system would: nothing is looked up by it."""


def load_framed(path: str | Path) -> LoadedJob:
    """Load a job whose data will be read.

    Raises
    ------
    JobError
        As `load`; where no frame is stated, with the frames that the files may be in, ranked: none is chosen.
    """
    try:
        return with_field_changes(load(path))
    except FrameMissing as error:
        unframed = _without_frame(Path(path).resolve(), error.text)
        candidates = () if unframed is None else possible_frames(unframed)
        raise JobError("\n  ".join([str(error), *candidates])) from None


def possible_frames(unframed: LoadedJob, *, needed: Collection[str] = ()) -> tuple[str, ...]:
    """What the files of a job may be in, whatever it says of its frame, a line each.

    Parameters
    ----------
    unframed : LoadedJob
    needed : collection of str
        Roles whose files must be readable; any other file that cannot be read says nothing.

    Raises
    ------
    SourceError
        A needed file cannot be read.
    """
    files = with_descriptions(read_files(inputs(unframed), None, needed=needed), patterns_of(unframed.job))
    return frame_lines(place_files(files, None))


def _without_frame(path: Path, text: str) -> LoadedJob | None:
    """The job as far as it names files; None where other problems keep them from being read."""
    table = {key: _filled(value) for key, value in tomllib.loads(text).items() if key in ASKED}
    table = {key: value for key, value in table.items() if value is not None}
    try:
        job = Job.model_validate({**table, "job": {"name": path.stem}, "frame": {"horizontal": NOT_STATED}})
    except ValidationError:
        return None
    return LoadedJob(path, text, job)


def _filled(value: Any) -> Any:
    """A table of a drafted job, or several, without what still waits for a person; None where that is the file."""
    if isinstance(value, list):
        return [kept for each in value if (kept := _filled(each)) is not None]
    if not isinstance(value, dict):
        return value
    return None if value.get("file") == REQUIRED else {key: each for key, each in value.items() if each != REQUIRED}
