"""What the data say of a stated uncertainty: neighbours along design lines, repeats on marks, shifts of sessions."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.kernels.precision.estimate import UNKNOWN, Estimate, spread_estimate
from geoqa.kernels.precision.neighbours import MANY, neighbour_misfits, neighbour_scale, widely_scattered
from geoqa.kernels.precision.shared_part import shared_part
from geoqa.model.tables.chorded import beside_chords
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import has_flag
from geoqa.steps.causes.left_out import left_out
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.precision.budget import GENERAL
from geoqa.steps.precision.reported_scale import MOST, scales_of
from geoqa.steps.precision.stated_parts import Stated

ENOUGH = 20
"""Comparisons of neighbours that are asked for."""
ROUGH = 1.1
"""Times what is stated that the lower end of the band must exceed: sound work wanders a little about its design. Own
simulation: the demo's does by 2 %."""
OF_OTHER_PLACES = ("spike", "zero-elevation", "code-slip", "swapped-pair")
"""Flags of shots whose deviation is no error of a shot: one edge coded as the other scatters by their width."""
WORTH = 4.0
"""Degrees of freedom that a log's own number is worth: known to 35 % (JCGM 100:2008, G.4.2)."""
LASTING = 0.6
"""Level of the band of repeats that must lie above the scatter of neighbours, before errors are taken to last."""
LEVEL = 0.01
"""Chance of sessions as far off as they are, below which a declared common part is not believed."""
UNSURE = 0.25
"""The same for a common part that nobody declared: what is left of a log's number is a guess."""
AXES = {"h": ("easting", "northing"), "v": ("elevation",)}


@dataclass(frozen=True, kw_only=True, eq=False)
class Seen:
    """Evidence on one plane, h or v.

    Attributes
    ----------
    row, size : (k,) array
        Shots in the middle of two neighbours, and their misfits in units of the random part.
    line : (n,) int array
        Of every shot: its design line and session, as `pass_of` numbers them; -1 for none.
    lines : sequence of str
        Names of design lines.
    repeats : Estimate
        Repeats on marks over the random part of the same shots.
    visits : int
    session : (n,) int array
        Of every shot.
    names : sequence of str
    shift, u : (s, a) array
        Of every session along the axes of the plane; NaN without a check shot.
    widened : (n,) float64 array
        What control shows all uncertainties to be too small by.
    together : (n,) float64 array
        Least common part of a shot, by control.
    """

    row: np.ndarray
    size: np.ndarray
    line: np.ndarray
    lines: tuple[str, ...]
    repeats: Estimate
    visits: int
    session: np.ndarray
    names: pd.Index
    shift: np.ndarray
    u: np.ndarray
    widened: np.ndarray
    together: np.ndarray

    def pass_of(self, number: int) -> tuple[str, str]:
        """Design line and session of a number in `line`."""
        return self.lines[number // len(self.names)], str(self.names[number % len(self.names)])


@dataclass(frozen=True, kw_only=True, eq=False)
class Believed:
    """What verdicts take on one plane.

    Attributes
    ----------
    random, common : (n,) float64 array
    neighbours : Estimate
        Scatter of neighbours over the random part, plumb shots; unknown without.
    compared : int
        Comparisons of neighbours.
    off : tuple of str
        Sessions that control shows to share more than stated.
    wide : tuple of int
        Lines, as `Seen.line` numbers them, that scatter so much more than the others that theirs is taken by itself.
    """

    random: np.ndarray
    common: np.ndarray
    neighbours: Estimate
    compared: int
    off: tuple[str, ...]
    wide: tuple[int, ...]


def evidence(layers: Layers, stated: dict[str, Stated], *, reach: float) -> dict[str, Seen]:
    """Everything that tells of the parts, in plan (h) and in elevation (v).

    Parameters
    ----------
    layers : Layers
    stated : dict
        Of `stated_parts`.
    reach : float
        Longest distance between two neighbours.
    """
    shots = layers["shots"]
    group = shots["session"].where(shots["session"].notna(), shots["source"])
    session, names = pd.factorize(group)
    counted = left_out(layers, shots).isna().to_numpy(bool) & ~has_flag(shots, *OF_OTHER_PLACES)
    compared = left_out(layers, shots, against_marks=False).isna().to_numpy(bool)
    repeats = {}
    if "control" in layers:
        halves = {plane: each.random[compared] for plane, each in stated.items()}
        repeats = scales_of(shots[compared].reset_index(drop=True), layers["control"], halves)
    made = {}
    for plane, each in stated.items():
        row, size, line, lines = _misfits(layers, each.random, session, counted, plane, reach)
        shift, u = _shifts(layers, names, plane)
        widened, together = _control_shows(layers, plane)
        scale = repeats.get(plane)
        made[plane] = Seen(
            row=row, size=size, line=line, lines=lines, repeats=UNKNOWN if scale is None else scale.factor,
            visits=0 if scale is None else scale.visits, session=session, names=names, shift=shift, u=u,
            widened=widened, together=together,
        )  # fmt: skip
    return made


def _misfits(
    layers: Layers, random: np.ndarray, session: np.ndarray, counted: np.ndarray, plane: str, reach: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, tuple[str, ...]]:
    """Shots in the middle and their misfits; of every shot the number of its line in its session, and their names."""
    of = np.full(len(session), -1)
    if "line_matches" not in layers:
        return np.zeros(0, np.int64), np.zeros(0), of, ()
    shots, matches = layers["shots"], layers["line_matches"]
    chosen = matches[matches["chosen"]]
    row = rows_of(chosen["shot_key"], shots["shot_key"])
    chosen, row = chosen[counted[row]], row[counted[row]]
    if plane == "h":
        # what a curve leaves its chords by is no scatter of shots
        on_line = ~beside_chords(dict(layers), chosen["design"], chosen["station"])
        chosen, row = chosen[on_line], row[on_line]
        value = chosen["offset"].to_numpy(float)
    else:
        value = shots["elevation"].to_numpy(float)[row] - chosen["design_elevation"].to_numpy(float)
    line, lines = pd.factorize(chosen["design"])
    middle, size = neighbour_misfits(line, chosen["station"], value, random[row], session[row], reach=reach)
    of[row] = line * (session.max(initial=0) + 1) + session[row]
    return row[middle], size, of, tuple(map(str, lines))


def _shifts(layers: Layers, names: pd.Index, plane: str) -> tuple[np.ndarray, np.ndarray]:
    """Shift of every session along the axes of the plane and its u, (s, a)."""
    shift, u = np.full((2, len(names), len(AXES[plane])), np.nan)
    if "session_shifts" in layers:
        table = layers["session_shifts"]
        for number, axis in enumerate(AXES[plane]):
            mine = table[table["axis"] == axis].set_index("session")[["shift", "u"]].reindex(names)
            shift[:, number], u[:, number] = mine["shift"].to_numpy(float), mine["u"].to_numpy(float)
    return shift, u


def _control_shows(layers: Layers, plane: str) -> tuple[np.ndarray, np.ndarray]:
    """How many times all uncertainties are too small, and the least common part, of every shot."""
    count = len(layers["shots"])
    widened, together = np.ones(count), np.zeros(count)
    if "survey_doubt" in layers and len(layers["survey_doubt"]):
        table = layers["survey_doubt"]
        place = rows_of(table["shot_key"], layers["shots"]["shot_key"])
        widened[place] = table["widened"].to_numpy(float)
        together[place] = table["together_plan" if plane == "h" else "together_elevation"].to_numpy(float)
    return widened, together


def believed(stated: Stated, seen: Seen) -> Believed:
    """Both parts as large as the data show them to be, and together never smaller than stated.

    Parameters
    ----------
    stated : Stated
    seen : Seen
        `size` and `repeats` in units of the random part of `stated`.

    Notes
    -----
    The random part is the scatter of neighbours where its band proves the stated one too small, as long as repeats on
    marks do not exclude it (work that wobbles scatters too, and moves no check shot). Where repeats prove more than
    neighbours show, errors last, and a log's own number is taken as large as repeats and the log, worth `WORTH` degrees
    of freedom, say together. A log gives one number for both parts: what the random part takes of it, the common part
    leaves, down to what the shifts of sessions show. A declared common part is larger where those are proven larger.
    A line that scatters so widely that it would make the random part of all shots larger has one of its own.
    """
    wide = tuple(widely_scattered(seen.size, seen.line[seen.row]).tolist())
    part = _random_part(stated, seen, ~np.isin(seen.line, wide), ENOUGH)
    random, own, proven = part.random, part.own, part.proven
    for number in wide:
        on_it = seen.line == number
        of_line = _random_part(stated, seen, on_it, MANY)
        for all_shots, mine in ((random, of_line.random), (own, of_line.own), (proven, of_line.proven)):
            all_shots[on_it] = mine[on_it]
    rest = np.where(stated.split, np.sqrt(np.maximum(stated.whole**2 - own**2, 0.0)), stated.common)
    common, off = _common_part(stated, seen, rest, own, proven)
    return Believed(random=random, common=common, neighbours=part.said, compared=part.compared, off=off, wide=wide)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Random:
    """The random part with and without the lean; which rows neighbours prove; what neighbours of plumb shots say."""

    random: np.ndarray
    own: np.ndarray
    proven: np.ndarray
    said: Estimate
    compared: int


def _random_part(stated: Stated, seen: Seen, among: np.ndarray, enough: int) -> _Random:
    """As seen among some of the shots, and true for those alone."""
    random, own = stated.random.copy(), stated.own.copy()
    told_too_small = np.zeros(len(random), bool)
    lean = np.sqrt(np.maximum(stated.random**2 - stated.own**2, 0.0))
    said, compared = UNKNOWN, 0
    for declared in (True, False):
        for leans in (False, True):
            mine = among & (stated.declared == declared) & (stated.leans == leans)
            sizes = seen.size[mine[seen.row]]
            scatter = neighbour_scale(sizes) if len(sizes) >= enough else UNKNOWN
            if not leans:
                by, proven = _factor(scatter, seen.repeats, stated.scaled if not declared else 1.0, declared)
                wide = _as_control_shows(seen.widened[mine], by, scatter, seen.repeats, declared)
                own[mine], random[mine] = by * own[mine], wide * stated.random[mine]
                same = among & (stated.declared == declared) & stated.leans
                own[same] *= by
                random[same] = np.hypot(own[same], lean[same])
                told_too_small[mine | same] = proven
                if len(sizes) > compared:
                    said, compared = scatter, len(sizes)
            elif scatter.low > ROUGH:
                random[mine] = np.maximum(random[mine], scatter.value * stated.random[mine])
            if leans:
                random[mine] = np.maximum(random[mine], seen.widened[mine] * stated.random[mine])
    return _Random(random=random, own=own, proven=told_too_small, said=said, compared=compared)


def _factor(scatter: Estimate, repeats: Estimate, scaled: float, declared: bool) -> tuple[float, bool]:
    """What the random part is multiplied by, and whether neighbours prove what was stated too small.

    Neighbours are many and know the scatter best, unless repeats show that it is not all: errors may last from shot to
    shot. A log's own number then gives way to repeats.
    """
    proven = bool(scatter.low * scaled > ROUGH)
    by = max(min(scatter.value, _most(repeats, declared)) * scaled, 1.0) if proven else 1.0
    if not declared and repeats.dof > 0 and repeats.value * scaled <= MOST:
        squares = repeats.dof * repeats.value**2
        lasting = not spread_estimate(squares, repeats.dof, confidence=LASTING).low <= scatter.value
        if lasting:
            by = max(by, float(np.sqrt((WORTH + squares * scaled**2) / (WORTH + repeats.dof))))
    return by / scaled, proven


def _most(repeats: Estimate, declared: bool) -> float:
    """The most that repeats leave possible: a person's own number is given up less readily than a receiver's."""
    if not repeats.dof > 0:
        return np.inf
    high = (
        repeats.high if declared else spread_estimate(repeats.value**2 * repeats.dof, repeats.dof, confidence=0.99).high
    )
    return max(high, 1.0)


def _as_control_shows(
    widened: np.ndarray, by: float, scatter: Estimate, repeats: Estimate, declared: bool
) -> np.ndarray:
    """At least what all uncertainties are too small by at control, unless neighbours or repeats exclude it."""
    most = _most(repeats, declared)
    if scatter.dof > 0 and not repeats.low > scatter.value:
        most = max(min(scatter.high, most), 1.0)
    return np.where(widened > 1, np.maximum(by, np.minimum(widened, most)), by)


def _common_part(
    stated: Stated, seen: Seen, rest: np.ndarray, own: np.ndarray, proven: np.ndarray
) -> tuple[np.ndarray, tuple[str, ...]]:
    """The common part, and the sessions whose shifts make it larger than stated."""
    sessions = len(seen.names)
    least = pd.Series(rest).groupby(seen.session).median().reindex(range(sessions)).fillna(0.0).to_numpy(float)
    found = shared_part(seen.shift, seen.u, least=least)
    of_session = np.where(np.isfinite(found.held), found.held, found.elsewhere)[seen.session]
    checked = np.isfinite(found.held)
    held = checked[seen.session]
    declared = stated.origin_common <= GENERAL
    used_up = stated.split & (rest < own / 2)  # the log's number says nothing more of what is shared
    acts = np.where(declared, found.p < LEVEL, used_up | (found.p < UNSURE))
    common = np.where(acts, np.maximum(rest, of_session), rest)
    # a log proven too good, and not enough sessions to say what they share: its halves stay halves
    blind = stated.split & proven & (own > stated.whole) & ~held & (checked.sum() < 2)
    common = np.where(blind, np.maximum(common, own), common)
    told = np.where(stated.split & held, 1.0, seen.widened)
    common = np.maximum(np.maximum(common, told * rest), seen.together)
    more = np.unique(seen.session[held & (common > 1.001 * stated.common)])
    return common, tuple(sorted(str(seen.names[each]) for each in more))
