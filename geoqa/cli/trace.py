"""`geoqa trace`."""

from pathlib import Path

import click


@click.command("trace")
@click.argument("job", type=click.Path(path_type=Path))
@click.argument("name", metavar="FINDING")
def command(job: Path, name: str) -> None:
    """Say where a number comes from: every shot behind FINDING with its file and line, and what it was held against.

    FINDING is the number of an item, an id from findings.csv or its beginning, the name of a shot, or what findings are
    about: a design line, a structure, a mark. JOB is run anew; nothing is written.
    """
    from geoqa.cli.plain import plain
    from geoqa.job.progress_bar import bar
    from geoqa.job.run import run
    from geoqa.review.trace import trace
    from geoqa.review.trace_lines import trace_lines

    with bar() as shown:
        results = run(job, write=False, progress=shown)
    for line in trace_lines(results, trace(results, name)):
        click.echo(plain(line))
