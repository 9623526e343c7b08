"""The installed steps, as a list that reads well."""

from __future__ import annotations

from html import escape
from typing import overload

from geoqa.job.installed import StepFacts, head_line, installed_steps, step_facts


class Steps(tuple[StepFacts, ...]):
    """Installed steps, by name; each says what it does, needs and makes, and its options."""

    __slots__ = ()

    def __repr__(self) -> str:
        return "\n".join(map(head_line, self))

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><td>{escape(step.name)}</td><td>{escape(step.does or step.trouble)}</td>"
            f"<td>{escape(', '.join(step.needs))}</td><td>{escape(', '.join(sorted(step.makes())))}</td></tr>"
            for step in self
        )
        return f"<table><tr><th>step</th><th>does</th><th>needs</th><th>makes</th></tr>{rows}</table>"


@overload
def steps() -> Steps: ...
@overload
def steps(name: None) -> Steps: ...
@overload
def steps(name: str) -> StepFacts: ...
def steps(name: str | None = None) -> Steps | StepFacts:
    """List the installed steps, or show one of them.

    Parameters
    ----------
    name : str, optional
        Of one step.

    Returns
    -------
    Steps or StepFacts
        Each with ``name``, ``does``, ``package``, ``needs``, ``wants``, ``gives``, ``extends``, ``adds`` and
        ``options`` (default, type, description). A step whose package is broken has its ``trouble``.

    Raises
    ------
    PluginError
        No step has that name, or the one that has it cannot be used.

    Examples
    --------
    >>> import geoqa
    >>> "offsets" in [step.name for step in geoqa.steps()]
    True
    >>> geoqa.steps("match-lines").options["reach"].default
    '10 ft'
    """
    return Steps(installed_steps()) if name is None else step_facts(name)
