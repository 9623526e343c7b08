"""`geoqa schema`."""

import click


@click.command("schema")
def command() -> None:
    """Print the JSON Schema of job files; an editor uses it to complete and check them."""
    from geoqa.job.document.schema import schema_text

    click.echo(schema_text(), nl=False)
