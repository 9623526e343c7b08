"""`geoqa day`."""

import os
import sys
from pathlib import Path

import click

from geoqa.cli.ending import FINDINGS

_FILE = click.Path(path_type=Path, exists=True, dir_okay=False)


@click.command("day")
@click.argument("shots", type=_FILE, nargs=-1, required=True)
@click.option("--frame", help='Coordinate system of the shots, e.g. "EPSG:6547".')
@click.option(
    "--columns", help='Columns in file order, where a file has no header, e.g. "shot,northing,easting,elevation,code".'
)
@click.option(
    "--line",
    "lines",
    multiple=True,
    metavar="LINE",
    help="""A line of [[shots]] as a message names it, e.g. 'time_zone = "America/Chicago"'; may be repeated. With
    several files, "day2.csv: LINE" is for that one; "marks.csv: LINE" is a line of [control].""",
)
@click.option("--control", type=_FILE, help="Control marks and their published values.")
@click.option("--codes", type=_FILE, help="Code list.")
@click.option("--design", type=_FILE, help="Design lines and points.")
@click.option("--screening", type=_FILE, help="Screening rules; common practice without.")
@click.option("--policy", type=_FILE, help="Rules on checks on control; common practice without.")
@click.option("--out", type=click.Path(path_type=Path), help="Folder of the page; SHOTS-day beside the file without.")
def command(
    shots: tuple[Path, ...],
    frame: str | None,
    columns: str | None,
    lines: tuple[str, ...],
    control: Path | None,
    codes: Path | None,
    design: Path | None,
    screening: Path | None,
    policy: Path | None,
    out: Path | None,
) -> None:
    """Say what to re-shoot before leaving, from the day's file or files of SHOTS; works on a part of a day.

    Each file is a session of its own, unless its rows name theirs or --line 'session = "…"' does.

    Writes day.html, which reads well on a phone. Exits 1 if something is to be done before leaving.
    """
    from geoqa.cli.plain import plain
    from geoqa.contract.file_sentences import not_read
    from geoqa.job.day import DayFiles, day, stated
    from geoqa.job.day_of_job import not_of_a_job
    from geoqa.model.vocabulary import NOTHING, URGENCY
    from geoqa.model.words import many

    if jobs := [path for path in shots if path.suffix.lower() == ".toml"]:
        raise click.UsageError(not_of_a_job(jobs[0]))
    if columns is not None:
        lines = (*lines, stated(tuple(each.strip() for each in columns.split(","))))
    files = DayFiles(
        shots=shots,
        lines=lines,
        frame=frame,
        control=control,
        codes=codes,
        design=design,
        screening=screening,
        check_policy=policy,
    )
    folder = out or shots[0].with_name(f"{shots[0].stem}-day")
    results = day(files, folder=folder)
    items = results.layers["day_items"]
    said = f"{many(results.summary['shots'], 'shot')}, {many(len(items), 'thing')} noticed"
    unread = not_read(results.layers)
    click.echo(f"{plain(results.title.name)}: {said}{f'; {plain(unread)}' if unread else ''}")
    if not len(items):
        click.echo(NOTHING)
    for urgency, heading in URGENCY.items():
        mine = items[items["urgency"] == urgency]
        if len(mine):
            click.echo(click.style(f"\n{heading}:", bold=True))
        for row in mine.to_dict("records"):
            where = f" ({plain(row['where'])})" if row["where"] else ""
            click.echo(f"  {row['item']:>3}. {plain(row['title'])}{where}: {plain(row['names'] or '-')}")
            click.echo(f"       {plain(row['do'])}")
    click.echo(f"\nOpen {os.path.relpath(folder / 'day.html')}")
    sys.exit(FINDINGS if results.summary["urgent"] else 0)
