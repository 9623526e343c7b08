"""One run of the tool held against the truth of its simulated job.

Reads tables only: findings, runs, run members, evidence and flags, and the truth. Nothing here knows how
the tool came to them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import ndtri

from geoqa.simulate.crew.record import RESOLUTION
from geoqa.simulate.expected import RADIAL, SHOT_CHECKS
from geoqa.simulate.power import rice
from geoqa.simulate.site import scenario
from geoqa.simulate.truth import Truth

if TYPE_CHECKING:
    import pandas as pd

REACH = 8.0
"""Feet beyond a ramp at which a walk is no longer lowered by it; its own stations run ahead behind the curve."""
FAR = 15.0
"""Feet within which a planted thing must be reported."""


@dataclass(frozen=True, eq=False)
class Compared:
    """What one run said, beside what was to be expected.

    Attributes
    ----------
    shots : DataFrame
        One row per check of a shot that has a limit: truth, probabilities, verdict, ``z`` (error of
        the number over its u), ``planted``.
    runs : DataFrame
        One row per run: verdict, ``z``, ``planted``.
    other : DataFrame
        Findings about lines or groups of shots, neither of a shot nor of a run: verdict, ``planted``.
    items : DataFrame
        One row per planted thing: verdict found (``missing`` if none), how far off its place, flags.
    """

    shots: "pd.DataFrame"
    runs: "pd.DataFrame"
    other: "pd.DataFrame"
    items: "pd.DataFrame"


def compare(truth: Truth, layers: Mapping[str, Any]) -> Compared:
    """Hold the findings of one run against the truth.

    Parameters
    ----------
    truth : Truth
    layers : mapping of str to DataFrame
        Layers after all steps.
    """
    import pandas as pd

    findings = pd.DataFrame(layers["findings"]).drop(columns="geometry", errors="ignore")
    runs = pd.DataFrame(layers["runs"]).drop(columns="geometry", errors="ignore")
    of_run = findings["finding"].isin(runs["run"])
    single = findings["shot"].notna() & ~of_run & findings["check"].isin(SHOT_CHECKS)
    shots = _shots(truth, findings[single])
    told_runs = _runs(truth, findings[of_run], layers["run_members"])
    # what a number of several shots reports is not counted again
    several = findings["run"].notna() & ~findings["check"].isin(SHOT_CHECKS)
    other = findings[~single & ~of_run & ~several]
    evidence = pd.DataFrame(layers["evidence"])
    items = pd.DataFrame([_item(item, shots, told_runs, other, evidence, findings, layers) for item in truth.items])
    claimed = {name for names in items["findings"] for name in names}
    claimed |= set(findings.loc[findings["finding"].isin(claimed), "run"].dropna())  # what speaks for a planted one
    told_runs["planted"] |= told_runs["finding"].isin(claimed)
    other = other.assign(planted=other["finding"].isin(claimed | _of_lowered_walk(truth, other, evidence)))
    return Compared(shots, told_runs, other, items.drop(columns="findings"))


def _planted_pairs(truth: Truth) -> set[tuple[str, str]]:
    return {
        (shot, item["check"])
        for item in truth.items
        if item["check"] and item["level"] in ("shot", "run")
        for shot in item["shots"]
    }


def _shots(truth: Truth, findings: "pd.DataFrame") -> "pd.DataFrame":
    """Every expected check with the finding about it; ``missing`` where the tool said nothing."""
    names = ["finding", "shot", "check", "deviation", "u", "verdict", "why", "subject", "easting", "northing"]
    told = findings[names].rename(columns={"shot": "shot_key", "u": "stated_u"})
    rows = truth.checks.merge(told, on=["shot_key", "check"], how="left", validate="one_to_one")
    rows["verdict"] = rows["verdict"].fillna("missing")
    pairs = _planted_pairs(truth)
    rows["planted"] = [pair in pairs for pair in zip(rows["shot_key"], rows["check"], strict=True)]
    # a number that waits for something is no claim
    waits = rows["verdict"] == "NO_DATA"
    rows["z"] = _error(rows["check"], rows["deviation"].mask(waits), rows["number"], rows["stated_u"])
    return rows


def _error(check: "pd.Series", deviation: "pd.Series", number: "pd.Series", u: "pd.Series") -> np.ndarray:
    """Error of a number over its stated u.

    A distance is never negative and not normal about the true one, so for it the probability of a
    smaller distance, under the stated u, is turned into the normal value of the same probability.
    Distances shorter than half the recorded resolution are not told apart.
    """
    z = ((deviation - number) / u).to_numpy(float).copy()
    radial = check.isin(RADIAL).to_numpy() & np.isfinite(z)
    below = rice(np.maximum(deviation[radial], RESOLUTION / 2), number[radial], u[radial])
    z[radial] = ndtri(np.clip(below, 1e-300, 1 - 1e-16))
    return z


def _runs(truth: Truth, findings: "pd.DataFrame", members: Any) -> "pd.DataFrame":
    """Every run with the true mean of its members."""
    import pandas as pd

    members = pd.DataFrame(members)
    rows = findings[["finding", "check", "kind", "subject", "deviation", "u", "verdict", "easting", "northing"]].copy()
    joined = members.merge(rows[["finding", "check"]], left_on="run", right_on="finding")
    deviations = truth.shots.set_index("shot_key")[["offset_deviation", "elevation_deviation"]]
    true = deviations.reindex(joined["shot_key"])
    joined["part"] = joined["weight"] * np.where(
        joined["check"] == "offset", true["offset_deviation"], true["elevation_deviation"]
    )
    pairs = _planted_pairs(truth)
    joined["hit"] = [pair in pairs for pair in zip(joined["shot_key"], joined["check"], strict=True)]
    by_run = joined.groupby("run")
    rows["number"] = rows["finding"].map(by_run["part"].sum())
    rows["shots"] = rows["finding"].map(by_run["shot_key"].agg(tuple))
    rows["planted"] = rows["finding"].map(by_run["hit"].any()).fillna(False).astype(bool)
    rows["z"] = ((rows["deviation"] - rows["number"]) / rows["u"]).to_numpy(float)
    return rows


def _item(
    item: Mapping[str, Any],
    shots: "pd.DataFrame",
    runs: "pd.DataFrame",
    other: "pd.DataFrame",
    evidence: "pd.DataFrame",
    findings: "pd.DataFrame",
    layers: Mapping[str, Any],
) -> dict[str, Any]:
    """What was said about one planted thing."""
    if item["level"] == "run":
        told = _largest_overlap(runs, set(item["shots"]), item)
    elif item["level"] in ("section", "stretch"):
        told = _of_several(findings, item, evidence)
    elif item["level"] == "element":
        told = _about_element(other, item, evidence)
    elif item["expect"] == "NO_DATA":
        wanted = findings["shot"].isin(item["shots"])
        told = findings[wanted & (findings["check"] == item["check"])] if item["check"] else findings[wanted]
    else:
        told = shots[(shots["check"] == item["check"]) & shots["shot_key"].isin(item["shots"])]
    expected = item["chances"] or {}
    if item["level"] == "shot" and len(told) == 1 and "within" in told:
        expected = dict(zip(("IN", "UNDECIDED", "OUT"), told.iloc[0][["within", "undecided", "out"]], strict=True))
    return {
        **{name: item[name] for name in ("plant", "check", "level", "subject", "excess", "flag", "expect")},
        "verdict": _verdict(told) if item["check"] or item["expect"] else "",
        "advised": bool((told.loc[told["verdict"] == "UNDECIDED", "remedy"].fillna("") != "").all())
        if "remedy" in told
        else True,
        "away": _away(told, item),
        "flagged": _flagged(item, layers),
        **{f"p_{name}": float(expected.get(name, 0.0)) for name in ("IN", "UNDECIDED", "OUT", "NO_DATA")},
        "findings": tuple(told["finding"].dropna()) if len(told) else (),
    }


def _verdict(told: "pd.DataFrame") -> str:
    """The one verdict found; ``mixed`` where findings differ."""
    verdicts = set(told["verdict"])
    return "missing" if not verdicts else verdicts.pop() if len(verdicts) == 1 else "mixed"


def _largest_overlap(runs: "pd.DataFrame", wanted: set[str], item: Mapping[str, Any]) -> "pd.DataFrame":
    """The run that holds most of the planted shots, if it holds more than half of them."""
    mine = runs[(runs["check"] == item["check"]) & (runs["subject"] == item["subject"])]
    shared = mine["shots"].map(lambda members: len(wanted & set(members)))
    return mine[(shared * 2 > len(wanted)) & (shared == shared.max())]


def _about_element(other: "pd.DataFrame", item: Mapping[str, Any], evidence: "pd.DataFrame") -> "pd.DataFrame":
    mine = other[other["check"] == item["check"]]
    if item["shots"]:
        about = evidence.loc[evidence["key"].isin(item["shots"]), "finding"]
        return mine[mine["finding"].isin(about)]
    begin, end = item["stations"]
    shared = np.minimum(mine["station_end"], end) - np.maximum(mine["station"], begin)
    return mine[(mine["subject"] == item["subject"]) & (2 * shared > end - begin)]


def _of_several(findings: "pd.DataFrame", item: Mapping[str, Any], evidence: "pd.DataFrame") -> "pd.DataFrame":
    """The reported number of several shots whose evidence is nearest to the planted shots.

    A stretch that is a defect may be told in parts: a part that is out, and of which most was planted, has found it,
    whatever the mean of another part says.
    """
    import pandas as pd

    # a planted section is held against its own number, though a run of neighbours speaks for it
    spoken_for = findings["run"].notna() & (item["level"] != "section")
    mine = findings[(findings["check"] == item["check"]) & ~spoken_for]
    wanted = set(item["shots"])
    keys = evidence.loc[evidence["finding"].isin(mine["finding"]), ["finding", "key"]]
    own = mine.loc[mine["shot"].notna(), ["finding", "shot"]].set_axis(["finding", "key"], axis=1)
    held = pd.concat([keys, own]).groupby("finding")["key"].agg(set)
    shared = held.map(lambda keys: len(keys & wanted))
    alike = held.map(lambda keys: len(keys & wanted) / len(keys | wanted))
    near = alike[shared * 2 > len(wanted)]
    if item["level"] == "stretch" and item["excess"] >= 0:
        out = held.index.isin(mine.loc[mine["verdict"] == "OUT", "finding"])
        named = alike[out & (2 * shared > np.minimum(held.map(len), len(wanted)))]
        near = named if len(named) else near
    return mine[mine["finding"].isin(near.index[near == near.max()][:1])] if len(near) else mine.iloc[:0]


def _of_lowered_walk(truth: Truth, other: "pd.DataFrame", evidence: "pd.DataFrame") -> set[str]:
    """Numbers of a walk that lie where a ramp or a driveway lowers it: the design itself falls otherwise there."""
    shots = truth.shots[truth.shots["kind"].isin(["walk-front", "walk-back"])]
    side = shots["design"].str.split("-").str[1]
    low = np.zeros(len(shots), dtype=bool)
    for dip in scenario.DEPRESSIONS:
        near = shots["station"].between(dip.first - dip.taper - REACH, dip.last + dip.taper + REACH)
        low |= (near & (side == dip.side)).to_numpy(bool)
    about = evidence.loc[evidence["key"].isin(set(shots["shot_key"][low])), "finding"]
    walk = other["check"].isin(["cross-slope", "running-slope"])
    return set(other.loc[walk & other["finding"].isin(about), "finding"])


def _away(told: "pd.DataFrame", item: Mapping[str, Any]) -> float:
    """Distance from the planted places, or from their middle, to the place reported."""
    if not len(told) or not item["places"]:
        return np.nan
    places = np.array([np.mean(item["places"], axis=0), *item["places"]])
    reported = told[["easting", "northing"]].to_numpy(float)
    return float(np.hypot(*(reported[:, None] - places).transpose(2, 0, 1)).min())


def _flagged(item: Mapping[str, Any], layers: Mapping[str, Any]) -> bool | None:
    """Whether every shot of the item carries its flag; None where none is expected."""
    if not item["flag"]:
        return None
    flags = layers["flags"]
    return set(item["shots"]) <= set(flags.loc[flags["flag"] == item["flag"], "shot_key"])
