"""`geoqa steps`."""

import json
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from geoqa.job.installed import StepFacts


@click.command("steps")
@click.argument("name", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(name: str | None, as_json: bool) -> None:
    """List the installed steps, or show one with its options."""
    from geoqa.job.installed import head_line, installed_steps, step_facts, step_lines

    steps = (step_facts(name),) if name else installed_steps()
    if as_json:
        click.echo(json.dumps({step.name: _plain(step) for step in steps}, indent=2, sort_keys=True))
        return
    for step in steps:
        for line in step_lines(step) if name else (head_line(step),):
            click.echo(line)


def _plain(step: "StepFacts") -> dict[str, object]:
    facts: dict[str, object] = {"does": step.does, "from": step.package}
    facts |= {key: getattr(step, key) for key in ("needs", "wants", "gives", "extends", "adds")}
    facts["options"] = {name: vars(option) for name, option in step.options.items()}
    return facts | ({"trouble": step.trouble} if step.trouble else {})
