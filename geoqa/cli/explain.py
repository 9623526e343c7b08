"""`geoqa explain`."""

import click


@click.command("explain")
@click.argument("check")
def command(check: str) -> None:
    """Say in plain words how CHECK works: what is compared, how it is judged, what it cannot show."""
    from difflib import get_close_matches

    from geoqa.model.explain import EXPLANATIONS, explain

    if check not in EXPLANATIONS:
        close = get_close_matches(check, EXPLANATIONS, 1)
        guess = f" Did you mean {close[0]}?" if close else ""
        raise click.UsageError(f"No check named '{check}'.{guess} Checks: {', '.join(EXPLANATIONS)}.")
    click.echo(explain(check))
