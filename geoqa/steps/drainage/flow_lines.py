"""Flow lines as they were shot: one profile a line, with its outlets and what the design does there."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
import shapely

from geoqa.kernels.design.station import candidates
from geoqa.kernels.drainage.errors_along import ErrorsAlong
from geoqa.kernels.drainage.falls import Turns, turns_of
from geoqa.kernels.precision.one_place import places_along
from geoqa.model.quantity import LengthUnit
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import Alignments, alignments
from geoqa.steps.design.differing_passes import BETWEEN, differing_passes
from geoqa.steps.drainage.beside_design import beside_design, lasting_share
from geoqa.steps.drainage.inlets import NO_INLETS, NO_RIMS, Inlets, Raised, inlets_of, raised_beside
from geoqa.steps.linework.observed import observed
from geoqa.steps.shots.strings import strings_of


@dataclass(frozen=True, kw_only=True, eq=False)
class FlowLine:
    """One line of usable shots, in the direction of its design line.

    Attributes
    ----------
    name, kind, source : str
        Of the design line; of the string, where its shots are matched to none.
    shots : (k,) int64
        Rows of `observed`, by station; those that cannot be used are left out.
    station : (n,) float64
        Of the places; shots of one place are one value.
    elevation, design : (n,) float64
        As shot, and as designed at the same stations; NaN without design.
    errors : ErrorsAlong
        Of the elevations, with what lasts from shot to shot; which shots make each place, and their shares.
    start, end : float
        Of the design line; of the first and last shot without one.
    outlets : (m,) float64
        Stations where water leaves it.
    raised : Raised
        Inlets that stand above it, and what is not known of others.
    turns : Turns
        Of the design; nothing without one.
    of_design : int
        Number of the design line; -1 for none.
    loose : bool
        These are the shots of a kind that belong to no line: they have no places.
    passes : str
        Which shots these are, where passes of the line differ and each is a line of its own; else empty.
    others : (j,) float64
        Stations of shots of its other passes, of the first of them; nothing else.
    later : bool
        Another pass of the line says what was not shot.
    """

    name: str
    kind: str
    source: str
    shots: np.ndarray
    station: np.ndarray
    elevation: np.ndarray
    design: np.ndarray
    errors: ErrorsAlong
    start: float
    end: float
    outlets: np.ndarray
    raised: Raised
    turns: Turns
    of_design: int
    loose: bool = False
    passes: str = ""
    others: np.ndarray = field(default_factory=lambda: np.zeros(0))
    later: bool = False


@dataclass(frozen=True, kw_only=True)
class Method:
    """How lines are read, in the job's unit: see the options of the step."""

    same_place: float
    inlet_reach: float
    curb_opening: float
    curb_doubt: float
    break_of_grade: float
    inlets: tuple[str, ...]


_NO_TURN = Turns(low=np.zeros(0), high=np.zeros(0), breaks=np.zeros(0))


def flow_lines(layers: Layers, kinds: set[str], method: Method) -> list[FlowLine]:
    """Flow lines of some kinds, by name; a design line without any usable shot has one without places.

    Parameters
    ----------
    layers : Layers
    kinds : set of str
    method : Method
    """
    shots, design = observed(layers), alignments(layers)
    usable = (shots["why_plan"] == 0) & (shots["why_elevation"] == 0) & (shots["role"] == "feature")
    mine = np.flatnonzero(usable & shots["kind"].isin(kinds))
    line, station, level, past = beside_design(layers)
    beside = mine[(line[mine] >= 0) & (np.abs(past[mine]) <= method.same_place)]
    lasting = lasting_share(layers)
    inlets = inlets_of(layers, shots, kinds=method.inlets, same=method.inlet_reach)
    on_lines = _inlets_on_lines(design, inlets, method)
    work = _works(layers, shots, beside, line, station, level)
    made = []
    for number in np.flatnonzero(np.isin(design.kinds, list(kinds)) & np.isfinite(design.start)).tolist():
        on_line = line[beside] == number
        vertices = _vertices(design, number)
        turns = turns_of(*vertices, change=method.break_of_grade)
        of_works = []
        for one in np.unique(work[on_line]).tolist() or [0]:
            rows = beside[on_line & (work == one)]
            of_works.append(
                _line(
                    shots, rows, station[rows], level[rows], lasting, method,
                    name=str(design.names[number]), kind=str(design.kinds[number]), source=str(design.sources[number]),
                    start=float(design.start[number]), end=float(design.end[number]), turns=turns, of_design=number,
                    inlets=on_lines.get(number, (NO_INLETS, np.zeros(0))),
                )
            )  # fmt: skip
        made += _apart(of_works, shots["name"].to_numpy(dtype=object))
    unmatched = mine[line[mine] == -1]
    in_strings: list[int] = []
    for name, kind, rows, along, beside_string in _strings(shots, unmatched, inlets, method, layers.frame.unit):
        in_strings += rows.tolist()
        made.append(
            _line(
                shots, rows, along, np.full(len(rows), np.nan), lasting, method, name=name, kind=kind, source="shots",
                start=float(along[0]), end=float(along[-1]), turns=_NO_TURN, of_design=-1,
                inlets=beside_string,
            )
        )  # fmt: skip
    return made + _loose(shots, np.setdiff1d(unmatched, in_strings))


def _works(
    layers: Layers, shots: pd.DataFrame, rows: np.ndarray, line: np.ndarray, station: np.ndarray, level: np.ndarray
) -> np.ndarray:
    """Which work each of some rows of `observed` shows, where passes of its design line differ; shape (k,)."""
    designed = np.ones(line.max(initial=0) + 1, dtype=bool)
    np.logical_and.at(designed, line[rows], np.isfinite(level[rows]))
    below = np.where(designed[line[rows]], level[rows], 0.0)
    known = pd.DataFrame(
        {"row": shots["row"].to_numpy()[rows], "subject": line[rows], "station": station[rows],
         "deviation": shots["elevation"].to_numpy(float)[rows] - below,
         "u_random": shots["u_v_random"].to_numpy(float)[rows], "u_common": shots["u_v_common"].to_numpy(float)[rows]}
    )  # fmt: skip
    return differing_passes(layers, known, gap=BETWEEN.to(layers.frame.unit))


def _apart(works: list[FlowLine], names: np.ndarray) -> list[FlowLine]:
    """Lines of one design line whose passes differ, each with its shots in words; one alone stays as it is."""
    if len(works) < 2:
        return works
    made = []
    for number, each in enumerate(works):
        first, last = (names[each.shots[end]] for end in (0, -1))
        others = np.concatenate([other.station for other in works if other is not each])
        made.append(
            replace(each, passes=f"of shots {first} to {last}", others=others if not number else each.others,
                    later=number > 0)
        )  # fmt: skip
    return made


def _loose(shots: pd.DataFrame, rows: np.ndarray) -> list[FlowLine]:
    """Shots of no design line and no string, those of a kind together."""
    made = []
    keys, kinds = (shots[name].to_numpy(dtype=object)[rows] for name in ("shot", "kind"))
    for kind in sorted(set(kinds)):
        mine = rows[kinds == kind][np.argsort(keys[kinds == kind].astype(str), kind="stable")]
        none = np.zeros(0)
        made.append(
            FlowLine(
                name="-", kind=str(kind), source="shots", shots=mine, station=none, elevation=none, design=none,
                errors=ErrorsAlong.of_shots(none, none, none), start=np.nan, end=np.nan, outlets=none,
                raised=NO_RIMS, turns=_NO_TURN, of_design=-1, loose=True,
            )
        )  # fmt: skip
    return made


def _vertices(design: Alignments, number: int) -> tuple[np.ndarray, np.ndarray]:
    """Stations and elevations of the vertices of a design line."""
    elements = design.elements
    mine = np.flatnonzero((elements.line == number) & (elements.length > 0))
    station = np.append(elements.start_station[mine], elements.start_station[mine[-1:]] + elements.length[mine[-1:]])
    return station, np.append(elements.start_elevation[mine], elements.end_elevation[mine[-1:]])


def _line(
    shots: pd.DataFrame,
    rows: np.ndarray,
    station: np.ndarray,
    level: np.ndarray,
    lasting: float,
    method: Method,
    *,
    name: str,
    kind: str,
    source: str,
    start: float,
    end: float,
    inlets: tuple[Inlets, np.ndarray],
    turns: Turns,
    of_design: int,
) -> FlowLine:
    keys = shots["shot"].to_numpy(dtype=object)[rows].astype(str)
    order = np.lexsort((keys, station))
    rows, station, level = rows[order], station[order], level[order]
    own, shared = (shots[f"u_v_{part}"].to_numpy(float)[rows] for part in ("random", "common"))
    group, minutes = shots["group_v"].to_numpy()[rows], shots["minutes"].to_numpy(float)[rows]
    place = places_along(np.zeros(len(rows), dtype=int), station, reach=method.same_place)
    begin = np.flatnonzero(np.diff(place, prepend=-1) > 0)
    start_of = np.append(begin, len(rows))
    share = np.where(own > 0, 1 / np.maximum(own, 1e-12) ** 2, np.nan)
    share = share if np.isfinite(share).all() else np.ones(len(rows))
    if len(rows):
        share = share / np.repeat(np.add.reduceat(share, begin), np.diff(start_of))
    errors = ErrorsAlong.of_shots(
        own, shared, group, minutes=minutes, lasting=lasting, start=start_of, weight=share
    )  # fmt: skip

    def mean(values: np.ndarray) -> np.ndarray:
        return np.asarray(np.add.reduceat(share * values, begin) if len(rows) else values)

    at, z = mean(station), mean(shots["elevation"].to_numpy(float)[rows])
    raised, free = raised_beside(shots, errors, at, z, *inlets, opening=method.curb_opening, doubt=method.curb_doubt)
    return FlowLine(
        name=name, kind=kind, source=source, shots=rows, station=at, elevation=z, design=mean(level), errors=errors,
        start=start, end=end, outlets=_outlets(turns.low, inlets[1][free], raised, method.inlet_reach), raised=raised,
        turns=turns, of_design=of_design,
    )  # fmt: skip


def _outlets(low: np.ndarray, free: np.ndarray, raised: Raised, reach: float) -> np.ndarray:
    """Stations where water leaves a line: inlets, and low points of the design unless their inlet stands too high."""
    beside, open_ones = (
        (np.abs(low[:, None] - each) <= reach).any(axis=1) for each in (raised.rims.station, free)
    )  # fmt: skip
    return np.sort(np.concatenate([low[~beside | open_ones], free]))


def _inlets_on_lines(design: Alignments, inlets: Inlets, method: Method) -> dict[int, tuple[Inlets, np.ndarray]]:
    """Inlets beside each design line, and their stations on it."""
    if not len(inlets.rim) or not len(design.elements):
        return {}
    pairs = candidates(inlets.place, design.elements, reach=method.inlet_reach)
    return {
        number: (inlets.part(pairs.point[pairs.line == number]), pairs.station[pairs.line == number])
        for number in np.unique(pairs.line).tolist()
    }


def _strings(
    shots: pd.DataFrame, rows: np.ndarray, inlets: Inlets, method: Method, unit: LengthUnit
) -> Iterator[tuple[str, str, np.ndarray, np.ndarray, tuple[Inlets, np.ndarray]]]:
    """Strings of shots that belong to no design line, from the end that lies farther south (west, if as far)."""
    place = shots[["easting", "northing"]].to_numpy(float)
    strings = strings_of(shots.iloc[rows], unit, again=True)
    single = {(each.code, each.line_id): rows[each.rows] for each in strings if each.again}
    for string in strings:
        if string.again:
            continue
        mine = rows[string.rows]
        if tuple(place[mine[-1], ::-1]) < tuple(place[mine[0], ::-1]):
            mine = mine[::-1]
        along = np.append(0.0, np.cumsum(np.hypot(*np.diff(place[mine], axis=0).T)))
        drawn = shapely.linestrings(place[mine])
        if not string.turn and (string.code, string.line_id) in single:
            # places that were taken again stand where they lie along the line
            others = single[string.code, string.line_id]
            there = shapely.line_locate_point(drawn, shapely.points(place[others]))
            order = np.argsort(np.append(along, there), kind="stable")
            mine, along = np.append(mine, others)[order], np.append(along, there)[order]
        points = shapely.points(inlets.place)
        near = shapely.distance(drawn, points) <= method.inlet_reach
        stations = shapely.line_locate_point(drawn, points[near])
        yield string.name, str(shots["kind"].iloc[mine[0]]), mine, along, (inlets.part(near), stations)


def stretches(line: FlowLine, spacing: float) -> list[tuple[int, int]]:
    """First and last place of every stretch whose places are no farther apart than the spacing."""
    if not len(line.station):
        return []
    cut = np.flatnonzero(np.diff(line.station) > spacing * (1 + 1e-9))
    first, last = np.append(0, cut + 1), np.append(cut, len(line.station) - 1)
    return list(zip(first.tolist(), last.tolist(), strict=True))


def unshot(line: FlowLine, spacing: float) -> list[tuple[float, float, int, int]]:
    """Stretches longer than the spacing without a usable shot: both stations, and the places at them.

    A place is -1 for an end of the line, and -2 for a shot of another of its passes.
    """
    if line.later:
        return []
    at = np.concatenate([[line.start], line.station, line.others, [line.end]])
    place = np.concatenate([[-1], np.arange(len(line.station)), np.full(len(line.others), -2), [-1]])
    inner = 1 + np.argsort(at[1:-1], kind="stable")
    order = np.concatenate([[0], inner, [len(at) - 1]])
    at, place = at[order], place[order]
    far = np.flatnonzero(np.diff(at) > spacing * (1 + 1e-9)).tolist()
    return [(float(at[k]), float(at[k + 1]), int(place[k]), int(place[k + 1])) for k in far]
