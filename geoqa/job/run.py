"""A whole job: take in, judge, deliver."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from geoqa import plugins
from geoqa.contract.sentences import note_lines
from geoqa.contract.words import all_words
from geoqa.job.beside.processes import Beside, as_many_as_pay
from geoqa.job.decided import register_facts, with_decisions, without_decisions
from geoqa.job.deliver import deliver
from geoqa.job.discreet import contacts_left_out, discreet
from geoqa.job.document.file import Job
from geoqa.job.document.load import LoadedJob, in_memory
from geoqa.job.earlier import RECORD
from geoqa.job.edited.log import with_edits
from geoqa.job.execute import Progress, silent
from geoqa.job.inputs.intake import Intake, originals, take_in
from geoqa.job.inputs.named_files import Input, inputs
from geoqa.job.inputs.photos import take_photos
from geoqa.job.inputs.unframed import load_framed
from geoqa.job.notes import job_notes, with_notes
from geoqa.job.placing import finish
from geoqa.job.plan import default_steps, plan
from geoqa.job.record import make_record
from geoqa.job.register import registered, with_earlier_items, without_earlier_items
from geoqa.job.rule_kinds import rule_kinds
from geoqa.job.runs import with_run
from geoqa.job.summary import summarise
from geoqa.model.output import Output
from geoqa.model.results import Results, Title
from geoqa.model.tables.layer import Layers


def run(
    job: str | Path | LoadedJob | Job, *, write: bool = True, processes: int | None = 1, progress: Progress = silent
) -> Results:
    """Run a job file.

    Parameters
    ----------
    job : path of a job file, a job that is loaded already, or one made in code
    write : bool
        Write the outputs the job names; without, the results are only returned.
    processes : int or None
        How many processes run steps and write outputs side by side; None takes as many as pay. The files are the same.
    progress : callable
        Called with a stage in words, how many of it are done, and how many there are.

    Returns
    -------
    Results

    Raises
    ------
    JobError, SourceError, FrameError, OutputError, CheckError, PluginError
        See `geoqa.errors`; nothing half-written is left behind.
    """
    if isinstance(job, Job):
        job = in_memory(job)
    loaded = job if isinstance(job, LoadedJob) else load_framed(job)
    shots = [each for each in inputs(loaded) if each.role == "shots"]
    with Beside(_processes(loaded.job.outputs.every, processes, shots) if write else 1) as beside:
        beside.will_judge()
        return run_beside(loaded, beside, write=write, progress=progress)


def run_beside(loaded: LoadedJob, beside: Beside, *, write: bool = True, progress: Progress = silent) -> Results:
    """Run a job, with processes that began already; see `run`."""
    outputs = loaded.job.outputs
    folder = loaded.resolve(outputs.folder)
    if write:
        beside.will_write(outputs.every)
        finish(folder)  # item numbers go on from its record: it must be the one of the files beside it
    all_words()
    intake = take_in(loaded, progress=progress)
    results = judge(loaded, intake, earlier=_earlier(loaded), beside=beside, progress=progress)
    if write:
        deliver(results, folder, outputs.every, originals=originals(loaded), beside=beside, progress=progress)
    return results


def _processes(outputs: Sequence[Output], wanted: int | None, shots: Sequence[Input]) -> int:
    if wanted is not None:
        return wanted
    return as_many_as_pay([each.path for each in shots]) if len(outputs) > 1 else 1


def judge(
    loaded: LoadedJob,
    intake: Intake,
    *,
    earlier: Path | None = None,
    beside: Beside | None = None,
    progress: Progress = silent,
) -> Results:
    """Run the steps of a job over what was read; numbers of items go on from those of the folder `earlier`."""
    steps = default_steps(loaded.job.steps, loaded.job.outputs.every)
    read = intake.layers if earlier is None else with_earlier_items(intake.layers, earlier)
    read = with_decisions(read, loaded.path)
    done = plan(steps, read.available())
    layers = without_decisions(without_earlier_items((beside or Beside()).judge(read, steps, progress=progress)))
    layers = with_notes(layers, [*job_notes(intake, layers, done), *rule_kinds(loaded.job, layers)])
    if not loaded.job.outputs.personal:
        layers = discreet(with_notes(layers, contacts_left_out(layers)))
    title = _title(loaded, layers)
    photos = take_photos(loaded, layers["shots"])
    record = make_record(loaded, intake, done, photos) | {"items": registered(layers)} | register_facts(loaded.path)
    results = Results(
        title=title,
        layers=layers,
        summary=summarise(title, layers) | {"rows_left_out": len(intake.left_out)},
        record=with_edits(with_run(record, earlier), loaded.job.edits, earlier, layers["shots"]),
        notes=note_lines(layers["notes"], layers.frame.unit.name),
        background=intake.background,
        photos=photos,
    )
    return _with_round(results, loaded)


def _earlier(loaded: LoadedJob) -> Path:
    """Folder whose numbers of items go on: the job's own, or that of the round before where there is none yet."""
    own, previous = loaded.resolve(loaded.job.outputs.folder), loaded.job.job.previous
    return own if previous is None or (own / RECORD).is_file() else loaded.resolve(previous)


def _with_round(results: Results, loaded: LoadedJob) -> Results:
    """Results whose summary says what has changed since the round that the job names as the one before."""
    previous = loaded.job.job.previous
    if previous is None:
        return results
    folder = loaded.resolve(previous).resolve()
    told = plugins.load("rounds", "since")(results, folder)
    name = f"{folder.parent.name}/{folder.name}"  # no path of this computer
    return replace(results, summary={**results.summary, "since": {"previous": name, **told}})


def _title(loaded: LoadedJob, layers: Layers) -> Title:
    head, review = loaded.job.job, loaded.job.review
    newest = layers["shots"]["time"].max()
    date = head.date.isoformat() if head.date else (newest.date().isoformat() if newest == newest else "")
    return Title(
        name=head.name,
        revision=head.revision,
        date=date,
        client=head.client,
        reviewed_by=review.by if review else "",
        reviewed_on=review.on.isoformat() if review else "",
    )
