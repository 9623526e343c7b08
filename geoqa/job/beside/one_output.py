"""One output written into the workplace and read back, with what can go wrong said for a person."""

import shutil
from pathlib import Path

from geoqa.errors import GeoqaError, LayerError, OutputError
from geoqa.job.memory import give_back
from geoqa.model.output import Output
from geoqa.model.results import Results

NO_ROOM = 1_000_000
"""Bytes: a disk with less is full, whatever a format library calls it."""


MANY = 50_000
"""Findings, from which on room is made before an output: to look for it takes a tenth of a second each time."""


def written(output: Output, results: Results, workplace: Path) -> tuple[str, ...]:
    """Write one output and read it back.

    Parameters
    ----------
    output : Output
    results : Results
    workplace : Path
        A folder that exists.

    Returns
    -------
    tuple of str
        Names of the files.

    Raises
    ------
    OutputError
        It cannot be written, or gives back something else than was written.
    """
    try:
        _room_for(results)
        made = output.write(results, workplace)
        _room_for(results)
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
    return made


def _room_for(results: Results) -> None:
    if len(results.layers["findings"]) >= MANY:
        give_back()
