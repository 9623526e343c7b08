"""Where what is declared of a file disagrees with where it lies: both readings told as numbers, nothing changed."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from geoqa.frames.files.drawn_unit import unit_doubts
from geoqa.frames.files.far_away import far_away
from geoqa.frames.files.labelled_foot import foot_doubts
from geoqa.frames.files.mixed_geoids import mixed_geoids
from geoqa.frames.files.moved_origin import moved_designs, survey_of
from geoqa.frames.files.off_marks import check_shots, off_their_marks
from geoqa.frames.files.reading import FileReading, FrameDoubt, codes_of
from geoqa.frames.files.scaled_marks import scaled_doubts
from geoqa.model.frame import Frame

if TYPE_CHECKING:
    import pandas as pd


def frame_doubts(files: Sequence[FileReading], frame: Frame) -> tuple[FrameDoubt, ...]:
    """Look at every file of a job: whether its check shots lie on their marks, and it lies where the others lie.

    Parameters
    ----------
    files : sequence of FileReading
        With their tables in the job's frame, as declared.
    frame : Frame
        The job's.

    Returns
    -------
    tuple of FrameDoubt
        Empty where everything is in order, or where nothing can be told.
    """
    control, codes = _control(files), codes_of(files)
    lying = [each for each in files if len(each.places)]
    checked = {
        each.key: found
        for each in lying
        if each.role == "shots" and (found := check_shots(each, control, codes, frame)) is not None
    }
    off = tuple(off_their_marks(lying, checked, control, frame))
    doubted = {each.file for each in off}
    scaled = tuple(scaled_doubts(lying, checked, control, frame, doubted))
    units = tuple(unit_doubts(lying, frame, doubted))
    feet = tuple(foot_doubts(lying, frame, doubted))
    shots = [each.layers["shots"] for each in lying if each.role == "shots" and each.name not in doubted]
    moved = tuple(moved_designs(lying, survey_of(shots, control, codes), frame, doubted))
    return (*off, *scaled, *units, *feet, *moved, *far_away(lying, frame, doubted), *mixed_geoids(lying, frame))


def _control(files: Sequence[FileReading]) -> "pd.DataFrame | None":
    """Every mark of the job, in its frame; None without."""
    import pandas as pd

    tables = [each.layers["control"] for each in files if "control" in each.layers]
    return pd.concat(tables, ignore_index=True) if tables else None
