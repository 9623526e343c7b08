"""`geoqa sensitivity`."""

from pathlib import Path
from typing import Any

import click

LISTED = 8


@click.command("sensitivity")
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--rod", default="0.02 ft", show_default=True, help="By which the rod may differ from what was entered.")
@click.option("--geoid", default="0.03 ft", show_default=True, help="By which the geoid separation may be off.")
@click.option("--all", "everything", is_flag=True, help="List every verdict that flips.")
def command(job: Path, rod: str, geoid: str, everything: bool) -> None:
    """Judge JOB again with a longer and shorter rod, a shifted geoid, without each mark, and in the other foot.

    Says first whether what is out of tolerance stays so, and what would be out besides; nothing is written.
    """
    from geoqa.cli.terminal import plain
    from geoqa.job.progress_bar import bar
    from geoqa.job.sensitivity import sensitivity
    from geoqa.model.quantity import Length

    with bar() as shown:
        changes, flips = sensitivity(job, rod=Length.parse(rod), geoid=Length.parse(geoid), progress=shown)
    for row in changes.to_dict("records"):
        click.echo(plain(f"{row['change']}: {_answer(row)}"))
        mine = flips[flips["change"] == row["change"]]
        first = (mine["before"] == "OUT") | (mine["after"] == "OUT")
        shown = mine[first] if not everything else mine.iloc[(~first).argsort(kind="stable")]
        for each in shown.head(len(mine) if everything else LISTED).to_dict("records"):
            click.echo(plain(_line(each)))
        if len(shown) > LISTED and not everything:
            click.echo(f"    and {len(shown) - LISTED} more of these; --all lists them")


def _answer(row: dict[Any, Any]) -> str:
    """Whether what is out of tolerance stays so; what would be out besides; how many others change."""
    if not row["out"]:
        stays = "nothing is out of tolerance as it is"
    elif row["stay"] == row["out"]:
        stays = f"what is out of tolerance stays so ({row['out']})"
    else:
        stays = f"of {row['out']} out of tolerance {row['out'] - row['stay']} would not be"
    more = f"{row['to_OUT']} more would be out" if row["to_OUT"] else "no more would be out"
    rest = row["flips"] - row["between"] - row["to_OUT"] - (row["out"] - row["stay"])
    others = f"; {row['between']} change between within and undecided" if row["between"] else ""
    others += f"; {rest} others are judged or found in one case only" if rest else ""
    return f"{stays}; {more}{others}"


def _line(flip: dict[Any, Any]) -> str:
    from geoqa.contract.checks import check_named
    from geoqa.model import words
    from geoqa.model.signs import SIGNS

    deviations = " → ".join(words.number(flip[f"deviation_{when}"], 3) for when in ("before", "after"))
    before, after = (SIGNS[word].short if word in SIGNS else word for word in (flip["before"], flip["after"]))
    return f"    {check_named(flip['check']).title}: {flip['label']}, {before} → {after}  ({deviations})"
