"""How high curbs show: top of curb less flow line at the same place."""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.drainage import REVEAL
from geoqa.kernels.design.run_means import LASTING
from geoqa.kernels.linework.sections import BEYOND, CROSSED, FOUND, GAP, TOO_FAR
from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import empty
from geoqa.model.tables.edge_pairs import pair_kind, paired_kinds
from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.open_blunders import moved_by
from geoqa.steps.design.alignments import alignments
from geoqa.steps.design.both_ways import beside_lines
from geoqa.steps.drainage.beside_design import beside_design, lasting_share
from geoqa.steps.drainage.reveal_means import reveal_means
from geoqa.steps.judging.findings import asked, evidence_of, findings_of, with_limits
from geoqa.steps.judging.one_a_line import one_a_line
from geoqa.steps.judging.remedies import NOTHING_AGAIN
from geoqa.steps.judging.text_columns import taken
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import NEEDS, WANTS, observed
from geoqa.steps.linework.observed_strings import strings_among
from geoqa.steps.linework.pairs import Alone, Pair, pairs_of, with_places_again
from geoqa.steps.shots.flags import noted

_WHY = {BEYOND: "no-top-beside", TOO_FAR: "no-top-beside", GAP: "top-not-shot", CROSSED: "top-on-other-side"}


class Reveals(Step):
    """Judge the reveal of curbs at every shot of their flow line.

    Top and flow line are the pairs of the code list whose kinds have the same first word, such as curb-top and
    curb-flow, and are judged under it. Which of two kinds is the top says the word `top` in its name. Neighbours that
    agree are judged by their mean too, as cross slopes of walks are. A curb that was shot again has reveals of its own
    by each pass, so no remedy asks for one.
    """

    name = "reveals"
    needs = ("limits", "codes", "design_lines", "design_elements", "shots.kind", "shots.role", *NEEDS)
    wants = ("line_matches", *WANTS)
    adds = ("findings", "evidence", "notes")

    reach: Length = Field(Length.parse("4 ft"), description="Farthest apart in plan the two lines of a curb may be")
    gap: Length = Field(
        Length.parse("50 ft"), description="Longest distance between two shots of the top that a reveal is taken across"
    )
    longest: Length = Field(Length.parse("150 ft"), description="Longest stretch that is judged by its mean")
    slack: Length = Field(Length.parse("2 ft"), description="How far past the last shot of the top it is carried on")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One finding for each usable shot of a flow line; what has none for one reason along a line is one of them."""
        limits, unit = layers["limits"], layers.frame.unit
        asked_of = set(limits.loc[limits["check"] == REVEAL.name, "kind"])
        made_of = {pair_kind(*kinds) for kinds in paired_kinds(layers["codes"]) if _top_of(kinds) >= 0}
        notes = noted(
            self.name, [{"note": "reveal-without-pair", "subject": kind} for kind in sorted(asked_of - made_of)]
        )
        nothing = {"findings": empty("findings"), "evidence": empty("evidence"), "notes": notes}
        if not asked_of & made_of:
            return nothing
        shots = observed(layers)
        good = (shots["why_plan"] == 0) & (shots["why_elevation"] == 0) & (shots["role"] == "feature")
        there = np.flatnonzero(good)
        options: dict[str, Any] = {
            "reach": self.reach.to(unit),
            "gap": self.gap.to(unit),
            "slack": self.slack.to(unit),
        }
        mine = shots.iloc[there].reset_index(drop=True)
        options["strings"] = strings_among(layers, mine, again=True)
        pairs, alone = pairs_of(mine, layers["codes"], **options)
        pairs += with_places_again(mine, pairs, **options)
        parts = [_of_pair(pair, there) for pair in pairs if _top_of(pair.kinds) >= 0]
        parts += [_of_alone(each, there) for each in alone if _top_of((each.own, each.partner)) == 1]
        parts += _left_over(shots, parts, layers["codes"])
        if not parts:
            return nothing
        rows = _once(pd.concat(parts, ignore_index=True), shots)
        rows = asked(with_limits(rows, limits, check=REVEAL))
        if not len(rows):
            return nothing
        rows = _held_to_design(_measured(layers, rows, shots), limits)
        means, speaks = reveal_means(
            layers, rows, shots, between=self.gap.to(unit), longest=self.longest.to(unit), lasting=lasting_share(layers)
        )
        rows = rows.drop(columns=["members", "weights", "pair", "along"]).assign(run=speaks)
        rows = one_a_line(rows.assign(station_end=np.nan), check=REVEAL, by=("kind", "subject", "source", "limit"))
        # a row of one shot is named by it, as it was before another lacked a number too
        named = [keys if pd.isna(shot) else [shot] for keys, shot in zip(rows["keys"], rows["shot"], strict=True)]
        run = rows.pop("run").fillna(-1).to_numpy(int)
        findings = findings_of(
            rows.drop(columns=["keys", "flow", "before", "after", "share"]), check=REVEAL, limits=limits,
            unit=unit.name, keys=named, again=NOTHING_AGAIN,
        )  # fmt: skip
        whole = findings_of(
            means.drop(columns="keys"), check=REVEAL, limits=limits, unit=unit.name, keys=means["keys"].tolist(),
            again=NOTHING_AGAIN,
        ) if len(means) else findings.iloc[:0]  # fmt: skip
        findings = findings.assign(run=taken(whole["finding"], run))
        findings = pd.concat([findings, whole], ignore_index=True) if len(whole) else findings
        rows = pd.concat([rows[["keys"]], means[["keys"]]], ignore_index=True) if len(means) else rows
        members = findings[["finding"]].assign(shot=rows["keys"]).explode("shot").dropna()
        return {
            "findings": findings,
            "evidence": evidence_of(members["finding"], members["shot"], role="member", layer="shots"),
            "notes": notes,
        }


def _top_of(kinds: tuple[str, str]) -> int:
    """Which of two kinds is the top of a curb; -1 for neither or both."""
    tops = ["top" in kind.split("-") for kind in kinds]
    return tops.index(True) if sum(tops) == 1 else -1


def _of_pair(pair: Pair, there: np.ndarray) -> pd.DataFrame:
    """Flow line shots of a pair, the two shots of the top beside each, and why there are none."""
    flow_edge = 1 - _top_of(pair.kinds)
    cut = pair.sections
    mine = np.flatnonzero(cut.edge == flow_edge)
    top = np.full(len(mine), 1 - flow_edge)

    def rows(edge: np.ndarray, shot: np.ndarray) -> np.ndarray:
        place = pair.row(edge, shot)
        return np.where(place < 0, -1, there[np.maximum(place, 0)])

    return pd.DataFrame(
        {"kind": pair.kind, "flow": rows(np.full(len(mine), flow_edge), cut.shot[mine]),
         "before": rows(top, cut.before[mine]), "after": rows(top, cut.after[mine]), "share": cut.share[mine],
         "width": cut.width[mine], "along": cut.station[mine], "pair": pair.name,
         "why": [0 if each == FOUND else REVEAL.why(_WHY[int(each)]) for each in cut.why[mine]]}
    )  # fmt: skip


def _of_alone(alone: Alone, there: np.ndarray) -> pd.DataFrame:
    rows = there[alone.string.rows]
    return pd.DataFrame(
        {"kind": alone.kind, "flow": rows, "before": -1, "after": -1, "share": np.nan, "width": np.nan,
         "along": np.nan, "pair": "", "why": REVEAL.why("no-top-beside")}
    )  # fmt: skip


def _left_over(shots: pd.DataFrame, parts: list[pd.DataFrame], codes: pd.DataFrame) -> list[pd.DataFrame]:
    """Flow line shots that are in none of the parts, each with what keeps it from having a reveal."""
    told = np.concatenate([np.zeros(0, dtype=np.int64), *(part["flow"].to_numpy() for part in parts)])
    rest = np.setdiff1d(np.flatnonzero((shots["role"] == "feature").to_numpy(bool)), told)
    made = []
    for kinds in paired_kinds(codes):
        top = _top_of(kinds)
        mine = rest[(shots["kind"].iloc[rest] == kinds[1 - top]).to_numpy(bool)] if top >= 0 else rest[:0]
        plan, level = (shots[f"why_{place}"].to_numpy()[mine] for place in ("plan", "elevation"))
        why = np.select([plan > 0, level > 0], [plan, level], REVEAL.why("in-no-string"))
        made.append(
            pd.DataFrame(
                {"kind": pair_kind(*kinds), "flow": mine, "before": -1, "after": -1, "share": np.nan, "width": np.nan,
                 "along": np.nan, "pair": "", "why": why}
            )
        )  # fmt: skip
    return [each for each in made if len(each)]


def _once(rows: pd.DataFrame, shots: pd.DataFrame) -> pd.DataFrame:
    """Each flow line shot once, with the nearest top it has; in the order of their keys."""
    rows = rows.assign(key=shots["shot"].to_numpy(dtype=object)[rows["flow"].to_numpy()], bad=rows["why"] > 0)
    rows = rows.sort_values(["key", "bad", "width", "why"], kind="stable").drop_duplicates("key")
    return rows.drop(columns=["key", "bad", "width"]).reset_index(drop=True)


def _measured(layers: Layers, rows: pd.DataFrame, shots: pd.DataFrame) -> pd.DataFrame:
    """Reveals with design and uncertainty, and where each lies."""
    share = np.nan_to_num(rows["share"].to_numpy(float))
    members = rows[["flow", "before", "after"]].to_numpy(np.int64)
    known = members[:, 1] >= 0
    weights = np.column_stack([np.full(len(rows), -1.0), 1.0 - share, share]) * known[:, None]
    members = np.where((weights == 0) & known[:, None], -1, members)
    line, station, level, _ = beside_design(layers)
    z = shots["elevation"].to_numpy(float)
    value, design = (np.where(known, (weights * of[np.maximum(members, 0)]).sum(axis=1), np.nan) for of in (z, level))
    made = derived_rows(
        layers, members, {"elevation": weights}, value,
        show=lambda number: words.length(number, layers.frame.unit.name),
    )  # fmt: skip
    made["u_random"] *= _gain(shots, members, weights, lasting_share(layers))
    made["members"], made["weights"] = pd.Series(list(members)), pd.Series(list(weights))
    flow = rows["flow"].to_numpy()
    made["why"] = np.where(rows["why"] > 0, rows["why"], made["why"])
    made["design"] = design
    made["without_own"], made["without"] = made["without"], _where_it_would_be(layers, made, members, weights)
    at = station[flow]
    names = shots["name"].to_numpy(dtype=object)[flow]
    labels = [
        f"shot {name}" + (f", {words.station(one)}" if np.isfinite(one) else "")
        for name, one in zip(names, at, strict=True)
    ]
    design_lines = alignments(layers)
    lines, of = (
        taken([str(each) for each in names], np.maximum(line[flow], -1))
        for names in (design_lines.names, design_lines.sources)
    )
    return pd.concat([rows.drop(columns="why"), made], axis=1).assign(
        subject=lines.fillna("-"), source=of.fillna("shots"), shot=shots["shot"].take(flow).to_numpy(), label=labels,
        station=at, easting=shots["easting"].to_numpy(float)[flow], northing=shots["northing"].to_numpy(float)[flow],
        elevation=z[flow],
    )  # fmt: skip


def _where_it_would_be(
    layers: Layers, made: pd.DataFrame, members: np.ndarray, weights: np.ndarray
) -> pd.Series | np.ndarray:
    """Reveals without a blunder that moves shots in plan, against the design reveal of the place they have then.

    Where a curb is lowered, the design reveal of a place some feet away is another one.
    """
    shots = observed(layers)
    moved = moved_by(layers, shots["shot"])
    if moved is None or not (made["without"].notna() & made["design"].notna()).any():
        return made["without"]
    line, _, level, _ = beside_design(layers)
    aside = moved.acts & (line >= 0) & (np.hypot(*moved.shift[:, :2].T) > 0)
    if not aside.any():
        return made["without"]
    names = pd.Series(taken([str(each) for each in alignments(layers).names], np.maximum(line, -1)), dtype="str")
    there = beside_lines(layers, shots.assign(subject=names), replace(moved, acts=aside), check="elevation").same
    away = np.where(aside, there, shots["elevation"].to_numpy(float) - moved.shift[:, 2] - level)
    held = aside[np.maximum(members, 0)].any(axis=1) & made["without"].notna() & made["design"].notna()
    bare = made["design"] + (weights * away[np.maximum(members, 0)]).sum(axis=1)
    return made["without"].where(~held, bare)


def _gain(shots: pd.DataFrame, members: np.ndarray, weights: np.ndarray, lasting: float) -> np.ndarray:
    """By how much reveals gain from what their shots have in common for minutes, (n,)."""
    at = np.maximum(members, 0)
    own, minutes = (shots[name].to_numpy(float)[at] for name in ("u_v_random", "minutes"))
    group = shots["group_v"].to_numpy()[at]
    part = np.where(members >= 0, weights * own, 0.0)
    without = (part**2).sum(axis=1)
    shared = np.zeros(len(members))
    for one, other in ((0, 1), (0, 2), (1, 2)):
        held = np.nan_to_num(np.exp(-np.abs(minutes[:, one] - minutes[:, other]) / LASTING))
        shared += np.where(group[:, one] == group[:, other], 2 * held * part[:, one] * part[:, other], 0.0)
    ratio = np.divide(without + lasting * shared, without, out=np.ones(len(members)), where=without > 0)
    return np.asarray(np.sqrt(np.clip(ratio, 0.0, 1.0)))


def _held_to_design(rows: pd.DataFrame, limits: pd.DataFrame) -> pd.DataFrame:
    """Limits about the design reveal where there is one, half the distance of least and most to either side."""
    least, most = (limits[name].to_numpy(float)[rows["limit"].to_numpy()] for name in ("lower", "upper"))
    half, design = (most - least) / 2, rows["design"].to_numpy(float)
    known = np.isfinite(design) & np.isfinite(half)
    # one side alone says how low or high a full curb may be: lowered by design, a curb is held to none of it
    open_side = np.isfinite(design) & ~np.isfinite(half)
    lower = np.where(known, design - half, np.where(open_side, np.minimum(least, design), np.nan))
    upper = np.where(known, design + half, np.where(open_side, np.maximum(most, design), np.nan))
    return rows.assign(lower=lower, upper=upper)
