"""Run steps over layers, in memory: no files, no pages."""

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, TypeVar

from geoqa.contract.checks import every_check
from geoqa.errors import GeoqaError, StepError
from geoqa.job.plan import plan
from geoqa.model.signs import ranks
from geoqa.model.step import Step
from geoqa.model.tables.columns import columns_of
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.order import worst_first
from geoqa.model.tables.several_sets import several_sets, strictest_stands

if TYPE_CHECKING:
    import pandas as pd

Laid = TypeVar("Laid", bound=Layers)

Progress = Callable[[str, int, int], None]


def silent(stage: str, done: int, total: int) -> None:
    """Progress that nobody watches."""


def execute(layers: Laid, steps: Iterable[Step], *, progress: Progress = silent) -> Laid:
    """Run every step whose needs are met, in order.

    Parameters
    ----------
    layers : Layers
    steps : iterable of Step
    progress : callable
        Called with the step's name, how many are done, and how many there are.

    Returns
    -------
    Layers
        With everything the steps made; findings and evidence sorted, worst first.

    Raises
    ------
    StepError
        A step failed, or made something it did not declare; the message names it.
    """
    order = plan(steps, layers.available()).order
    for done, step in enumerate(order):
        progress(step.name, done, len(order))
        layers = laid_over(layers, step, made_by(step, layers))
    progress("done", len(order), len(order))
    return in_order(layers)


def made_by(step: Step, layers: Layers) -> "Mapping[str, pd.DataFrame]":
    """What a step makes of these layers.

    Raises
    ------
    StepError
        It failed, or made findings of a check that nobody declares.
    """
    try:
        made = step.run(layers)
    except GeoqaError:
        raise
    except Exception as error:
        raise StepError(f"Step '{step.name}' failed: {type(error).__name__}: {error}") from error
    _refuse_undeclared(step, made)
    return made


def laid_over(layers: Laid, step: Step, made: "Mapping[str, pd.DataFrame]") -> Laid:
    """Layers with what a step made; of several rule sets the strictest stands."""
    layers.refuse_undeclared(step, made)
    old = {name: layers[name] for name in made if name in layers}
    return layers.with_tables({name: table_over(layers, step, name, new, old.get(name)) for name, new in made.items()})


def table_over(
    layers: Layers, step: Step, name: str, new: "pd.DataFrame", old: "pd.DataFrame | None"
) -> "pd.DataFrame":
    """One table with what a step made of it, as `laid_over` lays it; `old` is None where there is none yet."""
    laid = layers.laid(step, name, new, old)
    if name == "findings" and len(new) and several_sets(laid["against"]):
        return strictest_stands(laid)
    return laid


def _refuse_undeclared(step: Step, tables: "Mapping[str, pd.DataFrame]") -> None:
    """A finding of a check that nobody declares could be neither explained nor limited."""
    if "findings" not in step.adds or not len(tables["findings"]):
        return
    strange = sorted(set(tables["findings"]["check"].unique()) - set(every_check()))
    if strange:
        raise StepError(
            f"Step '{step.name}' made findings of the check '{strange[0]}', which nobody declares; "
            'its package needs an entry point of that name under "geoqa.checks".'
        )


def in_order(layers: Laid) -> Laid:
    """Findings worst first, evidence by finding: an order that does not hang on who ran when."""
    tables: dict[str, pd.DataFrame] = dict(layers)
    findings = layers["findings"]
    order = worst_first(findings["excess"], findings["finding"], ranks(findings["verdict"]))
    ours = [each.name for each in columns_of("findings") if each.name in findings]
    columns = [*ours, *(name for name in findings.columns if name not in ours)]
    tables["findings"] = findings.take(order).reset_index(drop=True)[columns]
    tables["evidence"] = layers["evidence"].sort_values(["finding", "role", "key"]).reset_index(drop=True)
    return type(layers)(tables, frame=layers.frame)
