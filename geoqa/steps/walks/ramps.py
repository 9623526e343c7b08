"""Curb ramps: their slopes, turning spaces, flares and detectable warnings from the shots of their corners."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.walks import (
    COUNTER_SLOPE,
    FLARE_SLOPE,
    GRADE_CHANGE,
    RAMP_CROSS_SLOPE,
    RAMP_SLOPE,
    TURNING_SLOPE,
    TURNING_SPACE,
    WARNING_DEPTH,
)
from geoqa.kernels.walks.numbers import Numbers, distances, means, slopes
from geoqa.kernels.walks.ramp_rows import RampRows, ramp_rows
from geoqa.model.check import Check
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.model.words import listed
from geoqa.steps.linework.observed import NEEDS, WANTS, observed
from geoqa.steps.shots.flags import noted
from geoqa.steps.shots.strings import ONE_PLACE
from geoqa.steps.walks.judged import Judgement, joined, judged, measured, not_judged, stacked
from geoqa.steps.walks.ramp_shots import FLARE, GUTTER, RAMP, WARNING, Ramp, ramps_of
from geoqa.steps.walks.readings import TABLES, beside, elsewhere

CHECKS = (
    *(RAMP_SLOPE, RAMP_CROSS_SLOPE, COUNTER_SLOPE, GRADE_CHANGE),
    *(TURNING_SPACE, TURNING_SLOPE, FLARE_SLOPE, WARNING_DEPTH),
)


@dataclass(frozen=True, eq=False)
class _Item:
    """One number of a ramp, or why there is none."""

    check: Check
    part: str
    number: Numbers | None
    reason: str = ""


class Ramps(Step):
    """Judge the slopes and sizes of curb ramps.

    Shots belong to a ramp by the name in their line ID, without the number of the corner, or by their place. In which
    rows they lie, and which way is up, is found from the shots: foot, head, far side of the turning space, and the
    gutter in front of it, where a row of the ramp or shots of the kind `gutter` lie there. Flares are shots of the kind
    `flare`. Shots of one corner are one place: what is measured again makes its numbers better.
    """

    name = "ramps"
    needs = ("limits", "shots.kind", "shots.role", *NEEDS)
    wants = (*WANTS, *TABLES, "line_matches")
    adds = ("findings", "evidence", "notes")

    reach: Length = Field(Length.parse("15 ft"), description="Farthest shot from the middle of its ramp")
    row_gap: Length = Field(Length.parse("1.5 ft"), description="Shots farther apart along the run are of two rows")
    gutter_reach: Length = Field(Length.parse("4 ft"), description="Farthest row of the gutter in front of the foot")
    warning_gap: Length = Field(
        Length.parse("0.75 ft"), description="Least depth that two sides of a warning are told by"
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Findings of every ramp, where its kind has limits."""
        unit = layers.frame.unit
        shots = observed(layers)
        wanted = {check.name for check in CHECKS} & set(layers["limits"]["check"])
        parts: list[Judgement] = []
        notes: list[dict[str, object]] = []
        if wanted:
            ramps = ramps_of(shots, reach=self.reach.to(unit))
            notes = _of_one_name(ramps)
            items = [(ramp, item) for ramp in ramps for item in self._items(layers, shots, ramp)]
            for check in CHECKS:
                mine = [(ramp, item) for ramp, item in items if item.check is check]
                parts.append(_judged(layers, shots, check, mine))
        made = joined(parts)
        return {"findings": made.findings, "evidence": made.evidence, "notes": noted(self.name, notes)}

    def _items(self, layers: Layers, shots: pd.DataFrame, ramp: Ramp) -> list[_Item]:
        unit = layers.frame.unit
        places = shots[["easting", "northing", "elevation"]].to_numpy(float)
        corners, made = ramp.rows(RAMP), []
        found = None
        if len(corners):
            found = ramp_rows(
                places[corners], row_gap=self.row_gap.to(unit), gutter_reach=self.gutter_reach.to(unit)
            )  # fmt: skip
            made += _of_corners(places, ramp, corners, found, ONE_PLACE.to(unit))
        made += self._warning(layers, places, ramp, found)
        return made

    def _warning(self, layers: Layers, places: np.ndarray, ramp: Ramp, found: RampRows | None) -> list[_Item]:
        """Depth of the detectable warning, along the run where that is known."""
        rows = ramp.rows(WARNING)
        if not len(rows):
            return []
        none = [_Item(WARNING_DEPTH, "warning", None, "one-side")]
        if found is None or len(rows) < 2:
            return none
        up = np.array([np.sin(np.radians(found.azimuth)), np.cos(np.radians(found.azimuth))])
        along = places[rows, :2] @ up
        order = np.argsort(along, kind="stable")
        steps = np.diff(along[order])
        if not steps.max() > self.warning_gap.to(layers.frame.unit):
            return none
        cut = int(np.argmax(steps)) + 1
        return [_Item(WARNING_DEPTH, "warning", _between(places, rows[order[:cut]], rows[order[cut:]], distances))]


def _of_one_name(ramps: list[Ramp]) -> list[dict[str, object]]:
    """A note for every name that several ramps bear."""
    names: dict[str, list[str]] = {}
    for each in ramps:
        if each.shared:
            names.setdefault(each.shared, []).append(each.name)
    return [
        {"note": "ramps-of-one-name", "subject": name, "count": len(mine), "written": listed(mine)}
        for name, mine in sorted(names.items())
    ]


def _of_corners(places: np.ndarray, ramp: Ramp, corners: np.ndarray, found: RampRows | None, one: float) -> list[_Item]:
    """Numbers of the run, the gutter, the turning space and the flares."""
    if found is None or len(found.foot) < 2 or len(found.head) < 2:
        few = len(corners) < 4 or found is not None
        reason = "three-corners" if few else "one-row"
        every = [(check, "three-corners") for check in CHECKS[2:-1]]
        return [_Item(check, "run", None, why) for check, why in [*((c, reason) for c in CHECKS[:2]), *every]]
    foot, head, far = (corners[each] for each in (found.foot, found.head, found.far))
    along = partial(slopes, azimuth=found.azimuth)
    run = _between(places, foot, head, along)
    made = [_Item(RAMP_SLOPE, "run", run)]
    made += [_Item(RAMP_CROSS_SLOPE, name, _between(places, *_corners(places, row, one), slopes))
             for name, row in (("foot", foot), ("head", head))]  # fmt: skip
    gutter = ramp.rows(GUTTER) if len(ramp.rows(GUTTER)) else corners[found.gutter]
    if len(gutter):
        # one shot of the gutter is compared with the shot of the foot across from it
        before = foot if len(gutter) > 1 else foot[[_nearest(places, foot, gutter[0])]]
        counter = _between(places, before, gutter, along)
        both = means(stacked([run, counter]), np.zeros(2, dtype=int), np.ones(2))
        made += [_Item(COUNTER_SLOPE, "gutter", counter), _Item(GRADE_CHANGE, "gutter", _times(both, 2.0))]
    else:
        made += [_Item(check, "gutter", None, "no-gutter-shots") for check in (COUNTER_SLOPE, GRADE_CHANGE)]
    if len(far) >= 2:
        made += _turning(places, _corners(places, head, one), _corners(places, far, one), (head, far), found.azimuth)
    else:
        made += [_Item(check, "turning space", None, "no-turning-space") for check in (TURNING_SPACE, TURNING_SLOPE)]
    flares = ramp.rows(FLARE)
    for mine in _by_place(places, flares, one):
        end = _nearest(places, foot[[0, -1]], mine[0])
        made.append(_Item(FLARE_SLOPE, "flare", _between(places, _corners(places, foot, one)[end], mine, slopes)))
    if not len(flares):
        made.append(_Item(FLARE_SLOPE, "flares", None, "no-flare-shots"))
    return made


def _nearest(places: np.ndarray, some: np.ndarray, row: int) -> int:
    return int(np.argmin(np.hypot(*(places[some, :2] - places[row, :2]).T)))


def _corners(places: np.ndarray, row: np.ndarray, one: float) -> tuple[np.ndarray, np.ndarray]:
    """Shots of both corners at the ends of a row; a corner that was shot again has several."""
    away = [np.hypot(*(places[row, :2] - places[end, :2]).T) for end in row[[0, -1]].tolist()]
    return row[away[0] <= one], row[away[1] <= one]


def _by_place(places: np.ndarray, rows: np.ndarray, one: float) -> list[np.ndarray]:
    """Shots of each place, in the order of their first ones."""
    made, left = [], rows
    while len(left):
        near = np.hypot(*(places[left, :2] - places[left[0], :2]).T) <= one
        made.append(left[near])
        left = left[~near]
    return made


_Ends = tuple[np.ndarray, np.ndarray]


def _turning(places: np.ndarray, near: _Ends, beyond: _Ends, rows: _Ends, azimuth: float) -> list[_Item]:
    """Sides and slopes of a turning space: along the run, and across it; from its corners and both of its rows."""
    head, far = rows
    ends = {"left": (near[0], beyond[0]), "right": (near[1], beyond[1])}
    across = {"near": near, "far": beyond}
    made = []
    for name, sides in (("along", ends), ("across", across)):
        both = [_between(places, one, two, distances) for one, two in sides.values()]
        made.append(_Item(TURNING_SPACE, f"turning space {name}", _mean(both)))
    made.append(
        _Item(TURNING_SLOPE, "turning space along", _between(places, head, far, partial(slopes, azimuth=azimuth)))
    )
    left, right = (np.append(*ends[side]) for side in ("left", "right"))
    made.append(
        _Item(
            TURNING_SLOPE, "turning space across", _between(places, left, right, partial(slopes, azimuth=azimuth + 90))
        )
    )
    return made


def _between(places: np.ndarray, one: np.ndarray, two: np.ndarray, kernel: Callable[..., Numbers]) -> Numbers:
    """A slope or distance from the mean of some shots to that of others."""
    members = np.append(one, two)[None, :]
    weights = np.append(np.full(len(one), -1.0 / len(one)), np.full(len(two), 1.0 / len(two)))[None, :]
    return kernel(places, members, weights)


def _mean(parts: list[Numbers]) -> Numbers:
    return means(stacked(parts), np.zeros(len(parts), dtype=int), np.ones(len(parts)))


def _times(numbers: Numbers, factor: float) -> Numbers:
    return Numbers(value=numbers.value * factor, members=numbers.members, easting=numbers.easting * factor,
                   northing=numbers.northing * factor, elevation=numbers.elevation * factor)  # fmt: skip


def _judged(layers: Layers, shots: pd.DataFrame, check: Check, items: list[tuple[Ramp, _Item]]) -> Judgement:
    if not items:
        return Judgement.none()
    kind = "detectable-warning" if check is WARNING_DEPTH else "ramp"
    numbers, rows = [], []
    for ramp, item in items:
        of = np.concatenate(list(ramp.of.values())) if check is not WARNING_DEPTH else ramp.rows(WARNING)
        number = item.number
        if number is None:
            flat = np.zeros((1, len(of)))
            number = Numbers(value=np.array([np.nan]), members=of[None, :], easting=flat, northing=flat, elevation=flat)
        members = number.members[0][number.members[0] >= 0]
        numbers.append(number)
        rows.append(
            {
                "kind": kind,
                "subject": f"{ramp.name}, {item.part}",
                "label": f"{ramp.name}, {item.part}",
                "easting": float(shots["easting"].iloc[members].mean()),
                "northing": float(shots["northing"].iloc[members].mean()),
                "own": check.why(item.reason),
            }
        )
    about, whole = pd.DataFrame(rows), stacked(numbers)
    told = measured(layers, whole, check)
    u = np.hypot(told["u_random"].to_numpy(float), told["u_common"].to_numpy(float))
    only = about["label"].str.partition(", ")[0]
    once = ~only.duplicated(keep=False)
    labelled = zip(about["label"], only, once, strict=True)
    names = [{label, ramp} if single else {label} for label, ramp, single in labelled]
    read = beside(layers, check, list(about["label"]), names, np.where(told["why"] == 0, whole.value, np.nan), u)
    made = judged(layers, whole, about.assign(label=read.labels), check=check, instead=read.instead,
                  again="independent pass of its corners")  # fmt: skip
    return joined([made, not_judged(layers, elsewhere(layers, check, read.lost), check)])
