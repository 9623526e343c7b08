"""`geoqa parts`."""

import os
import sys
from pathlib import Path

import click

from geoqa.cli.ending import code_of_counts
from geoqa.model.words import many


@click.command("parts")
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), default=Path("parts"), show_default=True,
              help="Folder of the parts, of what the whole says, and of the summary.")  # fmt: skip
@click.option("--shots", type=click.IntRange(1), default=250_000, show_default=True, help="Shots of a part.")
@click.option("--at-once", type=click.IntRange(1),
              help="Shots up to which steps that look at all of them are run; as memory allows without.")  # fmt: skip
@click.option("--workers", type=click.IntRange(1), help="Processes of this machine; one a processor without.")
@click.option("--scheduler", metavar="ADDRESS", default="", help='Dask scheduler that runs already, "tcp://host:8786".')
@click.option("--allow-undecided", is_flag=True, help="Exit 0 although something is undecided.")
@click.option("--exit-zero", is_flag=True, help="Exit 0 whatever was found.")
@click.option("--quiet", is_flag=True, help="Print one line.")
def command(
    job: Path,
    out: Path,
    shots: int,
    at_once: int | None,
    workers: int | None,
    scheduler: str,
    allow_undecided: bool,
    exit_zero: bool,
    quiet: bool,
) -> None:
    """Judge one very large JOB in parts, with the findings of `geoqa run`.

    It is cut between files of shots that share no session, no string and no design line and lie apart. Run again, it
    goes on where it stopped. Exits as `geoqa run` does.
    """
    from geoqa.batch.cluster import Engine
    from geoqa.batch.cut.run import run_in_parts
    from geoqa.model.signs import SIGNS

    def told(stage: str, done: int, of: int) -> None:
        if not quiet:
            click.echo(f"{done:>4} of {of}  {stage}")

    def say(sentence: str) -> None:
        if not quiet:
            click.echo(sentence)

    engine = Engine(workers=workers, scheduler=scheduler)
    made = run_in_parts(job, out, most=shots, at_once=at_once, engine=engine, told=told, said=say)
    counts = {sign: made.counts.get(sign, 0) for sign in SIGNS}
    said = (
        f"{counts['OUT']} out, {counts['UNDECIDED']} undecided, {counts['NO_DATA']} not judged, {counts['IN']} within"
    )
    click.echo(
        f"{many(len(made.parts), 'part')}, {many(sum(made.shots), 'shot')}: {said}; see {os.path.relpath(made.folder)}"
    )
    sys.exit(0 if exit_zero else code_of_counts(counts, made.left_out, allow_undecided))
