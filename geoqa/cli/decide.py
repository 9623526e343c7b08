"""`geoqa decide`."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoqa.cli.ending import FINDINGS, REFUSED

if TYPE_CHECKING:
    from geoqa.review.decide import Decided


@click.command("decide")
@click.argument("job", type=click.Path(path_type=Path))
@click.argument("files", metavar="FILE…", nargs=-1, type=click.Path(path_type=Path))
@click.option("--take-back", metavar="ITEM", help="Undo what was decided on an item.")
@click.option("--by", metavar="NAME", default="", help="With --take-back: only what this reviewer said.")
def command(job: Path, files: tuple[Path, ...], take_back: str | None, by: str) -> None:
    """Apply files of decisions, as reviewers saved them from the map, to the job file JOB; without FILE say what holds.

    What was decided is kept beside the job and shown by the next run. Where reviewers disagree none of them holds. A
    file that was changed, or is of another job, and a decision on what has changed since, are refused with the reason.

    Exits 0 if all holds, 1 if reviewers disagree, 3 if something was refused.
    """
    from geoqa.cli.plain import plain

    if take_back is not None and files:
        raise click.UsageError("--take-back takes no FILE: take back first, then apply.")
    if by and take_back is None:
        raise click.UsageError("--by goes with --take-back ITEM.")
    if take_back is not None:
        from geoqa.review import decide as deciding

        gone = deciding.take_back(job, take_back, by=by)
        for each in gone:
            click.echo(plain(f"Taken back: item {each.item}, {each.decision}, by {each.by} on {each.when[:10]}"))
        click.echo(f"Run the job again to see it: geoqa run {job}")
        return
    from geoqa.review.decide import decide

    found = decide(job, files)
    click.echo("\n".join(plain(line) for line in lines(found, str(job))))
    sys.exit(REFUSED if found.refused else FINDINGS if found.conflicts else 0)


def lines(found: "Decided", job: str) -> list[str]:
    """What a call did, what was refused first, then where the job stands."""
    from geoqa.model.words import many

    told = []
    if found.refused:
        told.append(f"Refused: {many(len(found.refused), 'matter')}")
        told += [f"  {each.file}{f', item {each.item}' if each.item else ''}: {each.why}" for each in found.refused]
    if found.conflicts:
        told.append(f"Reviewers disagree on {many(len(found.conflicts), 'item')}; none of these holds:")
        for mine in found.conflicts:
            told.append(f"  item {mine[0].item}: {mine[0].told}")
            told += [f"    {each.by}, {each.when[:10]}: {each.decision}{_note(each.note)}" for each in mine]
        told.append(f"  Let them agree, or take one back: geoqa decide {job} --take-back ITEM --by NAME")
    if found.applied or found.again:
        again = f" ({found.again} more applied before)" if found.again else ""
        told.append(f"Applied: {many(len(found.applied), 'decision')}{again}")
    told.append(f"Holding: {many(len(found.standing), 'decision')}" if found.standing else "Nothing is decided.")
    told += [f"  item {each.item}: {each.decision}{_note(each.note)} – {each.told}" for each in found.standing]
    told += [f"Changed design written: {name}; the job reads it from now on." for name in found.changed]
    told += [
        f"Item {item} is a field change without coordinates: draw it, and add to the job [[design]] with its file, "
        'field_change = "…" and dated = YYYY-MM-DD.'
        for item in found.lacking
    ]
    if found.applied:
        told.append(f"Run the job again to see it: geoqa run {job}")
    return told


def _note(note: str) -> str:
    return f" ({' '.join(note.split())})" if note.strip() else ""
