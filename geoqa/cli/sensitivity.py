"""`geoqa sensitivity`."""

from pathlib import Path

import click

LISTED = 8


@click.command("sensitivity")
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--rod", default="0.02 ft", show_default=True, help="By which the rod may differ from what was entered.")
@click.option("--geoid", default="0.03 ft", show_default=True, help="By which the geoid separation may be off.")
@click.option("--all", "everything", is_flag=True, help="List every verdict that flips.")
def command(job: Path, rod: str, geoid: str, everything: bool) -> None:
    """Judge JOB again with a longer and shorter rod, a shifted geoid, without each mark, and in the other foot.

    Says which verdicts flip; nothing is written.
    """
    from geoqa.cli.terminal import plain
    from geoqa.contract.checks import check_named
    from geoqa.job.progress_bar import bar
    from geoqa.job.sensitivity import sensitivity
    from geoqa.model import words
    from geoqa.model.quantity import Length

    with bar() as shown:
        changes, flips = sensitivity(job, rod=Length.parse(rod), geoid=Length.parse(geoid), progress=shown)
    for row in changes.to_dict("records"):
        to = {"out": row["to_OUT"], "in": row["to_IN"], "undecided": row["to_UNDECIDED"]}
        to |= {"not judged": row["to_NO_DATA"], "no longer found": row["gone"]}
        said = ", ".join(f"{count} {word}" for word, count in to.items() if count)
        verdicts = "1 verdict flips" if row["flips"] == 1 else f"{row['flips']} verdicts flip"
        click.echo(plain(f"{row['change']}: {verdicts}{f' ({said})' if said else ''}"))
        mine = flips[flips["change"] == row["change"]]
        for each in mine.head(len(mine) if everything else LISTED).to_dict("records"):
            deviations = " → ".join(words.number(each[f"deviation_{when}"], 3) for when in ("before", "after"))
            line = f"    {check_named(each['check']).title}: {each['label']}, {each['before']} → {each['after']}"
            click.echo(plain(f"{line}  ({deviations})"))
        if not everything and len(mine) > LISTED:
            click.echo(f"    and {len(mine) - LISTED} more; --all lists them")
