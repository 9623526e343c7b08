"""`geoqa explain`."""

import click


@click.command("explain")
@click.argument("check")
def command(check: str) -> None:
    """Say in plain words how CHECK works: what is compared, how it is judged, what it cannot show."""
    from geoqa.model.explain import EXPLANATIONS, explain

    if check not in EXPLANATIONS:
        raise click.UsageError(f"No check named '{check}'. Checks: {', '.join(EXPLANATIONS)}.")
    click.echo(explain(check))
