"""What is known of every installed step; one whose package is broken is listed with what is wrong with it."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, get_args

from geoqa import plugins
from geoqa.errors import GeoqaError, PluginError
from geoqa.model.quantity import Duration, Length, Slope
from geoqa.model.step import Step

_NOTHING: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True, kw_only=True)
class OptionFacts:
    """One option of a step."""

    default: Any
    """As a job file would hold it."""
    type: str
    description: str


@dataclass(frozen=True, kw_only=True)
class StepFacts:
    """One installed step.

    Attributes
    ----------
    name : str
        As a job file and ``Layers.run`` name it.
    does : str
        In one line.
    package : str
        Whose it is, with the version.
    needs, wants, gives, extends, adds : tuple of str
        Layers, or ``layer.column``; see `geoqa.Step`.
    options : mapping of str to OptionFacts
    trouble : str
        Why it cannot be used; empty where it can.
    """

    name: str
    does: str = ""
    package: str = ""
    needs: tuple[str, ...] = ()
    wants: tuple[str, ...] = ()
    gives: tuple[str, ...] = ()
    extends: tuple[str, ...] = ()
    adds: tuple[str, ...] = ()
    options: Mapping[str, OptionFacts] = field(default_factory=lambda: _NOTHING)
    trouble: str = ""

    def makes(self) -> frozenset[str]:
        """Everything other steps may need from this one."""
        return frozenset({*self.gives, *self.extends, *self.adds})

    def __repr__(self) -> str:
        return "\n".join(step_lines(self))


def step_facts(name: str) -> StepFacts:
    """What is known of one step; this imports it.

    Raises
    ------
    PluginError
        No step has that name, or it cannot be used; the message says whose it is.

    Examples
    --------
    >>> step_facts("bands").gives
    ('bands',)
    """
    step = plugins.load("steps", name)
    package = plugins.owner("steps", name)
    try:
        if not (isinstance(step, type) and issubclass(step, Step)):
            raise TypeError("it is no Step")
        described = step.model_json_schema()["properties"] if step.model_fields else {}
        return StepFacts(
            name=name,
            does=next(iter((step.__doc__ or "").strip().splitlines()), ""),
            package=package,
            needs=step.needs,
            wants=step.wants,
            gives=step.gives,
            extends=step.extends,
            adds=step.adds,
            options=MappingProxyType({key: _option(step, key, described.get(key, {})) for key in step.model_fields}),
        )
    except Exception as error:
        raise PluginError(
            f"The step '{name}' (from {package}) cannot be described: {error!r}. "
            "Report this to the package that provides it."
        ) from error


def installed_steps(names: Iterable[str] | None = None) -> tuple[StepFacts, ...]:
    """Every installed step, by name; one that cannot be used has a `trouble` and nothing else.

    Parameters
    ----------
    names : iterable of str, optional
        Only these.

    Examples
    --------
    >>> [step.name for step in installed_steps(["bands", "runs"])]
    ['bands', 'runs']
    """
    return tuple(_facts_or_trouble(name) for name in (plugins.declared("steps") if names is None else names))


def makers_of(need: str) -> list[str]:
    """Names of the installed steps that make a layer or ``layer.column``, those that can be used.

    Examples
    --------
    >>> makers_of("shots.use"), makers_of("line_matches.offset"), makers_of("limits")
    (['usable-shots'], ['match-lines'], [])
    """
    layer = need.partition(".")[0]
    return [step.name for step in installed_steps() if need in step.makes() or layer in step.gives]


def step_lines(step: StepFacts) -> Iterator[str]:
    """One step in words: its head, then what it needs and makes, then its options."""
    yield head_line(step)
    if not step.trouble:
        yield f"  {'from':<8} {step.package}"
    for key in ("needs", "wants", "gives", "extends", "adds"):
        if names := getattr(step, key):
            yield f"  {key:<8} {', '.join(names)}"
    for name, option in step.options.items():
        yield f"  {name} = {option.default!r} ({option.type})  {option.description}"


def head_line(step: StepFacts) -> str:
    """Name, and what it does or what is wrong with it."""
    return f"{step.name:<16} {step.does if not step.trouble else 'cannot be used: ' + step.trouble}"


def _facts_or_trouble(name: str) -> StepFacts:
    try:
        return step_facts(name)
    except GeoqaError as error:
        return StepFacts(name=name, package=plugins.owner("steps", name), trouble=str(error))


_QUANTITIES = {Length: "length", Slope: "slope", Duration: "time"}
"""Options that are written as text with their unit."""


def _option(step: type[Step], name: str, described: Mapping[str, Any]) -> OptionFacts:
    field = step.model_fields[name]
    plain = field.default if isinstance(field.default, str | int | float | bool | type(None)) else str(field.default)
    taken = _type_of(described)
    for quantity, word in _QUANTITIES.items():
        if field.annotation is quantity or quantity in get_args(field.annotation):
            taken = taken.replace("text", word)
    return OptionFacts(default=plain, type=taken, description=described.get("description", ""))


def _type_of(described: Mapping[str, Any]) -> str:
    """What an option takes, in the words of the schema."""
    if "anyOf" in described:
        return " or ".join(_type_of(each) for each in described["anyOf"])
    if "enum" in described:
        return " or ".join(repr(each) for each in described["enum"])
    if "const" in described:
        return repr(described["const"])
    return {
        "string": "text",
        "integer": "whole number",
        "boolean": "true or false",
        "null": "nothing",
        "array": "list",
    }.get(found := str(described.get("type", "any")), found)
