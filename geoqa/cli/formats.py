"""`geoqa formats`."""

import click


@click.command("formats")
def command() -> None:
    """List what is read and written, with what each format keeps and what it loses."""
    from geoqa.contract.formats import every_format

    for each in every_format():
        click.echo(f"{each.done}: {', '.join(each.names)} – {each.title} ({each.package})")
        click.echo(f"  keeps: {each.keeps}")
        click.echo(f"  loses: {each.loses}")
