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

    Counts the findings that `geoqa run` reports. Says of each change first whether what is out of tolerance stays so,
    and what would be out besides; then what becomes of the others. Nothing is written.
    """
    from geoqa.cli.plain import plain
    from geoqa.job.progress_bar import bar
    from geoqa.job.sensitivity import sensitivity
    from geoqa.model.quantity import Length

    with bar() as shown:
        changes, flips = sensitivity(job, rod=Length.parse(rod), geoid=Length.parse(geoid), progress=shown)
    for nth, row in enumerate(changes.to_dict("records")):
        if not nth:
            click.echo(_as_it_is(row))
        click.echo(plain(f"{row['change']}: {_answer(row)}"))
        if others := _others(row):
            click.echo(f"    {others}")
        mine = flips[flips["change"] == row["change"]]
        first = (mine["before"] == "OUT") | (mine["after"] == "OUT")
        shown = mine[first] if not everything else mine.iloc[(~first).argsort(kind="stable")]
        for each in shown.head(len(mine) if everything else LISTED).to_dict("records"):
            click.echo(plain(_line(each)))
        if len(shown) > LISTED and not everything:
            click.echo(f"    and {len(shown) - LISTED} more of these; --all lists them")


def _as_it_is(row: dict[Any, Any]) -> str:
    """What is counted: findings as a run reports them."""
    from geoqa.model import words
    from geoqa.model.signs import SIGNS

    counts = ", ".join(f"{row[f'as_{verdict}']} {sign.text}" for verdict, sign in SIGNS.items())
    return f"As it is, {words.many(row['total'], 'finding')}, counted as a run counts: {counts}."


def _answer(row: dict[Any, Any]) -> str:
    """Whether what is out of tolerance stays so, and what would be out besides."""
    if not row["as_OUT"]:
        stays = "nothing is out of tolerance as it is"
    elif not row["no_longer_out"]:
        stays = f"what is out of tolerance stays so ({row['stay']})"
    else:
        stays = f"of {row['stay'] + row['no_longer_out']} out of tolerance {row['no_longer_out']} would not be"
    more = row["more_out"] + row["new_out"]
    fresh = f" ({row['new_out']} of them not there now)" if row["new_out"] else ""
    return f"{stays}; {more or 'no'} more would be out{fresh}"


def _others(row: dict[Any, Any]) -> str:
    """What becomes of all others, one count after the other, that add up; nothing where they all stay."""
    parts = [
        (row["between"], "change between within and undecided"),
        (row["unjudged"], "would not be judged"),
        (row["judged"], "not judged now would be"),
        (row["gone"], "would not be there"),
        (row["own"], "on this mark go with it" + (f" ({row['own_out']} of them out)" if row["own_out"] else "")),
    ]
    told = [f"{count} {what}" for count, what in parts if count]
    fresh = row["new"] - row["new_out"]
    if not told and not fresh:
        return ""
    stay = row["same"] - row["stay"]
    others = row["total"] - row["stay"] - row["no_longer_out"] - row["more_out"]
    said = f"of the other {others}, {', '.join([*told, f'{stay} stay as they are'])}"
    return f"{said}; {fresh} not there now would be" if fresh else said


def _line(flip: dict[Any, Any]) -> str:
    from geoqa.contract.checks import check_named
    from geoqa.model import words
    from geoqa.model.signs import SIGNS

    check = check_named(flip["check"])
    numbers = [flip[f"deviation_{when}"] for when in ("before", "after")]
    known = [words.number(each, 3) for each in numbers if each == each]
    told = f"  ({' → '.join(known)}{' as it is' if numbers[0] == numbers[0] and len(known) == 1 else ''})"
    before, after = (SIGNS[word].short if word in SIGNS else word for word in (flip["before"], flip["after"]))
    # a count is no deviation
    return (
        f"    {check.title}: {flip['label']}, {before} → {after}{told if known and check.quantity != 'count' else ''}"
    )
