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
    from geoqa import simulate
    from geoqa.job import load, run

    path = simulate.write(simulate.make(seed=seed, zone=zone), folder)
    click.echo(f"Wrote {os.path.relpath(path)}: invented town, invented shots, planted defects, truth in truth.json.")
    if not run_it:
        click.echo(f"Next: geoqa run {os.path.relpath(path)}")
        return
    from geoqa.cli.terminal import summary
    from geoqa.job.held_text import text_held_for
    from geoqa.job.progress_bar import bar

    loaded = load(path)
    with bar() as shown, text_held_for(loaded):
        results = run(loaded, processes=processes, progress=shown)
    click.echo(summary(results, loaded.resolve(loaded.job.outputs.folder)))
