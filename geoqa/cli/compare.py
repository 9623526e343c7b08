"""`geoqa compare`."""

import os
import sys
from pathlib import Path

import click

from geoqa.cli.ending import FINDINGS


@click.command("compare")
@click.argument("folders", metavar="OLD NEW…", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder of table and page; NEW-changes beside NEW without."
)
@click.option("--quiet", is_flag=True, help="Print one line.")
def command(folders: tuple[Path, ...], out: Path | None, quiet: bool) -> None:
    """Say what changed between output folders of runs, oldest first: closed, reopened, new, still open, untouched.

    An item is closed only where it was judged again and is within its limits; one that this round does not measure
    stands as it was. With three folders or more each item has its history. Writes round.html, round.csv and round.json.

    Exits 0 if nothing is open after the last round, else 1.
    """
    from geoqa.cli.plain import plain
    from geoqa.review.round_files import PAGE, write
    from geoqa.review.round_lines import headline, lines
    from geoqa.review.rounds import OPEN, compare

    if len(folders) < 2:
        raise click.UsageError("compare asks for two output folders or more, oldest first: geoqa compare OLD NEW")
    found = compare(folders)
    place = out or folders[-1].resolve().with_name(f"{folders[-1].resolve().name}-changes")
    write(found, place)
    for line in [headline(found)] if quiet else lines(found):
        click.echo(plain(line))
    click.echo(f"\nOpen {os.path.relpath(place / PAGE)}")
    sys.exit(FINDINGS if any(found.of(state) for state in OPEN) else 0)
