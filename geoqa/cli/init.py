"""`geoqa init`."""

import os
from pathlib import Path

import click


@click.command("init")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False, exists=True), default=".")
@click.option("--frame", help='Coordinate system of the job, e.g. "EPSG:6547".')
@click.option("--name", help="Name of the project.")
@click.option("--force", is_flag=True, help="Replace a job.toml that is there.")
@click.option("--add", is_flag=True, help="Add what is new in FOLDER to the end of its job.toml, as comments.")
@click.option("--ask", is_flag=True, help="Ask what is REQUIRED here, before the file is written.")
def command(folder: Path, frame: str | None, name: str | None, force: bool, add: bool, ask: bool) -> None:
    """Draft FOLDER/job.toml from the files found in FOLDER; every guess is a comment with its evidence.

    Where a job.toml is there already, it says what is new in the folder; with --add it adds that as comments.
    """
    from geoqa.job.begin.begin import begin

    begun = begin(folder, frame=frame, name=name, force=force, add=add, ask=_asked if ask else None)
    shown = os.path.relpath(begun.path)
    typed = f'"{shown}"' if " " in shown else shown
    for out in begun.left:
        click.echo(f"  left out: {out.shown}: {out.why}")
    if add:
        click.echo(f"Added {begun.added} lines to the end of {shown}." if begun.added else f"Nothing new for {shown}.")
        return
    if begun.codes is not None:
        click.echo(f"Wrote {os.path.relpath(begun.codes)}: the codes of the shots, with the kinds they may stand for.")
    click.echo(f"Wrote {shown}. Read it, fill in what is marked REQUIRED, then: geoqa check {typed}")


def _asked(text: str) -> str:
    """Ask every question of a draft on the terminal; an empty answer leaves it open."""
    from geoqa.job.begin.questions import answered, questions

    answers = {}
    for question in questions(text):
        click.echo(question.why)
        answer = click.prompt(question.asked, default=question.proposal, show_default=bool(question.proposal))
        if answer.strip():
            answers[question] = answer.strip()
    return answered(text, answers)
