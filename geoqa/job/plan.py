"""Which steps can run, in which order, and what the others lack: a pure function over names."""

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

from geoqa import plugins
from geoqa.errors import PlanError
from geoqa.job.document.named import Off
from geoqa.model.output import Output
from geoqa.model.step import Step
from geoqa.model.tables.columns import STARTING

_ANY_STEP = 2
"""Effort of a step of which nothing is said."""


@dataclass(frozen=True)
class Plan:
    """Steps in the order they run, and what each of the others lacks."""

    order: tuple[Step, ...]
    lacking: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def default_steps(entries: Iterable[Step | Off] = (), outputs: Iterable[Output] = ()) -> tuple[Step, ...]:
    """The default steps, with what a job changes.

    Parameters
    ----------
    entries : iterable of Step or Off
        One with the name of a default step replaces its options, or switches it off; another is appended.
    outputs : iterable of Output
        What is to be written; steps that only an output asks for are appended.

    Examples
    --------
    >>> import geoqa
    >>> from geoqa.job.document.named import Off
    >>> names = [step.name for step in geoqa.default_steps([Off("bands")])]
    >>> "offsets" in names, "bands" in names
    (True, False)
    """
    chosen: dict[str, Step] = {}
    for name in _preset()["steps"]:
        chosen[name] = plugins.load("steps", name)()
    for name in (name for output in outputs for name in output.steps if name not in chosen):
        chosen[name] = plugins.load("steps", name)()
    for entry in entries:
        if isinstance(entry, Off):
            chosen.pop(entry.name, None)
        else:
            chosen[entry.name] = entry
    return tuple(chosen.values())


def plan(steps: Iterable[Step], available: Iterable[str]) -> Plan:
    """Order steps so that each finds what it needs.

    Parameters
    ----------
    steps : iterable of Step
        Where nothing else decides, they keep this order.
    available : iterable of str
        Names of layers and ``layer.column`` that are there before any step.

    Returns
    -------
    Plan
        A reader of a table waits for all who add to it. A step whose needs nobody meets is left out,
        and so is one that needs what such a step would have made.

    Raises
    ------
    PlanError
        Two steps make the same thing, or steps wait for each other in a circle.
    """
    known = set(available) | set(STARTING)
    runnable = [step for step in steps if known.issuperset(step.only_with)]
    _refuse_rivals(runnable)
    lacking: dict[str, tuple[str, ...]] = {}
    while True:
        made = {each for step in runnable for each in step.makes()}
        short = {
            step.name: tuple(need for need in step.needs if need not in known and made.isdisjoint(_met_by(need)))
            for step in runnable
        }
        if not any(short.values()):
            break
        lacking |= {name: needs for name, needs in short.items() if needs}
        runnable = [step for step in runnable if not short[step.name]]
    return Plan(_ordered(runnable), lacking)


def roots(step: str, steps: Iterable[Step], lacking: Mapping[str, tuple[str, ...]]) -> set[str]:
    """Needs of a step that nobody meets; where it waits for another that lacks something, the needs of that one."""
    steps = tuple(steps)
    found: set[str] = set()
    for need in lacking[step]:
        layer = need.partition(".")[0]
        makers = [each.name for each in steps if (each.name in lacking and need in each.makes()) or layer in each.gives]
        waits = [each for each in makers if each in lacking and each != step]
        for maker in waits:
            found |= roots(maker, steps, lacking)
        if not waits:
            found.add(need)
    return found


def _refuse_rivals(steps: list[Step]) -> None:
    makers: dict[str, str] = {}
    for step in steps:
        for made in (*step.gives, *step.extends):
            if made in makers:
                raise PlanError(
                    f"Steps '{makers[made]}' and '{step.name}' both make '{made}'; switch one off: "
                    f'[[steps]] use = "{makers[made]}" off = true.'
                )
            makers[made] = step.name


def waits_for(steps: Iterable[Step]) -> dict[str, frozenset[str]]:
    """Names of the steps that each step waits for, because they make what it needs or wants."""
    steps = tuple(steps)
    made = {step.name: frozenset(step.makes()) for step in steps}
    waiting = {}
    for step in steps:
        asked = {product for need in (*step.needs, *step.wants) for product in _met_by(need)}
        waiting[step.name] = frozenset(
            other.name for other in steps if other is not step and not asked.isdisjoint(made[other.name])
        )
    return waiting


def behind(steps: Sequence[Step]) -> tuple[int, ...]:
    """Hundredths of a second that each step of an order and those behind it take, where most waits one for another.

    For a job of a thousand shots, and about: it only says what had better begin first.
    """
    waiting, known = waits_for(steps), _preset()["effort"]
    effort = {step.name: known.get(step.name, _ANY_STEP) for step in steps}
    longest = dict(effort)
    for step in reversed(steps):
        for name in waiting[step.name]:
            longest[name] = max(longest[name], effort[name] + longest[step.name])
    return tuple(longest[step.name] for step in steps)


@cache
def _preset() -> dict[str, Any]:
    return tomllib.loads((files("geoqa") / "presets" / "steps.toml").read_text(encoding="utf-8"))


def _ordered(steps: list[Step]) -> tuple[Step, ...]:
    waiting = waits_for(steps)
    order: list[Step] = []
    left = list(steps)
    while left:
        done = {step.name for step in order}
        ready = next((step for step in left if waiting[step.name] <= done), None)
        if ready is None:
            raise PlanError(f"Steps wait for each other in a circle: {', '.join(step.name for step in left)}.")
        order.append(ready)
        left.remove(ready)
    return tuple(order)


def _met_by(need: str) -> tuple[str, ...]:
    """What is made that a need waits for: that of the same name, or the layer it is a column of, made whole."""
    layer, dot, _ = need.partition(".")
    return (need, layer) if dot else (need,)
