"""Which frame an unlabelled file may be in: ranked readings with their evidence, never a silent choice.

A reading is a zone, a unit, an order of the two numbers and a datum. Evidence tells how well each explains what is
known: the area of use, control or design that the file was measured on, and what is plausible. Four questions
are answered one by one, because they may be settled one by one; where the evidence does not reach, the answer is that
it cannot be told.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoqa.errors import FrameError
from geoqa.frames.readings.signatures import epochs
from geoqa.frames.systems.definitions import unit_of
from geoqa.frames.systems.geographic import to_geographic
from geoqa.frames.systems.resolve import resolve
from geoqa.frames.systems.zone_list import Zone, zone_of, zones_of_the_states
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT, METRE, US_SURVEY_FOOT, LengthUnit
from geoqa.model.source import Evidence
from geoqa.model.words import many

Array = NDArray[np.float64]

SURE = 0.95
"""Probability from which a question counts as settled."""
MARGIN = 0.1
"""Degrees around an area of use that still count as inside."""
PLAUSIBLE = {"unit not listed": 0.1, "metres": 0.1, "northing first": 0.4, "NAD27": 0.1, "NAD83, global": 0.1}
"""Weight of an unusual reading against the usual one, 1. Common practice, no source; never decides alone."""
PAIR_U = 0.05
"""Metres, 1 sigma: a shot on a known point, the point's own value and differences of realization."""
NAD27_U = 60.0
"""Metres, 1 sigma, by which NAD27 may lie elsewhere when no shift grid is asked."""
NEAR = 100.0
"""Metres, least 1 sigma of how far a file's middle lies from the middle of its control or design."""
STRAY, STRAY_U = 0.01, 50.0
"""Share of known points taken wrongly, and how far off they then are, metres."""
TOO_FAR = 50_000.0
"""Metres between the middle of a file and of its control or design beyond which the two are not of one site."""
TOO_BAD = 5.0
"""Root mean square misfit at known points, in units of its uncertainty, from which no reading explains them."""
QUESTIONS = ("zone", "unit", "order", "datum")


@dataclass(frozen=True, kw_only=True, eq=False)
class Known:
    """Points whose places are known beyond doubt.

    Attributes
    ----------
    what : str
        ``control`` or ``design``.
    frame : Frame
    easting, northing : (k,) float64
        In the frame's unit.
    row : (k,) int64 or None
        Row of the file that was measured there; None where only the neighbourhood is known.
    u : float
        Metres, 1 sigma of measured minus known, per axis; for pairs.
    """

    what: str
    frame: Frame
    easting: Array
    northing: Array
    row: NDArray[np.int64] | None = None
    u: float = PAIR_U


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One way to read a file.

    Attributes
    ----------
    zone, unit, order, datum : str
        `order` is ``easting first`` or ``northing first``; `datum` NAD83, NAD27, or ``NAD83, global``: a global frame
        shown as NAD83.
    code : str
        Code to declare, where the database lists the zone in this unit; else of the zone in another unit, which
        `own_unit` tells.
    probability : float
        Among all readings, with the weights of what is plausible.
    plain : float
        The same with all readings weighing alike before the evidence.
    longitude, latitude : float
        Where the file's middle would lie.
    misfit : float
        Root mean square distance from known points it was measured on, metres; NaN without any.
    evidence : tuple of Evidence
    """

    zone: str
    unit: str
    order: str
    datum: str
    code: str
    probability: float
    plain: float
    longitude: float
    latitude: float
    misfit: float
    evidence: tuple[Evidence, ...]

    @property
    def own_unit(self) -> bool:
        """Whether `code` is in `unit`; if not, the unit has to be declared beside it."""
        return unit_of(self.code).name == self.unit


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """What can be said of an unlabelled file.

    Attributes
    ----------
    readings : tuple of Reading
        Most probable first; those whose place no zone's area of use holds are left out.
    tried : int
        How many readings were tried.
    settled : dict
        Question to answer; a question that cannot be told is not in it.
    recommendation : str
        In words: what to declare, or what cannot be told and what would tell it.
    """

    readings: tuple[Reading, ...]
    tried: int
    settled: dict[str, str]
    recommendation: str

    @property
    def complete(self) -> bool:
        """Whether zone, unit, order and datum are all settled."""
        return all(each in self.settled for each in QUESTIONS)


@dataclass(frozen=True, eq=False)
class _Try:
    zone: Zone
    unit: LengthUnit
    swapped: bool
    datum: str
    code: str
    listed: bool
    longitude: Array
    latitude: Array


def doubt(
    first: ArrayLike,
    second: ArrayLike,
    *,
    elevation: ArrayLike | None = None,
    references: Sequence[Known] = (),
    declared: Frame | None = None,
    epoch: float | None = None,
    shown: int = 12,
    named: bool = False,
) -> Doubt:
    """Rank what an unlabelled file may be.

    Parameters
    ----------
    first, second : (n,) array
        Its two plan columns, in the file's order; NaN is missing.
    elevation : (n,) array, optional
        Its third column; only shown to be plausible or not.
    references : sequence of Known
        Control and design, in a frame that is beyond doubt. Without any, hardly anything can be told: a pair of
        numbers lies in dozens of zones.
    declared : Frame, optional
        What somebody says it is: its projection is tried with the zones, where it is none of them, and
        weighs no more for being said.
    epoch : float, optional
        Decimal year of the survey, for a global frame shown as NAD83; 2020.0 without.
    shown : int
        How many readings are handed back.
    named : bool
        The columns were read as easting and northing by name, wherever in the file they stand: the recommendation
        then speaks of these columns, not of which number comes first.

    Returns
    -------
    Doubt

    Raises
    ------
    FrameError
        No row has both numbers.

    Notes
    -----
    Bayes' rule over all readings: misfits at known points are normal with a share of strays; the middle of the
    file lies about the middle of its control. A question is settled when one answer has 95 % both with
    the weights of what is plausible and without them, and known points that were measured on fit. Realizations of
    NAD83 differ by decimetres at most and are not told apart: the newest is named.

    Examples
    --------
    >>> site = resolve("EPSG:6547")
    >>> marks = Known(what="control", frame=site, easting=np.array([2228515.752, 2229619.554]),
    ...               northing=np.array([445968.253, 446161.130]), row=np.array([0, 1]))
    >>> found = doubt([2228511.295, 2229615.095], [445967.361, 446160.238], references=[marks])
    >>> found.settled["zone"], found.settled["unit"], found.settled["order"]
    ('North Dakota South', 'ftUS', 'easting first')
    """
    columns = np.column_stack([np.asarray(first, float), np.asarray(second, float)])
    there = np.isfinite(columns).all(axis=1)
    if not there.any():
        raise FrameError("No row has both plan coordinates; there is nothing to place.")
    middle = np.median(columns[there], axis=0)
    extent = float(np.hypot(*(np.ptp(columns[there], axis=0))))
    places = [
        (candidate, *to_geographic(candidate.frame, candidate.easting, candidate.northing)) for candidate in references
    ]
    tries, tried = _tries(columns, middle, places, declared, epoch)
    likely, misfit = np.zeros(len(tries)), np.full(len(tries), np.nan)
    fits = np.ones(len(tries), dtype=bool)
    for row, candidate in enumerate(tries):
        likely[row], misfit[row], fits[row] = _likely(candidate, places, extent)
    weight = np.array([_plausible(candidate) for candidate in tries])
    plain, probability = _shares(likely), _shares(likely + np.log(weight))
    order = np.lexsort((np.arange(len(tries)), -probability))
    readings = [
        _reading(tries[row], probability[row], plain[row], misfit[row], places, elevation)
        for row in order[: max(shown, 1)]
    ]
    best_fits = bool(len(order)) and bool(fits[order[0]])
    settled = _settled(tries, probability, plain, order) if best_fits else {}
    return Doubt(
        readings=tuple(readings),
        tried=tried,
        settled=settled,
        recommendation=_words(readings, settled, best_fits, named),
    )


def _tries(
    columns: Array, middle: Array, places: Sequence, declared: Frame | None, epoch: float | None
) -> tuple[list[_Try], int]:
    """Readings that put the middle of the file inside the zone's area of use."""
    zones = [zone for zone in zones_of_the_states() if _may_hold(zone, places)]
    own = None if declared is None else zone_of(declared)
    if own is not None and not any(own.codes == each.codes for each in zones) and _may_hold(own, places):
        zones.append(own)
    candidates, tried = [], 0
    for zone in zones:
        length = unit_of(zone.code)
        listed = zone.listed()
        for unit in dict.fromkeys([*listed, *((FOOT, US_SURVEY_FOOT, METRE) if zone.datum != "NAD27" else ())]):
            scale = float(unit.metres / length.metres)
            for swapped in (False, True):
                tried += 1
                east, north = (middle[::-1] if swapped else middle) * scale
                longitude, latitude = to_geographic(zone.code, [east], [north])
                if not zone.holds(float(longitude[0]), float(latitude[0]), margin=MARGIN):
                    continue
                feet = [each for listed_unit, each in listed.items() if listed_unit != METRE]
                code = listed.get(unit) or (feet[0] if feet and unit != METRE else zone.code)
                moved = (columns[:, ::-1] if swapped else columns) * scale
                candidates.append(_Try(zone, unit, swapped, zone.datum, code, unit in listed, *_all(zone.code, moved)))
                if places and zone.datum == "NAD83" and (turned := _from_global(zone, moved, epoch)) is not None:
                    tried += 1
                    candidates.append(_Try(zone, unit, swapped, "NAD83, global", code, unit in listed, *turned))
    return candidates, tried


def _may_hold(zone: Zone, places: Sequence) -> bool:
    if not places:
        return True
    _, longitude, latitude = places[0]
    return zone.holds(_middle(longitude), _middle(latitude), margin=2 * MARGIN)


def _middle(values: Array) -> float:
    """Median of what is there; NaN, and no warning, of nothing."""
    there = values[np.isfinite(values)]
    return float(np.median(there)) if there.size else float("nan")


def _all(code: str, moved: Array) -> tuple[Array, Array]:
    return to_geographic(code, moved[:, 0], moved[:, 1])


def _from_global(zone: Zone, moved: Array, epoch: float | None) -> tuple[Array, Array] | None:
    """The same numbers, taken as a global frame at the day of survey that was never moved to NAD83."""
    found = epochs(resolve(zone.code), epoch)
    if not found:
        return None
    points = np.column_stack([moved, np.zeros(len(moved))])
    restored = np.full(points.shape, np.nan)
    there = np.isfinite(points).all(axis=1)
    restored[there] = found[0].restores(points[there])
    return _all(zone.code, restored[:, :2])


def _likely(candidate: _Try, places: Sequence, extent: float) -> tuple[float, float, bool]:
    """Log likelihood of what is known, root mean square misfit, and whether known points fit at all."""
    total, squares, scaled, count, near = 0.0, 0.0, 0.0, 0, True
    spread = NAD27_U if candidate.datum == "NAD27" else 0.0
    for reference, longitude, latitude in places:
        if reference.row is None:
            away = _metres(_middle(candidate.longitude), _middle(candidate.latitude), longitude, latitude)
            away = away[:, np.isfinite(away).all(axis=0)]
            if not away.size:
                continue
            middle = np.median(away, axis=1)
            wide = float(np.max(np.hypot(*(away - middle[:, None]))))
            sigma = np.sqrt(NEAR**2 + wide**2 + (extent * candidate.unit.metres_float) ** 2 + spread**2)
            total += float(-0.5 * np.sum((middle / sigma) ** 2) - 2 * np.log(sigma))
            near &= bool(np.hypot(*middle) < TOO_FAR)
            continue
        away = _metres(candidate.longitude[reference.row], candidate.latitude[reference.row], longitude, latitude)
        away = away[:, np.isfinite(away).all(axis=0)]
        if not away.size:
            continue
        # the shift of NAD27 is one for the site: the mean is free within it, the rest is as good as any
        mean = away.mean(axis=1, keepdims=True) if spread else np.zeros((2, 1))
        if spread:
            total += float(-0.5 * np.sum((mean / spread) ** 2) - 2 * np.log(spread / reference.u))
        left = np.sum((away - mean) ** 2, axis=0)
        good = np.log1p(-STRAY) - 0.5 * left / reference.u**2 - 2 * np.log(reference.u)
        stray = np.log(STRAY) - 0.5 * left / STRAY_U**2 - 2 * np.log(STRAY_U)
        total += float(np.sum(np.logaddexp(good, stray)))
        squares, count = squares + float(np.sum(away**2)), count + away.shape[1]
        scaled += float(np.median(left) / (2 * reference.u**2)) * away.shape[1]
    misfit = np.sqrt(squares / count) if count else np.nan
    return total, misfit, near and (count == 0 or bool(np.sqrt(scaled / count) < TOO_BAD))


def _metres(longitude: ArrayLike, latitude: ArrayLike, to_longitude: Array, to_latitude: Array) -> Array:
    """East and north from known places, metres; good to a part in a thousand near by."""
    north = (np.asarray(latitude) - to_latitude) * 111_200.0
    east = (np.asarray(longitude) - to_longitude) * 111_320.0 * np.cos(np.radians(to_latitude))
    return np.stack([east, north])


def _plausible(candidate: _Try) -> float:
    weight = PLAUSIBLE["northing first"] if candidate.swapped else 1.0
    weight *= PLAUSIBLE.get(candidate.datum, 1.0)
    if candidate.unit == METRE:
        return weight * PLAUSIBLE["metres"]
    feet = set(candidate.zone.listed()) - {METRE}
    return weight * (1.0 if candidate.listed or not feet else PLAUSIBLE["unit not listed"])


def _shares(log: Array) -> Array:
    if not len(log):
        return log
    share = np.exp(log - log.max())
    return share / share.sum()


def _answers(candidate: _Try) -> dict[str, str]:
    order = "northing first" if candidate.swapped else "easting first"
    return {"zone": candidate.zone.name, "unit": candidate.unit.name, "order": order, "datum": candidate.datum}


def _settled(tries: list[_Try], probability: Array, plain: Array, order: NDArray[np.int64]) -> dict[str, str]:
    answers = [_answers(each) for each in tries]
    found = {}
    for question in QUESTIONS:
        best = answers[order[0]][question]
        mine = np.array([each[question] == best for each in answers])
        if min(probability[mine].sum(), plain[mine].sum()) >= SURE:
            found[question] = best
    return found


def _reading(
    candidate: _Try, probability: float, plain: float, misfit: float, places: Sequence, elevation: ArrayLike | None
) -> Reading:
    longitude, latitude = _middle(candidate.longitude), _middle(candidate.latitude)
    evidence = [
        Evidence(
            what="area of use",
            answer=f"{latitude:.4f}, {longitude:.4f} lies in it",
            because=f"{candidate.zone.name} is for {candidate.zone.area.name}",
        )
    ]
    for reference, to_longitude, to_latitude in places:
        paired = reference.row is not None
        own = (
            (candidate.longitude[reference.row], candidate.latitude[reference.row]) if paired else (longitude, latitude)
        )
        away = np.hypot(*_metres(own[0], own[1], to_longitude, to_latitude))
        how = "median distance of shots on them" if paired else "median distance of the middle of the file"
        evidence.append(
            Evidence(
                what=reference.what,
                answer=f"{_middle(away) / candidate.unit.metres_float:,.2f} {candidate.unit.name} away",
                because=f"{how}, {many(len(reference.easting), 'point')} known in {reference.frame.horizontal_name}",
            )
        )
    if not candidate.listed:
        evidence.append(
            Evidence(
                what="plausibility", answer="unusual", because=f"the zone is not listed in {candidate.unit.full_name}"
            )
        )
    levels = np.asarray([] if elevation is None else elevation, float)
    if np.isfinite(levels).any():
        level = _middle(levels)
        high = level * candidate.unit.metres_float
        fair = -100.0 < high < 6200.0
        evidence.append(
            Evidence(
                what="elevation",
                answer="plausible" if fair else "not plausible",
                because=f"{level:,.0f} {candidate.unit.name} is {high:,.0f} m; land lies between -86 m and 6,190 m",
            )
        )
    return Reading(
        **_answers(candidate), code=candidate.code, probability=float(probability), plain=float(plain),
        longitude=longitude, latitude=latitude, misfit=float(misfit), evidence=tuple(evidence),
    )  # fmt: skip


_TELL = {
    "zone": "a control mark or the design of the site",
    "unit": "shots on control marks whose values are known in a labelled frame, or the unit of the field settings",
    "order": "shots on control marks, or a header line",
    "datum": "shots on control marks, or the correction source of the field settings",
}


def _words(readings: list[Reading], settled: dict[str, str], fits: bool, named: bool) -> str:
    if not readings:
        return "no zone's area of use holds these numbers: ground or local coordinates, or not plan coordinates at all"
    if not fits and np.isnan(readings[0].misfit):
        return (
            "cannot tell: no reading brings the file near the known points; ground or local coordinates, "
            "or a file of another site"
        )
    if not fits:
        return (
            "cannot tell: no reading brings the shots onto the known points; the closest, "
            f"{_name(readings[0], named)}, leaves {readings[0].misfit:.2f} m. "
            "Look for another blunder, or wrong names of marks, first"
        )
    open_questions = [each for each in QUESTIONS if each not in settled]
    if not open_questions:
        best = readings[0]
        listed = f"declare {best.code!r}" + ("" if best.own_unit else f' and unit = "{best.unit}"')
        return f"{_name(best, named)}: {listed}".replace("'", '"')
    as_named = _NAMED if named else {}
    said = ", ".join(f"{question} {as_named.get(answer, answer)}" for question, answer in settled.items())
    needs = "; ".join(dict.fromkeys(_TELL[each] for each in open_questions))
    return (f"settled: {said}. " if said else "") + f"Cannot tell {', '.join(open_questions)}; needed: {needs}"


_NAMED = {"easting first": "as read", "northing first": "northing in the easting column"}
"""How the two columns stand once they have names: which of them comes first in the file is another question."""


def _name(reading: Reading, named: bool) -> str:
    order = _NAMED[reading.order] if named else reading.order
    return f"{reading.datum} / {reading.zone} in {reading.unit}" + (f", {order}" if order != "as read" else "")
