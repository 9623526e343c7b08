"""`geoqa steps`."""

import json

import click


@click.command("steps")
@click.argument("name", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(name: str | None, as_json: bool) -> None:
    """List the installed steps, or show one with its options."""
    from geoqa import plugins

    names = [name] if name else list(plugins.declared("steps"))
    facts = {each: _facts(each) for each in names}
    if as_json:
        click.echo(json.dumps(facts, indent=2, sort_keys=True))
        return
    for each, fact in facts.items():
        click.echo(f"{each:<16} {fact['does']}")
        if name:
            for key in ("from", "needs", "gives", "extends", "adds"):
                if fact[key]:
                    shown = fact[key] if isinstance(fact[key], str) else ", ".join(fact[key])
                    click.echo(f"  {key:<8} {shown}")
            for option, words in fact["options"].items():
                click.echo(f"  {option} = {words['default']!r}  {words['description']}")


def _facts(name: str) -> dict:
    from geoqa import plugins

    step = plugins.load("steps", name)
    options = step.model_json_schema()["properties"] if step.model_fields else {}
    return {
        "does": (step.__doc__ or "").strip().splitlines()[0],
        "from": plugins.owner("steps", name),
        "needs": step.needs,
        "gives": step.gives,
        "extends": step.extends,
        "adds": step.adds,
        "options": {
            key: {"default": _shown(field.default), "description": options.get(key, {}).get("description", "")}
            for key, field in step.model_fields.items()
        },
    }


def _shown(default: object) -> object:
    return default if isinstance(default, str | int | float | bool | type(None)) else str(default)
