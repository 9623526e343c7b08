"""Rows about pipes, judged: by the job's limits, or where it has none by that of the method."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.model.check import Check
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.findings import asked, evidence_of, findings_of, verdicts_of, with_limits
from geoqa.steps.judging.text_columns import taken

Found = tuple[pd.DataFrame, pd.DataFrame]
"""Findings and their evidence."""


def found(layers: Layers, rows: pd.DataFrame, *, check: Check, least: float | None = None, words: str = "") -> Found:
    """Findings of rows, and the shots that each rests on.

    Parameters
    ----------
    layers : Layers
    rows : DataFrame
        As `findings_of` wants them, without `limit`; `keys` are lists of shots.
    check : Check
    least : float, optional
        The least that a number without a limit of the job may be; without it, such rows are not judged at all.
    words : str
        Where that comes from.
    """
    if not len(rows):
        return empty("findings"), empty("evidence")
    rows = with_limits(rows, layers["limits"], check=check)
    if least is None:
        rows = asked(rows)
    else:
        free = (rows["limit"] < 0).to_numpy()
        rows["lower"], rows["upper"] = np.where(free, least, np.nan), np.where(free, np.inf, np.nan)
        rules = layers["limits"]["rule"].unique().tolist()
        for name, text in (("rule", str(rules[0]) if len(rules) == 1 else "guarded"), ("reference", words)):
            rows[name] = taken([text], np.where(free, 0, -1))
        # 0 is the least of a number of its own here, not a design that it might lie on: it can be proven
        open_ones = (verdicts_of(rows, check=check, limits=layers["limits"]) == "UNDECIDED").to_numpy(bool)
        rows["why"] = np.where(free & open_ones & (rows["why"] == 0), check.why("near-limit"), rows["why"])
    return judged(layers, rows, check=check)


def judged(layers: Layers, rows: pd.DataFrame, *, check: Check, again: str = "measurement of both ends") -> Found:
    """The same for rows that have their limits."""
    if not len(rows):
        return empty("findings"), empty("evidence")
    if "shot" not in rows:
        rows = rows.assign(shot=pd.Series([None] * len(rows), dtype="str"))
    keys = [list(each) for each in rows["keys"]]
    findings = findings_of(
        rows.drop(columns="keys"), check=check, limits=layers["limits"], unit=layers.frame.unit.name, keys=keys,
        again=again,
    )  # fmt: skip
    names = np.repeat(findings["finding"].to_numpy(dtype=object), [len(each) for each in keys])
    members = [key for each in keys for key in each]
    return findings, evidence_of(list(names), members, role="member", layer="shots")


def listed(layers: Layers, rows: list[dict[str, Any]], *, check: Check) -> Found:
    """Findings that measure nothing: what is missing, each with its own reason."""
    if not rows:
        return empty("findings"), empty("evidence")
    nothing: dict[str, Any] = {"deviation": np.nan, "u_common": np.nan, "u_random": np.nan, "limit": -1}
    nothing |= {"lower": -np.inf, "upper": 0.0, "rule": "guarded", "reference": "what the schedule requires"}
    table = pd.DataFrame(rows).assign(**{name: value for name, value in nothing.items() if name not in rows[0]})
    return judged(layers, table, check=check)


def together(*parts: Found) -> dict[str, pd.DataFrame]:
    """Findings and evidence of several, as a step gives them."""
    made = {}
    for nth, name in enumerate(("findings", "evidence")):
        whole = [part[nth] for part in parts if len(part[nth])]
        made[name] = pd.concat(whole, ignore_index=True) if whole else empty(name)
    return made
