"""`geoqa capability`."""

from pathlib import Path

import click

KEY = """\
  ● 2 sigma is at most a third of the tolerance, the usual rule for choosing a method
  ◆ can be proven, but 2 sigma is more than a third of the tolerance
  ▲ can never be proven in by one shot
  What lies between in and out cannot be decided by one shot; a run of neighbours that agree proves more."""

ASSUMED = """\
  Typical values are assumed, for the job declares none in [uncertainty.default] and no log is read here; a run takes
  what the log reports, where it does, and holds it against the data."""

TOGETHER = """
What a number of several shots can prove: shots of one session, by their own part alone, where nothing else is said"""
SEVERAL = """\
  Their uncertainty hangs on where the shots lie, so it stands beside each finding of a run: docs/finished_work.md."""


@click.command("capability")
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--tilt", type=float, default=0.0, show_default=True, help="Lean of the rod that is expected, degrees.")
def command(job: Path, tilt: float) -> None:
    """Say before field work what can be proven under each tolerance of the job file JOB, by one shot or by several.

    No shot is read. Exits 1 if some tolerance can never be proven so.
    """
    import sys

    from geoqa.cli.capability_lines import line_of_one, line_of_several, not_covered, origins
    from geoqa.cli.ending import FINDINGS
    from geoqa.cli.plain import plain
    from geoqa.job.capability import capability

    layers = capability(job, tilt=tilt)
    unit, rows = layers.frame.unit.name, layers["capability"]
    lean = "plumb" if tilt == 0 else f"leaning {tilt:g}°"
    click.echo(f"What one shot can prove, rod {lean}; {layers['limits']['rule'].iloc[0]} rule")
    for row in rows.to_dict("records"):
        click.echo(plain(line_of_one(row, unit)))
    if not len(rows):
        click.echo("  no limit of this job is held against one shot alone")
    click.echo(KEY)
    together = layers["capability_together"] if "capability_together" in layers else rows.iloc[:0]
    if len(together):
        click.echo(TOGETHER)
    for row in together.to_dict("records"):
        click.echo(plain(line_of_several(row, unit)))
    if several := not_covered(layers["limits"], set(zip(together["kind"], together["check"], strict=True))):
        click.echo(plain(f"Not covered, as each is made of several shots: {several}."))
        click.echo(SEVERAL)
    click.echo("\nWhere the uncertainty comes from (1 sigma):")
    for line in origins(layers["budget"], unit):
        click.echo(plain(f"  {line}"))
    if layers["budget"]["source"].str.startswith("typical").any():
        click.echo(ASSUMED)
    sys.exit(0 if rows["provable"].all() and together["provable"].all() else FINDINGS)
