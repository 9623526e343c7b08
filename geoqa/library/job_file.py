"""A job file from code: run as the command line runs it, given back as tables are."""

from pathlib import Path

from geoqa.errors import JobError
from geoqa.job.document.file import Job
from geoqa.job.document.load import LoadedJob, in_memory
from geoqa.job.execute import silent
from geoqa.job.inputs.named_files import job_files
from geoqa.job.inputs.unframed import load_framed
from geoqa.job.run import run as run_job
from geoqa.library.assessed import Assessed, assessed
from geoqa.library.watching import Watch, watched


def run(job: str | Path | LoadedJob | Job, *, write: bool = True, progress: Watch = silent) -> Assessed:
    """Run a job file.

    Parameters
    ----------
    job : path of a job file, a job that is loaded already, or one made in code
    write : bool
        Write the outputs the job names; without, the results are only returned.
    progress : callable or "bar"
        Called with a stage in words, how many of it are done, and how many there are; or a bar where a person
        watches, on a terminal or in a notebook.

    Returns
    -------
    Assessed
        As `geoqa.assess` gives them: tables by what they are about, the map, plots, and files where they are wanted.

    Raises
    ------
    JobError, SourceError, FrameError, OutputError, CheckError, PluginError
        See `geoqa.errors`; nothing half-written is left behind.
    """
    if not isinstance(job, str | Path | LoadedJob | Job):
        raise JobError(
            f"job: must be the path of a job file, what geoqa.load gave, or a geoqa.Job, and is a {type(job).__name__}."
        )
    own: tuple[Path, ...] = ()
    if isinstance(job, Job):
        loaded = in_memory(job)
    else:
        loaded = job if isinstance(job, LoadedJob) else load_framed(job)
        own = (loaded.path,)
    with watched(progress) as shown:
        results = run_job(loaded, write=write, progress=shown)
    return assessed(results, loaded, originals=(*own, *job_files(loaded).paths))
