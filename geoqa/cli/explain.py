"""`geoqa explain`."""

import click


@click.command("explain")
@click.argument("check")
def command(check: str) -> None:
    """Say in plain words how CHECK works: what is compared, how it is judged, what it cannot show.

    The name of a flag is explained too.
    """
    from difflib import get_close_matches

    from geoqa.contract.checks import every_check
    from geoqa.contract.explain import explain
    from geoqa.contract.words import explain_word

    if check not in every_check():
        if (told := explain_word(check)) is not None:
            click.echo(told)
            return
        close = get_close_matches(check, every_check(), 1)
        guess = f" Did you mean {close[0]}?" if close else ""
        raise click.UsageError(f"No check named '{check}'.{guess} Checks: {', '.join(every_check())}.")
    click.echo(explain(check))
