"""Numbers of several shots against the design before a field change: those whose design or limits it moves."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.drainage import GUTTER_FALL, PONDING, REVEAL
from geoqa.contract.utilities import INVERT
from geoqa.model.step import Step
from geoqa.model.tables.columns import empty
from geoqa.model.tables.finding import finding_id, finding_ids
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.several_sets import ruleset_of
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.drainage.gutters import Gutters
from geoqa.steps.drainage.reveals import Reveals
from geoqa.steps.utilities.structures import Structures

CHECKS = (INVERT.name, REVEAL.name)
"""Of one shot of their own."""
ALONG = (GUTTER_FALL.name, PONDING.name)
"""Along a flow line: its design says which way it drains, how much it falls, and where its low points are. Cross
slopes, widths, cover and clearance are held to limits of their own, which no change of a line moves."""
_KEY = ["check", "kind", "subject", "shot"]
_SAME = ["deviation", "lower", "upper", "design"]
BEFORE = " before the change"
"""Behind the design in `against`, where a change leaves the name of the design as it was."""


def against_before(layers: Layers, words: Mapping[str, str]) -> pd.DataFrame:
    """Inverts, reveals, falls and standing water against the design before, where that tells another number or limit.

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
    now = findings[findings["verdict"] != "NO_DATA"].assign(ruleset=lambda rows: ruleset_of(rows))
    single = now[now["check"].isin(CHECKS) & now["shot"].notna()]
    along = now[now["check"].isin(ALONG) & now["shot"].isna()]
    if "replaced_lines" not in layers or not len(layers["replaced_lines"]) or not len(single) + len(along):
        return empty("findings")
    before = _layers_before(layers)
    both = [_of_shots(before, single), _of_stretches(layers, before, along)]
    both = [_moved(each) for each in both if len(each)]
    if not (both := [each for each in both if len(each)]):
        return empty("findings")
    made = pd.concat(both, ignore_index=True)
    made["against"] = made["against"].where(made["against"] != made["against_now"], made["against"] + BEFORE)
    made["cause"] = pd.Series([_cause(row, words) for row in made.to_dict("records")], dtype="str")
    made["run"] = made["finding_now"]
    names = finding_ids(made["check"], made["against"], made["subject"], made["shot"]).to_numpy()
    # what rests on several shots is named by the one that counts
    parts = zip(made["check"], made["against"], made["subject"], made["run"], strict=True)
    several = [finding_id(check, against, subject, [run]) for check, against, subject, run in parts]
    made["finding"] = np.where(made["shot"].isna(), several, names)
    return made[findings.columns.intersection(made.columns, sort=False)]


def _of_shots(before: Layers, now: pd.DataFrame) -> pd.DataFrame:
    """Numbers of one shot against the design before, beside the same one now."""
    parts = [_made(step, before, CHECKS) for step in (Structures(), Reveals())] if len(now) else []
    if not (parts := [each for each in parts if len(each)]):
        return now.iloc[:0]
    old = pd.concat(parts, ignore_index=True)
    return old.merge(
        now[[*_KEY, "ruleset", "finding", "against", *_SAME]], on=[*_KEY, "ruleset"], suffixes=("", "_now")
    )


def _of_stretches(layers: Layers, before: Layers, now: pd.DataFrame) -> pd.DataFrame:
    """Falls and standing water against the design before, each beside the one now that it shares most length with.

    Only where the step with its usual options tells what is there now: other options would tell other numbers, and the
    difference would be taken for that of the design.
    """
    if not len(now):
        return now
    usual = _made(Gutters(), _without_findings(layers), ALONG)
    known = dict(zip(usual["finding"], usual["deviation"], strict=True))
    same = [np.isclose(known.get(name, np.nan), value, rtol=0, atol=1e-9, equal_nan=False)
            for name, value in zip(now["finding"], now["deviation"], strict=True)]  # fmt: skip
    now = now[np.array(same, dtype=bool)]
    old = _made(Gutters(), before, ALONG).rename_axis("nth").reset_index()
    key = ["check", "kind", "subject", "ruleset"]
    told = ["finding", "against", "station", "station_end", *_SAME]
    pairs = old.merge(now[[*key, *told]], on=key, suffixes=("", "_now"))
    ends = [np.fmin(pairs["station_end"], pairs["station_end_now"]), np.fmax(pairs["station"], pairs["station_now"])]
    pairs = pairs.assign(shared=ends[0] - ends[1]).query("shared >= 0")
    pairs = pairs.sort_values(["nth", "shared"], ascending=[True, False], kind="stable").drop_duplicates("nth")
    return pairs.drop_duplicates("finding_now").drop(columns=["nth", "shared"])


def _moved(both: pd.DataFrame) -> pd.DataFrame:
    """Those whose number, limits or design the change moves."""
    moved = np.zeros(len(both), dtype=bool)
    for name in _SAME:
        one, other = both[name].to_numpy(float), both[f"{name}_now"].to_numpy(float)
        moved |= ~np.isclose(one, other, rtol=0, atol=1e-9, equal_nan=True)
    return both[moved].reset_index(drop=True)


def _without_findings(layers: Layers) -> Layers:
    return Layers({name: layers[name] for name in layers if name not in ("findings", "evidence")}, frame=layers.frame)


def _layers_before(layers: Layers) -> Layers:
    """The layers with the design as it was, and no finding."""
    tables: dict[str, Any] = dict(_without_findings(layers))
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


def _made(step: Step, layers: Layers, checks: tuple[str, ...]) -> pd.DataFrame:
    """Findings of a step, with their rule set; none where the layers lack what it needs."""
    made = step.run(layers)["findings"] if set(step.needs) <= _there(layers) else empty("findings")
    made = made[made["check"].isin(checks) & (made["verdict"] != "NO_DATA")].reset_index(drop=True)
    return made.assign(ruleset=ruleset_of(made))


def _cause(row: Mapping[Any, Any], words: Mapping[str, str]) -> str:
    """Words of the change that replaces the line a number is about; of all, where its name does not tell."""
    parts = str(row["subject"]).replace(",", " ").split()
    mine = [said for name, said in words.items() if name == row["subject"] or name in parts]
    return "; ".join(dict.fromkeys(mine or words.values()))
