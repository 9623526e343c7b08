"""What is not there, in a sentence: what it means, and who makes it."""

from collections.abc import Mapping

from geoqa import plugins
from geoqa.job.installed import StepFacts, installed_steps
from geoqa.model.tables.columns import PLACED, TABLES, columns_of

_MEANS = {
    "shots": "collected points",
    "control": "marks with their published values",
    "codes": "which kind each code stands for",
    "design_lines": "names and kinds of the design lines",
    "design_elements": "lines and arcs of the design, with elevations",
    "design_points": "places and kinds of the design points",
    "limits": "how far each kind may stray, check by check",
    "precision": "the uncertainty declared for each kind",
    "screening": "what a log may say of a shot that is taken",
    "check_policy": "when check shots are due",
    "sources": "what the shots were read from",
    "tilt_declared": "how well the rod's lean is known",
}
"""Tables that no step makes."""
_GIVEN = {
    "limits": 'give limits={"KIND": {"horizontal": "0.10 ft", "reference": "C-101"}}, as tolerances of assess',
    "precision": 'give uncertainty={"default": {"horizontal_random": "0.02 ft", "reference": "repeats"}}',
    "codes": 'give codes={"CODE": "KIND"}, or the shots a column kind',
    "sources": "Layers.from_tables makes it",
    "tilt_declared": "Layers.from_tables makes it",
}
_DTYPES = {"str": "text", "float64": "number", "bool": "true or false", "boolean": "true or false"}
_DTYPES |= dict.fromkeys(("int64", "Int64", "Int32"), "whole number")
_UNITS = {"job": ", in the unit of the frame", "quantity": ", in the unit of its quantity", "": ""}


def missing(need: str) -> str:
    """Say what a layer or ``layer.column`` that is missing means, and who makes it.

    Examples
    --------
    >>> missing("shots.use")
    'shots.use (true or false: false = flagged out, still listed) is missing; the step usable-shots makes it'
    >>> missing("control.mark")
    'control.mark (text: name of the mark) is missing; give it, or read it: control.csv, control.xlsx, control.xml do'
    """
    return f"{need} ({meaning(need)}) is missing; {_made(need)}"


def meaning(need: str) -> str:
    """What a layer or ``layer.column`` holds.

    Examples
    --------
    >>> meaning("line_matches")
    'shot_key, design, station, offset …'
    """
    layer, _, name = need.partition(".")
    if not name:
        names = [each.name for each in columns_of(layer)] if layer in TABLES else []
        return _MEANS.get(layer) or (", ".join(names[:4]) + " …" if names else "a layer of its own")
    for column in columns_of(layer) if layer in TABLES else ():
        if column.name == name:
            unit = _UNITS.get(column.unit, f", in {column.unit}")
            return f"{_DTYPES.get(column.dtype, column.dtype)}{unit}: {column.meaning}"
    return f"a column of {layer}"


def step_that_makes(need: str, steps: Mapping[str, StepFacts]) -> StepFacts | None:
    """The first of some steps that makes a layer or ``layer.column``."""
    layer = need.partition(".")[0]
    return next((step for step in steps.values() if need in step.makes() or layer in step.gives), None)


def usable_steps() -> dict[str, StepFacts]:
    """Installed steps that can be used, by name."""
    return {step.name: step for step in installed_steps() if not step.trouble}


def _made(need: str) -> str:
    step = step_that_makes(need, usable_steps())
    if step is not None:
        return f"the step {step.name} makes it"
    layer = need.partition(".")[0]
    if need in _GIVEN:
        return _GIVEN[need]
    role = "design" if layer.startswith("design_") else layer
    give = "give it"
    if PLACED.get(layer) == "Point" and need.endswith(("easting", "northing")):
        give = "give it, or a geometry of points"
    readers = [name for name in plugins.declared("readers") if name.startswith(f"{role}.")]
    if not readers:
        return give
    return f"{give}, or read it: {', '.join(readers)} {'do' if len(readers) > 1 else 'does'}"
