"""`geoqa run`."""

import sys
from pathlib import Path

import click

from geoqa.cli.ending import code_of_counts
from geoqa.cli.side_by_side import processes_option


@click.command("run")
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--allow-undecided", is_flag=True, help="Exit 0 although something is undecided.")
@click.option("--exit-zero", is_flag=True, help="Exit 0 whatever was found.")
@processes_option
@click.option("--quiet", is_flag=True, help="Print one line.")
def command(job: Path, allow_undecided: bool, exit_zero: bool, processes: int | None, quiet: bool) -> None:
    """Run the job file JOB: judge its shots, write layers and pages.

    Exits 0 if nothing is out, undecided or missing, else 1; a job in which nothing could be judged, or in which
    a row could not be read, misses something.
    """
    from geoqa.cli.terminal import summary
    from geoqa.job.held_text import text_held_for
    from geoqa.job.inputs.unframed import load_framed
    from geoqa.job.placing import finish
    from geoqa.job.progress_bar import bar
    from geoqa.job.run import run

    loaded = load_framed(job)
    folder = loaded.resolve(loaded.job.outputs.folder)
    if finish(folder):
        click.echo(f"A run was stopped while its files went into {folder.name}; the rest is in place now.", err=True)
    with bar() as shown, text_held_for(loaded):
        results = run(loaded, processes=processes, progress=shown)
    click.echo(results.one_line() if quiet else summary(results, folder))
    code = code_of_counts(results.summary["reported"], results.summary["rows_left_out"], allow_undecided)
    sys.exit(0 if exit_zero else code)
