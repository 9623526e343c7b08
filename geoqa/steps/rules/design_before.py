"""Numbers of several shots against the design before a field change: those whose design or limits it moves."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.drainage import REVEAL
from geoqa.contract.utilities import INVERT
from geoqa.model.step import Step
from geoqa.model.tables.columns import empty
from geoqa.model.tables.finding import finding_ids
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.several_sets import ruleset_of
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.drainage.reveals import Reveals
from geoqa.steps.utilities.structures import Structures

CHECKS = (INVERT.name, REVEAL.name)
"""A fall, a slope or a width is held to a limit of its own, which no change of the design moves."""
_KEY = ["check", "kind", "subject", "shot"]
_SAME = ["deviation", "lower", "upper", "design"]
BEFORE = " before the change"
"""Behind the design in `against`, where a change leaves the name of the design as it was."""


def against_before(layers: Layers, words: Mapping[str, str]) -> pd.DataFrame:
    """Inverts and reveals against the design before, where that tells another number or other limits.

    Parameters
    ----------
    layers : Layers
        With the findings against the change, and the lines that it replaced.
    words : mapping of str to str
        What is said of a number against the design before, by the name of the line that a change replaces.

    Returns
    -------
    DataFrame
        Findings; each names in `run` the one that counts.
    """
    findings = layers["findings"]
    now = findings[findings["check"].isin(CHECKS) & findings["shot"].notna() & (findings["verdict"] != "NO_DATA")]
    if "replaced_lines" not in layers or not len(layers["replaced_lines"]) or not len(now):
        return empty("findings")
    before = _layers_before(layers)
    parts = [_made(step, before) for step in (Structures(), Reveals()) if set(step.needs) <= _there(before)]
    if not (parts := [each for each in parts if len(each)]):
        return empty("findings")
    old = pd.concat(parts, ignore_index=True)
    old, now = (each.assign(ruleset=ruleset_of(each)) for each in (old, now))
    both = old.merge(
        now[[*_KEY, "ruleset", "finding", "against", *_SAME]], on=[*_KEY, "ruleset"], suffixes=("", "_now")
    )
    moved = np.zeros(len(both), dtype=bool)
    for name in _SAME:
        one, other = both[name].to_numpy(float), both[f"{name}_now"].to_numpy(float)
        moved |= ~np.isclose(one, other, rtol=0, atol=1e-9, equal_nan=True)
    both = both[moved].reset_index(drop=True)
    if not len(both):
        return empty("findings")
    both["against"] = both["against"].where(both["against"] != both["against_now"], both["against"] + BEFORE)
    both["cause"] = pd.Series([_cause(row, words) for row in both.to_dict("records")], dtype="str")
    both["run"] = both["finding_now"]
    both["finding"] = finding_ids(both["check"], both["against"], both["subject"], both["shot"]).to_numpy()
    return both[old.columns.drop("ruleset")]


def _layers_before(layers: Layers) -> Layers:
    """The layers with the design as it was, and no finding."""
    tables: dict[str, Any] = {name: layers[name] for name in layers if name not in ("findings", "evidence")}
    names = set(layers["replaced_lines"]["line"])
    for name, kept in (("design_lines", "replaced_lines"), ("design_elements", "replaced_elements")):
        rest = pd.DataFrame(layers[name]).drop(columns="geometry", errors="ignore")
        tables[name] = pd.concat([rest[~rest["line"].isin(names)], layers[kept]], ignore_index=True)
    made = Layers(tables, frame=layers.frame)
    tables |= MatchLines().run(made) if set(MatchLines.needs) <= _there(made) else {}
    return Layers(tables, frame=layers.frame)


def _there(layers: Layers) -> set[str]:
    """What steps may ask for."""
    return {*layers, *(f"shots.{name}" for name in layers["shots"].columns)}


def _made(step: Step, before: Layers) -> pd.DataFrame:
    made = step.run(before)["findings"]
    return made[made["check"].isin(CHECKS)]


def _cause(row: Mapping[Any, Any], words: Mapping[str, str]) -> str:
    """Words of the change that replaces the line a number is about; of all, where its name does not tell."""
    parts = str(row["subject"]).replace(",", " ").split()
    mine = [said for name, said in words.items() if name == row["subject"] or name in parts]
    return "; ".join(dict.fromkeys(mine or words.values()))
