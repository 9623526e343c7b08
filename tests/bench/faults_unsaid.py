"""What must not be said about a planted fault: the defects that a fault of measuring would make, were it believed."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from bench.said import Said

Unsaid = Callable[["Said"], list[str]]


def nothing(said: "Said") -> list[str]:
    """Nothing is forbidden beside what is forbidden everywhere."""
    return []


def causes(layers: Mapping[str, Any]) -> list[str]:
    """Causes named."""
    rows = layers["causes"]
    named = rows[(rows["explanation"] == 1) & ~rows["status"].isin(["none", "no-control"])]
    return [f"cause {status}: {cause}" for status, cause in zip(named["status"], named["cause"], strict=True)]


def defects(layers: Mapping[str, Any]) -> list[str]:
    """Causes named, and findings that are OUT."""
    out = layers["findings"].query("verdict == 'OUT'")
    return causes(layers) + [f"{row.check} {row.subject} {row.label} is OUT" for row in out.itertuples()]


def new_defects(said: "Said") -> list[str]:
    """Causes named, and findings that are OUT only since the fault was planted, and are none of its truth."""
    before = said.clean["findings"].query("verdict == 'OUT'")
    expected = {
        (item["check"], item["subject"])
        for item in said.simulated.truth.items
        if item["check"] and (item["expect"] == "OUT" or (item["excess"] or 0.0) > 0)
    }
    return new_claims(said.layers, before["finding"], expected)


def new_claims(
    layers: Mapping[str, Any], before: "pd.Series", expected: set[tuple[str, str]] | None = None
) -> list[str]:
    """Causes named, and findings that are OUT and neither in `before` nor `expected` (check and subject)."""
    findings = layers["findings"]
    # a shot that strays alone or has a poor sky may be out, as long as the first thing asked for is to shoot it again
    stray = findings["remedy"].fillna("").str.startswith("re-shoot it first")
    planted = [pair in (expected or set()) for pair in zip(findings["check"], findings["subject"], strict=True)]
    fresh = ~findings["finding"].isin(before) & ~stray & ~np.array(planted, dtype=bool)
    return defects({"causes": layers["causes"], "findings": findings[fresh]})


def judged(flag: str) -> Unsaid:
    """Any verdict about shots of which nothing is known until the fault is settled; and a code changed unasked."""

    def breaches(said: "Said") -> list[str]:
        keys = said.keys(flag)
        findings = said.layers["findings"]
        mine = findings[findings["shot"].isin(keys) & (findings["verdict"] != "NO_DATA")]
        told = [f"{row.check} of {row.shot} is {row.verdict}" for row in mine.itertuples()]
        return told + _changed(said)

    return breaches


def lost(flag: str) -> Unsaid:
    """A shot that is left out, closed or renamed without a word."""

    def breaches(said: "Said") -> list[str]:
        shots = said.layers["shots"].set_index("shot_key")
        gone = [key for key in said.keys(flag) if key not in shots.index or not shots.loc[key, "use"]]
        return [f"{key} is not used" for key in gone] + _changed(said)

    return breaches


def _changed(said: "Said") -> list[str]:
    """Rows that are more, fewer, or others than those handed over."""
    columns = ["shot", "code", "line_id", "sequence", "easting", "northing", "elevation"]
    given = said.simulated.tables["shots"].set_index("shot_key")[columns]
    kept = pd.DataFrame(said.layers["shots"]).set_index("shot_key")[columns]
    return [] if given.equals(kept.reindex(given.index)) and len(given) == len(kept) else ["rows were changed"]


def another_rule(said: "Said") -> list[str]:
    """Any rule on checks that is said to be broken beside the one that is; or that one said to be kept."""
    rows = said.layers["session_checks"]
    broken = {(row.session, row.rule) for row in rows.itertuples() if row.met is not pd.NA and not row.met}
    return [f"{rule} of session {session}" for session, rule in sorted(broken ^ {("C", "closing")})]


def counted_repeats(said: "Said") -> list[str]:
    """Repeats that came too soon, counted as independent or taken for an accuracy."""
    sets = said.layers["repeat_sets"].query("kind == 'walk-back'")
    told = [f"{row.point} counts {row.independent} times" for row in sets.itertuples() if row.independent != 1]
    parts = said.layers["crew_precision"].query("part != 'reported'")
    marks = said.simulated.tables["control"]["mark"].nunique()
    told += [f"{row.axis} {row.part} rests on {row.points} points" for row in parts.itertuples() if row.points != marks]
    near = parts.loc[parts["part"] == "near", "words"]
    return told + [f"near: {words}" for words in near if "NOT an accuracy" not in words]


def across(said: "Said") -> list[str]:
    """A run of one feature on both sides of the opening that two strings were joined over."""
    design = said.simulated.truth.shots.set_index("shot_key")["design"]
    members = said.layers["run_members"]
    lines = members["shot_key"].map(design).groupby(members["run"]).nunique()
    return [f"run {run} crosses the opening" for run in lines[lines > 1].index] + lost("false-jump")(said)


def accused(said: "Said") -> list[str]:
    """A verdict that rows were copied, or that they conform; the raw log not asked for."""
    rows = said.layers["findings"].query("check == 'identical'")
    texts = [*rows["remedy"], *rows["label"], *said.reasons("identical-to-design").values()]
    told = [text for text in texts if "cop" in text.lower()]
    told += [text for text in rows["remedy"] if "please supply the raw log" not in text]
    return told + judged("identical-to-design")(said)


def low(flag: str) -> Unsaid:
    """An elevation of shots that have none judged, or the plan position of one of them not judged."""

    def breaches(said: "Said") -> list[str]:
        findings = said.layers["findings"]
        mine = findings[findings["shot"].isin(said.keys(flag))]
        level, plan = (mine[(mine["check"] == check)] for check in ("elevation", "position"))
        told = [f"elevation of {row.shot} is {row.verdict}" for row in level.itertuples() if row.verdict != "NO_DATA"]
        told += [f"position of {row.shot} is not judged" for row in plan.itertuples() if row.verdict == "NO_DATA"]
        blank = {key for item in said.simulated.truth.items if item["expect"] == "NO_DATA" for key in item["shots"]}
        rows = findings[findings["shot"].isin(blank) & (findings["check"] == "elevation")]
        told += [f"elevation of {row.shot} is {row.verdict}" for row in rows.itertuples() if row.verdict != "NO_DATA"]
        counted = len(level) == len(plan) == len(said.keys(flag)) and len(rows) == len(blank)
        return told if counted else [*told, "findings are missing"]

    return breaches
