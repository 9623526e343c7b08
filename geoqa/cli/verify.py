"""`geoqa verify`."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from geoqa.cli.ending import FINDINGS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from geoqa.review.verify import Verified


@click.command("verify")
@click.argument("folder", metavar="OUT", type=click.Path(path_type=Path))
@click.option("--job", type=click.Path(path_type=Path), help="Job file, where it is not in a folder above OUT.")
def command(folder: Path, job: Path | None) -> None:
    """Say whether the output folder OUT is what its job makes: identical, or where not.

    Compares every file with its hash in the record, the inputs too, then runs the job once more into a temporary
    folder and compares that. Nothing in OUT is written to. Exits 0 if all is identical, else 1, also where the folder
    of the round before is gone and what changed since then could not be checked.
    """
    from geoqa.job.progress_bar import bar
    from geoqa.review.verify import verify

    with bar() as shown:
        found = verify(folder, job=job, progress=shown)
    click.echo("\n".join(lines(found, folder.name)))
    sys.exit(0 if found.identical and not found.unchecked else FINDINGS)


def lines(found: "Verified", folder: str) -> list[str]:
    """What was found, the gravest first."""
    from geoqa.cli.plain import plain
    from geoqa.model import words

    if found.identical:
        head = "Identical as far as it could be checked" if found.unchecked else "Identical"
        told = [
            f"{head}: {words.many(found.compared, 'file')} of {folder} are what the record says, "
            "their inputs are unchanged, and the job makes the same bytes again."
        ]
    else:
        told = [f"Not identical: {folder} is not what its job makes now."]
    if found.unchecked:
        told.append(plain(f"Not checked: {found.unchecked}"))
    told += _listed("Changed after the run, in the output folder", found.outputs)
    told += _listed("Inputs that are not those of the run", found.inputs)
    told += _listed("Made otherwise when the job is run again", found.differing)
    if found.versions:
        told += [
            "Of another version than at the run" + ("" if found.identical else " (numbers may differ by it)") + ":"
        ]
        told += [f"  {name} {then} then, {now} now" for name, (then, now) in found.versions.items()]
    return told


def _listed(head: str, files: "Mapping[str, str]") -> list[str]:
    from geoqa.cli.plain import plain

    return [f"{head}:", *(plain(f"  {name}: {what}") for name, what in files.items())] if files else []
