"""`geoqa init`."""

import os
from pathlib import Path

import click


@click.command("init")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False, exists=True), default=".")
@click.option("--frame", help='Coordinate system of the job, e.g. "EPSG:6547".')
@click.option("--name", help="Name of the project.")
@click.option("--force", is_flag=True, help="Replace a job.toml that is there.")
def command(folder: Path, frame: str | None, name: str | None, force: bool) -> None:
    """Draft FOLDER/job.toml from the files found in FOLDER; every guess is a comment with its evidence."""
    from geoqa.job.begin import begin

    path = begin(folder, frame=frame, name=name, force=force)
    shown = os.path.relpath(path)
    typed = f'"{shown}"' if " " in shown else shown
    click.echo(f"Wrote {shown}. Read it, fill in what is marked REQUIRED, then: geoqa check {typed}")
