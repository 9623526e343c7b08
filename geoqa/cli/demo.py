"""`geoqa demo`."""

import os
from pathlib import Path

import click

from geoqa.cli.side_by_side import processes_option


@click.command("demo")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Another seed, other noise.")
@click.option("--zone", default="EPSG:6547", show_default=True, help="EPSG:6547, EPSG:6559 or EPSG:6405.")
@processes_option
@click.option("--run", "run_it", is_flag=True, help="Run the job too; exits 0 although defects are planted.")
def command(folder: Path, seed: int, zone: str, processes: int | None, run_it: bool) -> None:
    """Write a simulated job with planted defects into FOLDER, with the truth beside it."""
    if not run_it:
        click.echo(f"Next: geoqa run {os.path.relpath(_told(_made(folder, seed, zone)))}")
        return
    from geoqa.job.beside.processes import Beside, as_many_as_help

    with Beside(processes or as_many_as_help()) as beside:
        # made by another process, while this one imports what runs it
        made = beside.call(_made, folder.absolute(), seed, zone)
        beside.will_judge()
        from geoqa.cli.terminal import summary
        from geoqa.job.document.file import Outputs
        from geoqa.job.document.load import load
        from geoqa.job.held_text import text_held_for
        from geoqa.job.progress_bar import bar
        from geoqa.job.ready import ready
        from geoqa.job.run import run_beside

        ready(Outputs().every)
        loaded = load(_told(made()))
        with bar() as shown, text_held_for(loaded):
            results = run_beside(loaded, beside, progress=shown)
    click.echo(summary(results, loaded.resolve(loaded.job.outputs.folder)))


def _made(folder: Path, seed: int, zone: str) -> Path:
    from geoqa import simulate

    return simulate.write(simulate.make(seed=seed, zone=zone), folder)


def _told(path: Path) -> Path:
    click.echo(f"Wrote {os.path.relpath(path)}: invented town, invented shots, planted defects, truth in truth.json.")
    return path
