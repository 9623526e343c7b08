"""`geoqa capability`."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    import pandas as pd

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
    click.echo(KEY)
    together = layers["capability_together"] if "capability_together" in layers else rows.iloc[:0]
    if len(together):
        click.echo(TOGETHER)
    for row in together.to_dict("records"):
        click.echo(plain(_line_together(row, unit)))
    if several := _of_several(layers["limits"], set(zip(together["kind"], together["check"], strict=True))):
        click.echo(plain(f"Not covered, as each is made of several shots: {several}."))
        click.echo(SEVERAL)
    click.echo("\nWhere the uncertainty comes from (1 sigma):")
    for line in _origins(layers["budget"], unit):
        click.echo(plain(f"  {line}"))
    if layers["budget"]["source"].str.startswith("typical").any():
        click.echo(ASSUMED)
    sys.exit(0 if rows["provable"].all() and together["provable"].all() else FINDINGS)


FEW = 3
"""Kinds that are named beside a part that is theirs alone."""

_PARTS = {"random": "own", "common": "session", "tilt": "tilt", "mark": "mark"}


def _origins(budget: "pd.DataFrame", unit: str) -> list[str]:
    """Each part of the uncertainty with its numbers, and where they come from."""
    from geoqa.model import words

    lines, every = [], set(budget["kind"].astype(str))
    parts = budget[(budget["part"] != "all") & (budget["u"] != 0)]
    for (part, source), mine in parts.groupby(["part", "source"], sort=True):
        sizes = []
        for axis, name in (("h", "plan"), ("v", "elevation")):
            told = sorted({words.length(u, unit) for u in mine.loc[mine["axis"] == axis, "u"]})
            sizes += [f"{' or '.join(told)} in {name}"] if told else []
        kinds = sorted(set(mine["kind"].astype(str)))
        whose = f" for {', '.join(kinds)}" if len(kinds) < len(every) and len(kinds) <= FEW else ""
        lines.append(f"{_PARTS[str(part)]} {', '.join(sizes)}{whose}: {source}")
    return lines


_OTHER = {"cross-slope": "ramp-cross-slope", "ramp-cross-slope": "cross-slope"}


def _of_several(limits: "pd.DataFrame", told: set[tuple[str, str]]) -> str:
    """Checks with a limit whose number is not that of one shot, each with its kinds; without those that are told."""
    from geoqa.contract.checks import check_named

    kinds: dict[str, list[str]] = {}
    # one key is read by both: a kind is either a pair of edges or a ramp
    told = told | {(kind, _OTHER[check]) for kind, check in told if check in _OTHER}
    for check, kind in zip(limits["check"], limits["kind"], strict=True):
        if (
            not check_named(str(check)).axis
            and (kind, check) not in told
            and kind not in kinds.setdefault(str(check), [])
        ):
            kinds[str(check)].append(str(kind))
    return "; ".join(f"{check} of {', '.join(names)}" for check, names in kinds.items())


def _line_together(row: Mapping[str, Any], unit: str) -> str:
    from geoqa.contract.checks import check_named
    from geoqa.model import words

    allowed = words.limits(row["lower"], row["upper"], check_named(row["check"]), row["quantity"], unit)
    mark = "●" if row["one_third"] else ("◆" if row["provable"] else "▲")
    u = words.quantity(row["u"], row["quantity"], unit)
    of = f" ({row['ruleset']})" if row["ruleset"] != "job" else ""
    assumed = f" ({row['assumed']})" if isinstance(row["assumed"], str) else ""
    check = str(row["check"]).replace("-", " ")
    return f"  {mark} {row['kind']}, {check}, {allowed}{of}, 1 sigma {u}: {row['words']}. From {row['shots']}{assumed}"


def _line(row: Mapping[str, Any], unit: str) -> str:
    from geoqa.contract.checks import check_named
    from geoqa.contract.decided import decided
    from geoqa.model import words

    allowed = words.limits(row["lower"], row["upper"], check_named(row["check"]), "length", unit)
    mark = "●" if row["one_third"] else ("◆" if row["provable"] else "▲")
    u = words.length(row["u"], unit)
    check = str(row["check"]).replace("-", " ")
    return f"  {mark} {row['kind']}, {check}, {allowed}, 1 sigma {u}: {decided(row, unit)}"
