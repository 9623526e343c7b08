"""One job of a batch, from its file to its output folder and its part: what a worker does."""

import errno
from collections.abc import Callable
from pathlib import Path
from typing import Any

from geoqa.batch.part import fingerprint, kept_part, write_part
from geoqa.errors import GeoqaError, OutputError
from geoqa.job.inputs.unframed import load_framed
from geoqa.job.run import run

OURS = "Exception"
"""Kind of a trouble that is our fault."""


def judge_one(job: str, part: str) -> dict[str, Any]:
    """Run a job as `geoqa run` does, and keep its part.

    Parameters
    ----------
    job : str
        Path of the job file.
    part : str
        Path of the folder of its part.

    Returns
    -------
    dict
        `trouble`, the sentence of a refusal, and `kind`, the name of its class; both empty where there is none.
        `again`: the job was run; false where its part stands already, as it does where a worker was lost right after.
    """
    return refused_or(_judged, job, part)


def _judged(job: str, part: str) -> dict[str, Any]:
    if kept_part(Path(part), Path(job)) is not None:
        return {"again": False}
    loaded = load_framed(job)
    read = fingerprint(loaded)
    results = run(loaded)
    write_part(results, loaded, read, Path(part))
    return {"again": True}


def refused_or(call: Callable[..., dict[str, Any]], *given: Any) -> dict[str, Any]:
    """What a call gives, with `trouble` and `kind` empty; or these, in words, where it is refused."""
    try:
        return {"trouble": "", "kind": "", **call(*given)}
    except GeoqaError as error:
        return _refused(str(error), type(error).__name__)
    except OSError as error:
        full = error.errno in (errno.ENOSPC, errno.EDQUOT)
        what = "the disk is full" if full else f"the system refused: {error.strerror or error}"
        return _refused(f"{what}. Nothing was replaced.", OutputError.__name__)
    except MemoryError:
        return _refused("there is not enough memory for it beside the others; use fewer --workers.", "OutputError")
    except Exception as error:
        return _refused(f"{type(error).__name__}: {error}", OURS)


def _refused(trouble: str, kind: str) -> dict[str, Any]:
    return {"trouble": trouble, "kind": kind, "again": True}
