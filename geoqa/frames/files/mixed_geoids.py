"""Files whose elevations come from different geoid models: they differ by what the models differ there."""

import re
from collections.abc import Iterator, Sequence

import numpy as np

from geoqa.frames.files.reading import FileReading, FrameDoubt
from geoqa.model.frame import Frame


def mixed_geoids(files: Sequence[FileReading], frame: Frame) -> Iterator[FrameDoubt]:
    """Files that state another geoid model than the control, or than the job's frame where the control states none.

    A file that states none is not doubted; ellipsoid heights become elevations by the frame's own grid.
    """
    stated = [(each, _model(each, frame)) for each in files]
    known = [(each.name, model) for each, model in stated if model and each.role == "control"]
    known += [("the frame", frame.geoid)] if frame.geoid else []
    known += [(each.name, model) for each, model in stated if model]
    if not known:
        return
    whose, reference = known[0]
    for each, model in stated:
        if not model or _bare(model) == _bare(reference):
            continue
        yield FrameDoubt(
            file=each.name,
            declared=f"elevations by {model}",
            better=f"elevations by {reference}",
            declared_misfit=np.nan,
            better_misfit=np.nan,
            words=f"Are all elevations made with one geoid model? Those of {each.name} are by {model}, those of "
            f"{whose} by {reference}: they differ by what the two models differ at the site, often more than a "
            f"tolerance. Nothing was changed. What to do: bring {each.name} onto {reference}, or state the geoid that "
            "is true, where it is a slip of the job.",
        )


def _model(reading: FileReading, frame: Frame) -> str:
    """Geoid model of a file's elevations; empty where nobody states it."""
    if reading.file.heights == "ellipsoid":
        return frame.geoid or ""
    return reading.file.geoid or ""


def _bare(name: str) -> str:
    return re.sub(r"[\W_]+", "", name).casefold()
