"""Numbers of one flow line: the fall of its reaches, what stands on it, and what was not shot."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from geoqa.contract.drainage_sentences import inlets as inlets_in_words
from geoqa.contract.drainage_sentences import standing_water as in_words
from geoqa.kernels.design.spans import Spans, left_of, spans_of
from geoqa.kernels.drainage.falls import LEVEL, slope_weights
from geoqa.kernels.drainage.standing_water import standing_water
from geoqa.model import words
from geoqa.model.tables.layer import Layers
from geoqa.steps.drainage.flow_lines import FlowLine, unshot


@dataclass(frozen=True, eq=False)
class Number:
    """One number of a line, or why there is none.

    `line` is its place in the list of lines; `first` and `last` are places on the line, -1 for none.
    """

    line: int
    first: int
    last: int
    why: str = ""
    places: np.ndarray | None = None  # of the line, that count in the number
    share: np.ndarray | None = None  # of each of them
    value: float = np.nan
    design: float = np.nan
    widening: float = 1.0
    start: float = np.nan
    end: float = np.nan
    at: float = np.nan  # station to fly to
    label: str = ""
    cause: str = ""
    stretch: tuple[int, int] = (0, -1)  # first and last place of the unbroken stretch it was sought on
    tag: str = ""  # names it beside its shots
    doubtful: bool = False  # it stands only if an inlet beside it does not open in the curb
    rim: int = -1  # row of `observed` of the inlet's rim that counts in it as well


def gaps(layers: Layers, line: FlowLine, place: int, spacing: float) -> list[Number]:
    """What was not shot for longer than the spacing, within the limits of work."""
    beyond = spans_of([])
    if "beyond_limits" in layers and line.of_design >= 0:
        table = layers["beyond_limits"]
        table = table[(table["shape"] == "line") & (table["design"] == line.name)]
        beyond = spans_of([(0, a, b) for a, b in zip(table["start_station"], table["end_station"], strict=True)])
    made = []
    for start, end, first, last in unshot(line, spacing):
        left: Spans = left_of(np.zeros(1, dtype=np.int64), np.array([start]), np.array([end]), beyond)
        parts = zip(left.start.tolist(), left.end.tolist(), strict=True)
        for nth, (one, other) in enumerate((one, other) for one, other in parts if other - one > spacing):
            which = "end" if last < 0 else "start" if first < 0 else ""
            if min(first, last) < -1:  # between two passes
                which = f"{words.station(one)} "
            made.append(
                Number(
                    place, max(first, -1), max(last, -1), why="unshot-reach", start=one, end=other,
                    at=(one + other) / 2, label=f"{words.station(one)} to {words.station(other)}",
                    tag=f"unshot {which}{nth or ''}",
                )
            )  # fmt: skip
    return made


def of_no_line(line: FlowLine, place: int) -> Number:
    """Shots that belong to no line, design or string."""
    return Number(place, -1, -1, why="of-no-line", label=words.many(len(line.shots), "shot") + " of no line")


def fall(line: FlowLine, place: int, first: int, last: int) -> Number:
    """Fall of the line between two places, positive in the direction in which the design falls."""
    mine = slice(first, last + 1)
    own = np.sqrt(line.errors.plain().part(first, last + 1).variance())
    weight = slope_weights(line.station[mine], own)
    rise = float(weight @ line.design[mine])
    label = f"{words.station(line.station[first])} to {words.station(line.station[last])}"
    given: dict[str, Any] = {"start": line.station[first], "end": line.station[last], "label": label}
    given["at"] = (line.station[first] + line.station[last]) / 2
    if abs(rise) <= LEVEL:
        return Number(place, first, last, why="no-flow-direction", **given)
    share = np.sign(rise) * weight
    given |= {"places": np.arange(first, last + 1), "share": share, "value": float(share @ line.elevation[mine])}
    return Number(place, first, last, design=abs(rise), **given)


def ponds(line: FlowLine, place: int, first: int, last: int, near: float, unit: str) -> list[Number]:
    """Every place of a stretch where water stands, the deepest first; else where least fall is left."""
    mine = slice(first, last + 1)
    rims = line.raised.rims._replace(spread=line.raised.rims.spread[:, mine])
    water = standing_water(
        line.station[mine], line.elevation[mine], line.errors.part(first, last + 1), outlets=line.outlets, near=near,
        rims=rims,
    )  # fmt: skip
    if not len(water):
        span = f"{words.station(line.station[first])} to {words.station(line.station[last])}"
        given = {"start": line.station[first], "end": line.station[last], "at": line.station[first], "label": span}
        return [Number(place, first, last, why="too-few-on-line", **given)]
    made = []
    for nth in range(len(water)):
        low, barrier = first + int(water.low[nth]), first + int(water.barrier[nth])
        rim = int(water.rim[nth])
        places, share = np.array([low, barrier]), np.array([-1.0, float(rim < 0)])
        leaves = float(line.station[barrier] if rim < 0 else rims.station[rim])
        at, wet = float(line.station[low]), bool(water.depth[nth] > 0)
        start, end = (float(edge[nth]) if wet else at for edge in (water.start, water.end))
        said = in_words(
            float(water.depth[nth]), float(water.level[nth]), unit,
            start=start, end=end, barrier=leaves, inlet=rim >= 0,
        )  # fmt: skip
        said = "; ".join([part for part in (said, _of_inlets(line, first, last, unit)) if part])
        sides = sorted(float(line.station[first + int(each[nth])]) for each in (water.barrier, water.other))
        beside = line.raised.doubtful[:, 0]
        doubtful = wet and bool(((beside >= sides[0]) & (beside <= sides[1])).any())
        label = f"{'low point' if wet else 'least fall'} at {words.station(at)}"
        if not wet:
            label += f", towards {words.station(leaves)}"
        made.append(
            Number(
                place, low, barrier, places=places, share=share, value=float(water.depth[nth]),
                widening=float(water.widening[nth]),
                start=start, end=end, at=at, label=label, cause=said, stretch=(first, last),
                rim=int(line.raised.shot[rim]) if rim >= 0 else -1, doubtful=doubtful,
            )
        )  # fmt: skip
    return made


def _of_inlets(line: FlowLine, first: int, last: int, unit: str) -> str:
    """What the inlets of a stretch do to the water on it, where that is more than to take it."""
    start, end = float(line.station[first]), float(line.station[last])
    known = [
        (at, level - float(np.interp(at, line.station, line.elevation)))
        for at, level in zip(line.raised.rims.station.tolist(), line.raised.rims.elevation.tolist(), strict=True)
    ]
    return inlets_in_words(
        [each for each in known if start <= each[0] <= end],
        [at for at in line.raised.unknown.tolist() if start <= at <= end],
        [(at, above) for at, above in line.raised.open.tolist() if start <= at <= end],
        unit,
    )  # fmt: skip
