"""Steps that are named, with options that are checked, and whether all they need is there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from pydantic import ValidationError

from geoqa import plugins
from geoqa.errors import JobError, LayerError
from geoqa.job.document.problems import trouble
from geoqa.job.plan import default_steps, plan
from geoqa.library.makers import missing, step_that_makes, usable_steps
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers


def steps_named(steps: str | Step | Sequence[str | Step], options: Mapping[str, Any]) -> tuple[Step, ...]:
    """Steps by their names.

    Raises
    ------
    PluginError
        No step has that name.
    JobError
        An option that cannot stand; options for several steps; a step twice; or no step at all.

    Examples
    --------
    >>> [step.name for step in steps_named("runs", {"shortest": 4})]
    ['runs']
    """
    if isinstance(steps, str):
        return (_with_options(steps, options),)
    several = (steps,) if isinstance(steps, Step) else tuple(steps)
    if options:
        raise JobError(f"{', '.join(options)}: options belong to one step that is named; run that one by itself.")
    made = tuple(_with_options(each, {}) if isinstance(each, str) else each for each in several)
    if strange := [each for each in made if not isinstance(each, Step)]:
        raise JobError(f"steps: must be names or steps, and one is a {type(strange[0]).__name__}.")
    names = [step.name for step in made]
    if twice := [name for name in names if names.count(name) > 1]:
        raise JobError(f"steps: '{twice[0]}' is named more than once.")
    if not made:
        raise JobError("steps: names none; geoqa.steps() lists them.")
    return made


def _with_options(name: str, options: Mapping[str, Any]) -> Step:
    made_by = plugins.load("steps", name)
    try:
        step: Step = made_by.model_validate(dict(options))
    except ValidationError as error:
        lines = "; ".join(_option(made_by, each, options) for each in error.errors(include_url=False))
        raise JobError(f"The step {name} cannot have these options: {lines}.") from None
    return step


def _option(step: type[Step], error: Any, options: Mapping[str, Any]) -> str:
    address = error["loc"]
    if error["type"] != "extra_forbidden":
        return f"{'.'.join(map(str, address))}: {trouble(error, options)}"
    known = list(step.model_fields)
    close = get_close_matches(str(address[0]), known, 1)
    guess = f"did you mean {close[0]}? " if close else ""
    return f"{address[0]}: not an option here; {guess}it has {', '.join(known) or 'none'}"


def ready(steps: Sequence[Step], layers: Layers) -> None:
    """Refuse steps whose needs are not there, or whose product is there already.

    Raises
    ------
    LayerError
        With a line for everything that is missing, what it means and who makes it, and what to run instead.
    """
    available = layers.available()
    for step in steps:
        if again := sorted({*step.gives, *step.extends} & available):
            raise LayerError(f"The step {step.name} has nothing to do: these layers have {', '.join(again)} already.")
    lacking = plan(steps, available).lacking
    if not lacking:
        return
    made = {each for step in steps for each in step.makes()}
    needs = dict.fromkeys(need for each in lacking.values() for need in each if need not in made)
    lines = "\n".join(f"  {missing(need)}" for need in needs)
    names = list(lacking)
    several = f"steps {', '.join(names)}" if len(names) > 1 else f"step {names[0]}"
    raise LayerError(f"The {several} cannot run yet:\n{lines}\n{_instead(steps, layers)}")


def _instead(steps: Sequence[Step], layers: Layers) -> str:
    """What to run, with the steps that make what is missing, or what must be given first."""
    known = usable_steps()
    available = layers.available()
    wanted = {step.name: step for step in steps}
    waiting, given = list(steps), set()
    while waiting:
        lacking = set(waiting.pop().needs) - available - {each for step in wanted.values() for each in step.makes()}
        for need in sorted(lacking):
            maker = step_that_makes(need, known)
            layer = need.partition(".")[0]
            if maker is None:
                given.add(need if layer in available or "." not in need else layer)
            elif maker.name not in wanted and maker.name in known:
                wanted[maker.name] = plugins.load("steps", maker.name)()
                waiting.append(wanted[maker.name])
    usual = [step.name for step in default_steps()]
    steps = sorted(wanted.values(), key=lambda step: usual.index(step.name) if step.name in usual else len(usual))
    order = [step.name for step in plan(steps, {*available, *given}).order]
    before = f"Give {', '.join(sorted(given))} first, and run" if given else "Run"
    return f"{before} these together: {order}."
