"""All tables of a call as layers, with what a job states beside them: limits, precisions, rules of common practice."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from geoqa.contract.checks import check_named
from geoqa.errors import JobError
from geoqa.job.document.file import Job
from geoqa.job.document.limits import limits_table, precision_table
from geoqa.job.inputs.tables import preset
from geoqa.library.accepted import System
from geoqa.library.arguments import code_list
from geoqa.library.given_frame import frame_of
from geoqa.library.given_tables import Given
from geoqa.library.validated import plain, validated
from geoqa.model.frame import Frame
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import placed, shaped

_CALLED = {"tolerance": "limits", "decision": "rule"}
_DESIGN = ("design_lines", "design_elements", "design_points")


def given_layers(
    given: Mapping[str, Any], *, frame: str | System | Frame | None, vertical: str | None, uncertainty: Any, rule: str
) -> tuple[dict[str, pd.DataFrame], Frame]:
    """Tables by name, complete, and their frame; see `geoqa.Layers.from_tables`.

    Raises
    ------
    LayerError, FrameError, JobError
    """
    tables = {name: table for name, table in given.items() if table is not None}
    found = frame_of(frame, vertical, tables)
    taken = Given(found)
    limits = tables.pop("limits", None)
    if isinstance(limits, Mapping):
        taken.tables["limits"] = limits_of(limits, found, rule=rule)
    elif limits is not None:
        taken.take("limits", _checked_limits(limits, rule))
    if uncertainty is not None and "precision" in tables:
        raise JobError("uncertainty: the table precision says the same; give one of the two.")
    if "precision" not in tables:
        taken.tables["precision"] = precision_table(_job(found, uncertainty=uncertainty), found.unit)
    listed = _codes(tables)
    if listed is not None:
        taken.take("codes", listed)
    for name, table in tables.items():
        taken.take(name, table)
    if "design_lines" in tables and "design_elements" not in tables:
        taken.draw_elements(tables["design_lines"])
    taken.refuse_problems()
    return taken.tables | _beside(taken.tables, found), found


def limits_of(tolerances: Mapping[str, Any], frame: Frame, *, rule: str = "guarded") -> pd.DataFrame:
    """The table of limits of tolerances, in the unit of the frame.

    Raises
    ------
    JobError
        With one line for every tolerance that cannot stand.

    Examples
    --------
    >>> from geoqa import testing
    >>> found = limits_of({"rim": {"vertical": "1 in", "reference": "C-101"}}, testing.frame())
    >>> found[["kind", "check", "lower", "upper"]].round(3).values.tolist()
    [['rim', 'elevation', -0.083, 0.083]]
    """
    return limits_table(_job(frame, tolerances=tolerances, rule=rule), frame.unit)


def _job(frame: Frame, *, tolerances: Any = None, uncertainty: Any = None, rule: str = "guarded") -> Job:
    """A job that says these and nothing else."""
    tables = {"tolerance": plain(tolerances), "uncertainty": plain(uncertainty), "decision": {"rule": rule}}
    head = {"job": {"name": "Layers"}, "frame": {"horizontal": frame.horizontal}}
    return validated({**head, "shots": [pd.DataFrame({"shot": ["-"]})], **tables}, called=_CALLED)


def _checked_limits(limits: Any, rule: str) -> Any:
    """A table of limits with the quantity of each check, and the rule."""
    if not isinstance(limits, pd.DataFrame):
        return limits
    made = limits.copy(deep=False)
    if "check" in made and "quantity" not in made:
        made["quantity"] = [check_named(str(name)).quantity for name in made["check"]]
    if "rule" not in made:
        made["rule"] = rule
    return made


def _codes(tables: dict[str, Any]) -> Any:
    """The code list, given or of the kinds that shots have; None where nothing is known of either."""
    codes, shots, lines = tables.pop("codes", None), tables.get("shots"), tables.get("design_lines")
    if codes is None and not (isinstance(shots, pd.DataFrame) and "kind" in shots):
        return None
    drawn = {} if lines is None or not hasattr(lines, "geom_type") else {"design_lines": lines}
    if codes is None or isinstance(codes, Mapping):
        held = {"shots": shots} if codes is None else {}
        return code_list(codes, held, drawn, "kind")[0]
    return codes


def _beside(tables: Mapping[str, pd.DataFrame], frame: Frame) -> dict[str, pd.DataFrame]:
    """What every job has beside its files: rules of common practice, and where its shots came from."""
    made: dict[str, pd.DataFrame] = {}
    for name in ("screening", "check_policy"):
        if name not in tables:
            made[name] = conform(name, preset(name))
    if "tilt_declared" not in tables:
        made["tilt_declared"] = empty("tilt_declared")
    if any(name in tables for name in _DESIGN):  # a design without points is one, and so is one without lines
        for name in _DESIGN:
            if name not in tables:
                blank = empty(name)
                made[name] = shaped(blank, [], frame) if name == "design_lines" else placed(name, blank, frame)
    if "sources" not in tables:
        names = sorted(set(tables["shots"]["source"])) if "shots" in tables else []
        rows = [
            {"source": name, "role": "shots", "path": name, "sha256": "", "reader": "", "version": ""} for name in names
        ]
        made["sources"] = conform("sources", pd.DataFrame(rows)) if rows else empty("sources")
    return made
