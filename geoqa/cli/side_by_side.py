"""`--processes` of the commands that run a job."""

import click

processes_option = click.option(
    "--processes",
    type=click.IntRange(1),
    envvar="GEOQA_PROCESSES",
    show_envvar=True,
    help="Processes that judge and write side by side; as many as pay.",
)
