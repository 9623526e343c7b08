"""Walks: cross slope, running slope, clear width and passing spaces from the shots of both edges."""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import shapely
from pydantic import Field

from geoqa.contract.walks import CLEAR_WIDTH, CROSS_SLOPE, PASSING_SPACE, RUNNING_SLOPE
from geoqa.kernels.walks.numbers import Numbers
from geoqa.kernels.walks.passing import between_passing_spaces
from geoqa.model import words
from geoqa.model.check import Check
from geoqa.model.quantity import Length
from geoqa.model.reasons import WHY
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.edge_pairs import pair_kind, paired_kinds
from geoqa.model.tables.layer import Layers, shaped
from geoqa.steps.judging.remedies import NOTHING_AGAIN
from geoqa.steps.linework.observed import NEEDS, WANTS, observed
from geoqa.steps.linework.observed_strings import strings_among
from geoqa.steps.linework.pairs import Alone, Pair, pairs_of
from geoqa.steps.shots.flags import noted
from geoqa.steps.walks.edge_steps import edge_steps, with_steps
from geoqa.steps.walks.judged import Judgement, joined, judged, measured, not_judged, stacked
from geoqa.steps.walks.legs import Legs, legs_of
from geoqa.steps.walks.means import for_lasting, run_means, share_by_legs
from geoqa.steps.walks.obstructions import left_beside
from geoqa.steps.walks.panels import Panels, lacking_rows, panels, towards
from geoqa.steps.walks.readings import TABLES, beside, elsewhere

_AGAIN = NOTHING_AGAIN
"""A further pass along an edge has sections and numbers of its own: it decides nothing of those of the first."""
_KEYS = ("cross-slope", "running-slope", "clear-width", "passing-space")


class Walks(Step):
    """Judge cross slope, running slope, clear width and passing spaces of walks.

    A section is laid at every shot of either edge of a pair of the code list; sections across from each other make one.
    Neighbouring sections that agree are judged by their mean too: stretches are cut where the numbers change by more
    than their uncertainty, and where they are longer than `longest`. The random part of such a mean falls with the
    number of its shots as far as their errors differ: what neighbouring sections differ by says which share of it lasts
    (1/e in 20 minutes). A mean that keeps its limit does not speak for its members where three neighbours among them
    do not keep it in their mean.
    """

    name = "walks"
    needs = ("codes", "limits", "shots.kind", "shots.role", *NEEDS)
    wants = (*WANTS, *TABLES, "line_matches")
    gives = ("walk_sections",)
    adds = ("findings", "evidence", "notes")

    reach: Length = Field(Length.parse("15 ft"), description="Widest section of a walk")
    gap: Length = Field(Length.parse("60 ft"), description="Longest leg of an edge between two shots")
    slack: Length = Field(Length.parse("0.5 ft"), description="How far an edge is carried on past its end")
    apart: Length = Field(Length.parse("5 ft"), description="Sections within this stretch make one")
    spacing: Length = Field(Length.parse("20 ft"), description="Stretch over which a running slope is told")
    longest: Length = Field(Length.parse("150 ft"), description="Longest stretch that is judged by its mean")
    passing_width: Length = Field(Length.parse("60 in"), description="Least width of a passing space")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Sections of the pairs of kinds that have limits, and findings; nothing where none has."""
        if not _limited(layers):
            none = {name: empty(name) for name in self.adds}
            return none | {"walk_sections": shaped(empty("walk_sections"), [], layers.frame)}
        unit = layers.frame.unit
        shots = observed(layers)
        reach, gap = self.reach.to(unit), self.gap.to(unit)
        codes = layers["codes"]
        usable = shots[shots["why_plan"] == 0].reset_index(drop=True)
        strings = strings_among(layers, usable)
        pairs, alone = pairs_of(usable, codes, strings=strings, reach=reach, gap=gap, slack=self.slack.to(unit))
        pairs, alone = _in_observed(shots, usable, pairs, alone)
        pairs, alone = _asked(layers, pairs), _asked(layers, alone)
        found = panels(shots, pairs, alone, apart=self.apart.to(unit))
        lost = _lost(layers, shots, codes)
        found = Panels(table=found.table, slope=found.slope, width=found.width,
                       lacking=pd.concat([found.lacking, lost], ignore_index=True))  # fmt: skip
        parts: list[Judgement] = []
        if _limited(layers):
            legs, numbers = self._legs(layers, shots, codes)
            rows = measured(layers, numbers, RUNNING_SLOPE)
            share = _share(legs, numbers, rows)
            cross = self._cross(layers, found, share)
            steps = edge_steps(layers, pairs)
            parts += [with_steps(each, layers, pairs, steps) for each in cross]
            running = self._running(layers, legs, numbers, rows, share)
            parts += [with_steps(each, layers, pairs, steps, along=True) for each in running]
            parts += self._widths(layers, shots, found, pairs)
        made = joined(parts)
        return {
            "walk_sections": _sections_table(layers, found),
            "notes": noted(self.name, [{"note": "level-changes"}] if len(made.findings) else []),
            "findings": made.findings,
            "evidence": made.evidence,
        }

    def _cross(self, layers: Layers, found: Panels, share: float) -> list[Judgement]:
        """Cross slopes of the sections, and means of those that agree."""
        table, width = found.table, found.width.value
        bend = table["bend"].to_numpy(float) / np.where(width > 0, width, np.inf)
        sides = towards(found)
        labels = [f"{each}, {side}" for each, side in zip(table["label"], sides, strict=True)]
        rows = measured(layers, found.slope, CROSS_SLOPE)
        times = for_lasting(share, table["between"].to_numpy(float))
        return self._edges(layers, found, found.slope, labels, CROSS_SLOPE, rows, bend, times)

    def _edges(
        self, layers: Layers, found: Panels, numbers: Numbers, labels: list[str], check: Check, rows: pd.DataFrame,
        more: np.ndarray | float, times: np.ndarray | float = 1.0,
    ) -> list[Judgement]:  # fmt: skip
        """Numbers of the sections, or the readings beside them; means of those that agree; and what is lacking."""
        u = np.hypot(rows["u_random"].to_numpy(float), more)
        names = observed(layers)["name"].to_numpy(dtype=object)
        known = np.where(rows["why"] == 0, numbers.value, np.nan)
        whole = np.hypot(np.hypot(rows["u_random"].to_numpy(float) * times, more), rows["u_common"].to_numpy(float))
        read = beside(layers, check, labels, [set(names[each]) for each in found.table["named"]], known, whole)
        why = rows["why"].to_numpy(copy=True)
        why[read.instead["number"].to_numpy(int)] = WHY["no-number"]  # a mean is one of shots
        lacking = pd.concat([found.lacking, elsewhere(layers, check, read.lost)], ignore_index=True)
        about = _about(found.table, read.labels)
        made = self._means(layers, found, numbers, about, check, why, u, more, times, read.instead)
        return [*made, not_judged(layers, lacking, check)]

    def _means(
        self, layers: Layers, found: Panels, numbers: Numbers, about: pd.DataFrame, check: Check, why: np.ndarray,
        u: np.ndarray, more: np.ndarray | float, times: np.ndarray | float, instead: pd.DataFrame,
    ) -> list[Judgement]:  # fmt: skip
        single = judged(layers, numbers, about, check=check, u_more=more, times=times, instead=instead, again=_AGAIN)
        unit = layers.frame.unit
        means, members = run_means(
            layers, found.table, numbers, single, check=check, why=why, u=u,
            between=self.gap.to(unit), longest=self.longest.to(unit), more=more,
        )  # fmt: skip
        told = single.findings.assign(run=members)
        return [Judgement(findings=told, evidence=single.evidence, number=single.number), means]

    def _legs(self, layers: Layers, shots: pd.DataFrame, codes: pd.DataFrame) -> tuple[Legs, Numbers]:
        """Legs along all edges of walks, and their slopes with rows of `observed`."""
        unit = layers.frame.unit
        kinds = {own: pair_kind(*both) for both in paired_kinds(codes) for own in both}
        usable = (shots["why_plan"] == 0) & (shots["why_elevation"] == 0)
        mine = shots[usable].reset_index(drop=True)
        strings = strings_among(layers, mine)
        legs = legs_of(mine, kinds, strings=strings, spacing=self.spacing.to(unit), gap=self.gap.to(unit))
        place = np.append(np.flatnonzero(usable.to_numpy(bool)), -1)
        slope = legs.slope
        numbers = Numbers(value=slope.value, members=place[slope.members], easting=slope.easting,
                          northing=slope.northing, elevation=slope.elevation)  # fmt: skip
        return legs, numbers

    def _running(
        self, layers: Layers, legs: Legs, numbers: Numbers, rows: pd.DataFrame, share: float
    ) -> list[Judgement]:
        """Running slopes; what neighbouring shots share of their errors makes them better."""
        made = []
        if len(legs.table):
            times = for_lasting(share, legs.table["between"].to_numpy(float))
            u = rows["u_random"].to_numpy(float) * times
            names = observed(layers)["name"].to_numpy(dtype=object)
            known = np.where(rows["why"] == 0, numbers.value, np.nan)
            at = [set(names[each]) for each in numbers.members]
            read = beside(layers, RUNNING_SLOPE, list(legs.table["label"]), at, known, u)
            about = legs.table[["kind", "subject", "easting", "northing"]].assign(own=0, label=read.labels)
            made.append(judged(layers, numbers, about, check=RUNNING_SLOPE, times=times, instead=read.instead,
                               again=_AGAIN))  # fmt: skip
            made.append(not_judged(layers, elsewhere(layers, RUNNING_SLOPE, read.lost), RUNNING_SLOPE))
        if len(legs.lacking):
            made.append(not_judged(layers, legs.lacking.assign(rows=None), RUNNING_SLOPE))
        return made

    def _widths(self, layers: Layers, shots: pd.DataFrame, found: Panels, pairs: list[Pair]) -> list[Judgement]:
        """Widths of the sections, their means, those beside obstructions, and passing spaces."""
        unit = layers.frame.unit
        rows = measured(layers, found.width, CLEAR_WIDTH)
        u = np.hypot(rows["u_random"].to_numpy(float), rows["u_common"].to_numpy(float))
        made = self._edges(layers, found, found.width, list(found.table["label"]), CLEAR_WIDTH, rows, 0.0)
        left = left_beside(
            shots, pairs, layers["codes"], unit, reach=self.reach.to(unit), gap=self.gap.to(unit)
        )  # fmt: skip
        if len(left.table):
            own = [CLEAR_WIDTH.why(each) for each in left.table["reason"]]
            made.append(judged(layers, left.width, left.table.assign(own=own), check=CLEAR_WIDTH))
        made.append(self._passing(layers, found, rows, u))
        return made

    def _passing(self, layers: Layers, found: Panels, rows: pd.DataFrame, u: np.ndarray) -> Judgement:
        """The longest stretch of every pair without a passing space."""
        unit, table = layers.frame.unit, found.table
        value = np.where(rows["why"].to_numpy() == 0, found.width.value, np.nan)
        abouts, numbers, more = [], [], []
        for _, mine in table.groupby("line").groups.items():
            at = np.asarray(mine)
            if not np.isfinite(value[at] + u[at]).any():
                continue
            station = table["station"].to_numpy(float)[at]
            stretch = between_passing_spaces(station, value[at], u[at], wide=self.passing_width.to(unit))
            middle = at[int(np.argmin(np.abs(station - (stretch.start + stretch.end) / 2)))]
            one = table.iloc[[middle]]
            label = f"longest stretch narrower than {words.length(self.passing_width.to(unit), unit.name)}"
            abouts.append(_about(one, [label]))
            members = np.unique(found.width.members[at])
            members = members[members >= 0][None, :]
            flat = np.zeros(members.shape)
            numbers.append(Numbers(value=np.array([stretch.longest]), members=members, easting=flat, northing=flat,
                                   elevation=flat))  # fmt: skip
            more.append(stretch.u)
        if not abouts:
            return Judgement.none()
        made = judged(layers, stacked(numbers), pd.concat(abouts, ignore_index=True), check=PASSING_SPACE,
                      u_more=np.array(more), again=_AGAIN)  # fmt: skip
        # what would decide it is not told by the u of a distance
        open_rows = made.findings["verdict"] == "UNDECIDED"
        remedy = made.findings["remedy"].mask(open_rows, "tape the walk where it is about as wide as a passing space")
        return Judgement(findings=made.findings.assign(remedy=remedy), evidence=made.evidence, number=made.number)


def _share(legs: Legs, numbers: Numbers, rows: pd.DataFrame) -> float:
    """What shots soon after each other share of their random errors; 0 where the job does not tell."""
    if not len(legs.table):
        return 0.0
    table = legs.table
    value, u = np.where(rows["why"] == 0, numbers.value, np.nan), rows["u_random"].to_numpy(float)
    return share_by_legs(
        table["string"].to_numpy(), table["station"].to_numpy(float), value, u, table["between"].to_numpy(float)
    )


def _limited(layers: Layers) -> bool:
    return bool(layers["limits"]["check"].isin(_KEYS).any())


def _asked(layers: Layers, found: list[Any]) -> list[Any]:
    """Pairs of kinds that somebody walks on: those with a limit of a walk, and those called so."""
    limits = layers["limits"]
    kinds = {"walk"} | set(limits.loc[limits["check"].isin(_KEYS), "kind"])
    return [each for each in found if each.kind in kinds]


def _in_observed(
    shots: pd.DataFrame, usable: pd.DataFrame, pairs: list[Pair], alone: list[Alone]
) -> tuple[list[Pair], list[Alone]]:
    """The same, with rows that are places in the whole table."""
    place = shots.index[shots["why_plan"] == 0].to_numpy()

    def moved(string: Any) -> Any:
        return replace(string, rows=place[string.rows])

    assert len(place) == len(usable)
    return (
        [Pair(each.kind, each.kinds, moved(each.first), moved(each.second), each.sections) for each in pairs],
        [Alone(each.kind, each.own, each.partner, moved(each.string)) for each in alone],
    )


def _about(table: pd.DataFrame, labels: list[str]) -> pd.DataFrame:
    """Kind, subject and place of sections."""
    return pd.DataFrame(
        {
            "kind": table["kind"].to_numpy(),
            "subject": table["pair"].to_numpy(),
            "label": labels,
            "named": list(table["named"]),
            "easting": (table["first_easting"].to_numpy(float) + table["second_easting"].to_numpy(float)) / 2,
            "northing": (table["first_northing"].to_numpy(float) + table["second_northing"].to_numpy(float)) / 2,
            "own": 0,
        }
    )


def _lost(layers: Layers, shots: pd.DataFrame, codes: pd.DataFrame) -> pd.DataFrame:
    """Shots of edges that no section can be laid at: rejected ones, and those whose line is not known."""
    kinds = {own: pair_kind(*both) for both in paired_kinds(codes) for own in both}
    edge = shots["kind"].map(kinds)
    line = shots["line_id"].str.strip()
    known = shots["why_plan"] == 0
    alone = known & (
        line.isna() | (shots[known].groupby([shots["code"].str.strip(), line])["shot"].transform("size") < 2)
    )
    made = []
    named = pd.DataFrame({"kind": edge, "code": shots["code"].str.strip(), "line": line.fillna("-")})
    for reason, mine in (("no-line-id", alone), ("screened", shots["why_plan"] == WHY["screened"])):
        for _, rows in named[mine & edge.notna()].groupby(["kind", "code", "line"]):
            one = rows.iloc[0]
            made.append((str(one["kind"]), f"{one['code']} {one['line']}", reason, rows.index.to_numpy()))
    limits = layers["limits"]
    asked = {"walk"} | set(limits.loc[limits["check"].isin(_KEYS), "kind"])
    return lacking_rows(shots, [each for each in made if each[0] in asked])


def _sections_table(layers: Layers, found: Panels) -> pd.DataFrame:
    """The sections as a layer, drawn across the walk."""
    table = found.table
    if not len(table):
        return shaped(empty("walk_sections"), [], layers.frame)
    slope, width = measured(layers, found.slope, CROSS_SLOPE), measured(layers, found.width, CLEAR_WIDTH)
    bend = table["bend"].to_numpy(float) / np.where(found.width.value > 0, found.width.value, np.inf)
    usable = (slope["why"] == 0).to_numpy(bool)
    made = pd.DataFrame(
        {
            "section": [
                f"{pair}, {station:.1f}" for pair, station in zip(table["pair"], table["station"], strict=True)
            ],
            "kind": table["kind"],
            "pair": table["pair"],
            "station": table["station"],
            "shots": table["label"],
            "width": found.width.value,
            "u_width": np.hypot(width["u_random"], width["u_common"]),
            "cross_slope": np.where(usable, np.abs(found.slope.value), np.nan),
            "u_cross_slope": np.hypot(np.hypot(slope["u_random"], slope["u_common"]), bend),
            "towards": [side if fine else "" for side, fine in zip(towards(found), usable, strict=True)],
        }
    )
    first, second = (
        table[[f"{edge}_easting", f"{edge}_northing"]].to_numpy(float) for edge in ("first", "second")
    )  # fmt: skip
    drawn = shapely.linestrings(np.stack([first, second], axis=1))
    return shaped(conform("walk_sections", made), drawn, layers.frame)
