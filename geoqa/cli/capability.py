"""`geoqa capability`."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    import pandas as pd

KEY = """\
  ● U at 95 % is at most a third of the tolerance, the usual rule for choosing a method
  ◆ can be proven, but U is more than a third of the tolerance
  ▲ can never be proven in by one shot
  What lies between in and out cannot be decided by one shot; a run of neighbours that agree proves more."""

SEVERAL = """\
  Their u hangs on where the shots lie, so it stands beside each finding of a run; docs/finished_work.md says how."""


@click.command("capability")
@click.argument("job", type=click.Path(path_type=Path))
@click.option("--tilt", type=float, default=0.0, show_default=True, help="Lean of the rod that is expected, degrees.")
def command(job: Path, tilt: float) -> None:
    """Say before field work what one shot can prove under each tolerance of the job file JOB.

    No shot is read. Exits 1 if some tolerance can never be proven by one shot.
    """
    import sys

    from geoqa.cli.ending import FINDINGS
    from geoqa.cli.plain import plain
    from geoqa.job.capability import capability

    layers = capability(job, tilt=tilt)
    unit, rows = layers.frame.unit.name, layers["capability"]
    lean = "plumb" if tilt == 0 else f"leaning {tilt:g}°"
    click.echo(f"What one shot can prove, rod {lean}; {layers['limits']['rule'].iloc[0]} rule")
    for row in rows.to_dict("records"):
        click.echo(plain(_line(row, unit)))
    if not len(rows):
        click.echo("  no limit of this job is held against one shot alone")
    if several := _of_several(layers["limits"]):
        click.echo(plain(f"Not covered, as each is made of several shots: {several}.\n{SEVERAL}"))
    click.echo(KEY)
    click.echo("\nWhere the uncertainty comes from (1 sigma):")
    for source, mine in layers["budget"][layers["budget"]["part"] != "all"].groupby("source", sort=True):
        click.echo(plain(f"  {', '.join(sorted(set(mine['part'])))}: {source}"))
    sys.exit(0 if rows["provable"].all() else FINDINGS)


def _of_several(limits: "pd.DataFrame") -> str:
    """Checks with a limit whose number is not that of one shot, each with its kinds."""
    from geoqa.contract.checks import check_named

    kinds: dict[str, list[str]] = {}
    for check, kind in zip(limits["check"], limits["kind"], strict=True):
        if not check_named(str(check)).axis and kind not in kinds.setdefault(str(check), []):
            kinds[str(check)].append(str(kind))
    return "; ".join(f"{check} of {', '.join(names)}" for check, names in kinds.items())


def _line(row: Mapping[str, Any], unit: str) -> str:
    from geoqa.contract.checks import check_named
    from geoqa.contract.decided import decided
    from geoqa.model import words

    allowed = words.limits(row["lower"], row["upper"], check_named(row["check"]), "length", unit)
    mark = "●" if row["one_third"] else ("◆" if row["provable"] else "▲")
    u = words.length(row["u"], unit)
    return f"  {mark} {row['kind']}, {row['check']}, {allowed}, u {u}: {decided(row, unit)}"
