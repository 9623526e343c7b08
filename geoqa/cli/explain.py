"""`geoqa explain`."""

import click


@click.command("explain")
@click.argument("word")
def command(word: str) -> None:
    """Say in plain words what WORD means.

    Of a check: what is compared, how it is judged, and what it cannot show. Any other word that geoqa prints
    is explained too: a verdict, a reason, a flag, a note, a cause, a rule, a column, a step.
    """
    from difflib import get_close_matches

    from geoqa.contract.checks import every_check
    from geoqa.contract.meanings import every_word, explain_any

    if (told := explain_any(word)) is None:
        close = get_close_matches(word, every_word(), 1)
        guess = f" Did you mean {close[0]}?" if close else ""
        raise click.UsageError(f"No check and no other word named '{word}'.{guess} Checks: {', '.join(every_check())}.")
    click.echo(told)
