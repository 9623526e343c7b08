"""`geoqa check`."""

import sys
from pathlib import Path

import click

from geoqa.cli.ending import FINDINGS, REFUSED


@click.command("check")
@click.argument("job", type=click.Path(path_type=Path))
def command(job: Path) -> None:
    """Check the job file JOB, the head of each file it names, and where they lie; nothing is judged or written.

    Exits 2 if the job file has problems, 3 if a file has, 1 if a file has rows that are not read.
    """
    from geoqa.cli.plain import plain
    from geoqa.job.check import check

    checked = check(job)
    if not checked.problems and not checked.of_work:
        click.echo("nothing of the work will be compared with design: what is missing stands below.")
    for remark in checked.remarks:
        click.echo(f"  {remark}")
    for doubt in checked.doubts:
        click.echo(f"  ! {doubt}")
    if checked.unread:
        click.echo(f"  ! {plain(checked.unread)}")
    for problem in checked.problems:
        click.echo(f"geoqa: {problem}", err=True)
    if checked.problems:
        sys.exit(REFUSED)
    click.echo("What the run will do:")
    for line in checked.run:
        click.echo(f"  {line}")
    doubted = " Its frame is in doubt: see above." if checked.doubts else ""
    doubted += f" {plain(checked.unread)}." if checked.unread else ""
    if not checked.of_work and checked.compares:
        click.echo(f"{job.name}: can be read, and nothing of the work will be compared: see above.{doubted}")
    elif checked.compares and checked.unread:
        click.echo(f"{job.name}: the job file is in order; the files it names are not.{doubted}")
    elif checked.compares:
        click.echo(f"{job.name}: the job file and the head of every file it names are in order.{doubted}")
    else:
        click.echo(f"{job.name}: can be read, and nothing will be compared: see above what is missing.{doubted}")
    if checked.unread:
        sys.exit(FINDINGS)
