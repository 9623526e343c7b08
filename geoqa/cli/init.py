"""`geoqa init`."""

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from geoqa.job.begin.questions import Question


@click.command("init")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False, exists=True), default=".")
@click.option("--frame", help='Coordinate system of the job, e.g. "EPSG:6547".')
@click.option("--name", help="Name of the project.")
@click.option("--force", is_flag=True, help="Replace a job.toml that is there.")
@click.option("--add", is_flag=True, help="Add what is new in FOLDER to the end of its job.toml, as comments.")
@click.option("--ask", is_flag=True, help="Ask what is REQUIRED here, before the file is written.")
def command(folder: Path, frame: str | None, name: str | None, force: bool, add: bool, ask: bool) -> None:
    """Draft FOLDER/job.toml from the files found in FOLDER; every proposal stands with its evidence.

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


def _asked(text: str, anew: Callable[[str], str]) -> str:
    """Ask every question of a draft on the terminal, the frame first: the rest is drafted in it.

    An empty answer leaves a question open; where the answers end, those that were given are kept.
    """
    from geoqa.job.begin.questions import FRAME, answered, questions

    of_frame = [question for question in questions(text) if question.key == FRAME]
    answers, ended = _answers(of_frame)
    for frame in answers.values():
        text = anew(frame)
    if not ended:
        answers, ended = _answers([question for question in questions(text) if question.key != FRAME])
        text = answered(text, answers)
    if ended:
        click.echo(
            "\nThe answers end here: those that were given stand in the draft, what is open is marked REQUIRED in it."
        )
    return text


def _answers(asked: "Sequence[Question]") -> "tuple[dict[Question, str], bool]":
    """What is answered, each asked again until it can stand, and whether the input ended before the questions."""
    from geoqa.job.begin.answers import refusal

    answers: dict[Question, str] = {}
    for question in asked:
        click.echo(question.why)
        while True:
            try:
                shown = bool(question.proposal)
                answer = click.prompt(question.asked, default=question.proposal, show_default=shown).strip()
            except click.Abort as stopped:
                if isinstance(stopped.__context__, KeyboardInterrupt):
                    raise
                return answers, True
            why_not = refusal(question, answer) if answer else ""
            if not why_not:
                break
            click.echo(f"  not taken: {why_not}")
        if answer:
            answers[question] = answer
    return answers, False
