"""`geoqa batch`."""

import os
import sys
from pathlib import Path
from typing import Any

import click

from geoqa.cli.ending import REFUSED, code_of, code_of_counts


@click.command("batch")
@click.argument("jobs", type=click.Path(path_type=Path), nargs=-1, required=True)
@click.option("--out", type=click.Path(path_type=Path), default=Path("batch"), show_default=True,
              help="Folder of the season's page, its tables and the parts of the jobs.")  # fmt: skip
@click.option("--workers", type=click.IntRange(1), help="Processes of this machine; one a processor without.")
@click.option("--scheduler", metavar="ADDRESS", default="", help='Dask scheduler that runs already, "tcp://host:8786".')
@click.option("--crews", is_flag=True, help="Tell what each crew achieved, by crew = under [[shots]].")
@click.option("--allow-undecided", is_flag=True, help="Exit 0 although something is undecided.")
@click.option("--exit-zero", is_flag=True, help="Exit 0 whatever was found; not where a job was refused.")
@click.option("--quiet", is_flag=True, help="Print one line.")
def command(
    jobs: tuple[Path, ...],
    out: Path,
    workers: int | None,
    scheduler: str,
    crews: bool,
    allow_undecided: bool,
    exit_zero: bool,
    quiet: bool,
) -> None:
    """Run many jobs at once, and say what they tell together: JOBS are job files, or folders that hold them.

    Each job is run as by `geoqa run`, into its own output folder. One that is refused is told, and the others go on.
    Run again, it runs only jobs that are not done, or of which a file has changed. Exits as `geoqa run` does, with the
    highest code of any job.
    """
    from geoqa.batch.cluster import Engine
    from geoqa.batch.run import run_batch
    from geoqa.cli.plain import plain

    def told(row: dict[str, Any], done: int, of: int) -> None:
        if not quiet:
            click.echo(plain(f"{done:>4} of {of}  {row['job']}: {_became(row)}"))

    made = run_batch(jobs, out, engine=Engine(workers=workers, scheduler=scheduler), crews=crews, told=told)
    rows = made.season.jobs.to_dict("records")
    refused = [row for row in rows if row["state"] == "refused"]
    if not quiet:
        click.echo(f"\n{plain(made.headline)}")
        for row in refused:
            click.echo(plain(f"refused: {row['job']}: {row['trouble']}"), err=True)
    click.echo(f"{len(rows) - len(refused)} judged, {len(refused)} refused; open {os.path.relpath(made.files[-1])}")
    codes = [code_of(row["kind_of_trouble"]) or REFUSED for row in refused]
    if not exit_zero:
        codes += [
            code_of_counts(row, row["rows_left_out"], allow_undecided) for row in rows if row["state"] != "refused"
        ]
    sys.exit(max(codes, default=0))


def _became(row: dict[str, Any]) -> str:
    if row["state"] == "refused":
        return "refused"
    counts = f"{row['OUT']} out, {row['UNDECIDED']} undecided, {row['NO_DATA']} not judged, {row['IN']} within"
    return f"{counts} (done before)" if row["state"] == "kept" else counts
