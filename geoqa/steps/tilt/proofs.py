"""What a tilt test proves: the largest lean for every tolerance, the conclusion, and what to test next."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.contract.checks import check_named
from geoqa.kernels.precision.estimate import Estimate, relative_error_of_spread, shots_needed
from geoqa.kernels.tilt.compensation import TiltModel
from geoqa.kernels.tilt.limits import LargestTilt, degrees_off, largest_tilt
from geoqa.model.note_line import LONGEST
from geoqa.model.quantity import LengthUnit
from geoqa.model.tables.columns import conform, empty
from geoqa.model.words import length, listed, many

_PLAN_CHECKS = {"line": "offset", "point": "position"}
_ENOUGH = 0.10  # relative error of a spread that is good enough
_STEP = 10.0  # degrees by which the next test goes further
_STEEPEST = 45.0  # beyond which nobody works


def limits_table(
    model: TiltModel,
    limits: pd.DataFrame,
    codes: pd.DataFrame,
    common: tuple[float, float],
    unit: LengthUnit,
) -> pd.DataFrame:
    """Largest lean that still proves each tolerance, at zero deviation and at half of it, biases kept and removed."""
    geometry = codes.drop_duplicates("kind").set_index("kind")["geometry"]
    rows: list[dict] = []
    known: dict[tuple, LargestTilt] = {}
    for row in limits.to_dict("records"):
        kind, check = str(row["kind"]), str(row["check"])
        limit = float(np.min(np.abs([each for each in (row["lower"], row["upper"]) if np.isfinite(each)] or [0.0])))
        of_plan = check in _PLAN_CHECKS.values()
        if not (of_plan or check == "elevation") or kind == "control" or limit <= 0:
            continue
        if of_plan and _PLAN_CHECKS.get(str(geometry.get(kind, "line"))) != check:
            continue
        more = common[1] if check == "elevation" else common[0]
        for share in (0.0, 0.5):
            for biases in ("kept", "removed"):
                asked = (limit, check, share, more, str(row["rule"]), biases)
                if asked not in known:  # many kinds share a tolerance
                    known[asked] = _largest(model, *asked)
                found = known[asked]
                rows.append(_row(kind, check, limit, share, biases, found, model, unit))
    return conform("tilt_limits", pd.DataFrame(rows)) if rows else empty("tilt_limits")


def _largest(
    model: TiltModel, limit: float, check: str, share: float, more: float, rule: str, biases: str
) -> LargestTilt:
    return largest_tilt(
        model, limit=limit, check=check, deviation=share * limit, more=more, rule=rule, biases=biases
    )  # fmt: skip


def _row(
    kind: str,
    check: str,
    limit: float,
    share: float,
    biases: str,
    largest: LargestTilt,
    model: TiltModel,
    unit: LengthUnit,
) -> dict:
    return {
        "kind": kind,
        "check": check,
        "limit": limit,
        "deviation": share * limit,
        "biases": biases,
        "tilt": largest.tilt,
        "cautious": largest.cautious,
        "tested": model.tilt_high,
        "plumb": largest.plumb,
        "whole_range": largest.whole_range,
        "from_classes": largest.from_classes,
        "words": f"{check_named(check).title} within {length(limit, unit.name)} "
        f"{'at half of it used up' if share else 'at zero deviation'}: {reach(largest, model)}",
    }


def reach(largest: LargestTilt, model: TiltModel) -> str:
    """Say how far the rod may lean.

    Examples
    --------
    >>> from geoqa.kernels.tilt.limits import known_tilt_model
    >>> model = known_tilt_model(
    ...     rod=6.562, heading_spread=1.0, angle_spread=0.3, plumb_h=0.025, plumb_v=0.045, tilt_high=45
    ... )
    >>> reach(largest_tilt(model, limit=0.10, check="offset"), model)
    'proven up to 22.9° (cautiously 22.9°)'
    """
    if np.isnan(largest.tilt):
        return "proven with a plumb rod only" if largest.plumb else "not provable, plumb or tilted"
    if largest.whole_range:
        said = f"proven up to {largest.tilt:.1f}°, the largest tilt tested"
    else:
        said = f"proven up to {largest.tilt:.1f}°"
    careful = "plumb only" if np.isnan(largest.cautious) else f"{largest.cautious:.1f}°"
    return f"{said} (cautiously {careful})"


@dataclass(frozen=True, kw_only=True)
class Scope:
    """What a test covers: of four sides how many the rod leaned to, and in how many sessions.

    Attributes
    ----------
    sides : int
        0 where azimuths are not known.
    sessions : int
        A compensation settles anew in each.
    differ : bool
        Their headings are not one.
    aside : (int, int)
        Shots of the test that other checks reject, and ones without a tilt.
    plumb : str
        What is believed of a scatter of plumb shots that no repeats tell.
    rods : str
        What is said of several rods.
    worse : bool
        They differ, and limits are of the worse.
    """

    sides: int
    sessions: int
    differ: bool = False
    aside: tuple[int, int] = (0, 0)
    plumb: str = ""
    rods: str = ""
    worse: bool = False

    @property
    def narrow(self) -> str:
        """What it does not cover of sides and sessions, in short; empty where it covers enough.

        Examples
        --------
        >>> Scope(sides=1, sessions=1).narrow, Scope(sides=4, sessions=2).narrow
        ('1 of 4 sides, one session', '')
        """
        said = [f"{self.sides} of 4 sides"] if 0 < self.sides < SIDES else []
        said += ["one session"] if self.sessions < ENOUGH_SESSIONS else ["sessions differ"] if self.differ else []
        said += [self.plumb] if self.plumb else []
        said += ["the worse of its rods"] if self.worse else []
        return ", ".join(said)


SIDES, ENOUGH_SESSIONS = 4, 2


def scope_of(pairs: pd.DataFrame, shots: pd.DataFrame, model: TiltModel, *, aside: tuple[int, int] = (0, 0)) -> Scope:
    """Sides and sessions of a test; without names of sessions all is one."""
    sides = ((pairs["azimuth"].dropna() / 90.0).round() % SIDES).nunique()
    sessions = max(int(shots["session"].nunique()), 1)
    return Scope(
        sides=int(sides), sessions=sessions, differ=bool(model.headings), aside=aside, plumb=plumb_words(model)
    )


def conclusion(model: TiltModel, limits: pd.DataFrame, scope: Scope, unit: LengthUnit) -> str:
    """How far the rod may lean for every kind, what that rests on, and what is wrong with the rod.

    The cautious limits, for shots that use up half of their tolerance: what a crew can work by. A limit at zero
    deviation would be true of work that is nowhere off.
    """
    half = limits[(limits["biases"] == "kept") & (limits["deviation"] > 0)]
    level = half["check"] == "elevation"
    planes = [("In plan", half[~level]), ("In elevation", half[level])]
    said = [f"{plane}: {_allowed(mine)}." for plane, mine in planes if len(mine)]
    if said:
        first = f"How far the rod may lean, with half of a tolerance used up (cautious limits). {' '.join(said)} From"
    else:
        first = "No tolerance is given that the lean could be held against; from"
    parts = [
        f"{first} {model.tilted_shots} tilted and {many(model.plumb_shots, 'plumb shot')} on {_counted(model)}, "
        f"{model.tilt_low:.0f}° to {model.tilt_high:.0f}° tested"
    ]
    parts += [
        f"{misread(name, each)} (95 %: {' to '.join(f'{end:.2f}°' for end in sorted(map(abs, (each.low, each.high))))})"
        for name, each in _misread(model, scope)
    ]
    parts += [f"{what}: {why}" for what, why in unexplained(model, unit)]
    if model.as_gon:
        parts.append(AS_GON)
    if any(model.left):
        parts.append("until its cause is found no lines for a job file are given")
    if 0 < scope.sides < SIDES:
        parts.append(
            f"leaned to {scope.sides} of four sides: nothing is known of the others, and plumb shots that are off look "
            "like a wrong heading or angle, so none is named"
        )
    if scope.sessions < ENOUGH_SESSIONS:
        parts.append("of one session: what changes from day to day does not show")
    parts += [*_left_out(model, scope)]
    parts += [*_stated(model, unit), *([scope.rods] if scope.rods else [])]
    if model.headings:
        parts.append(f"{_differing(model)} (chance below 1 %): what the next session brings is not in these limits")
    if model.tangential is None:
        parts.append(
            "without azimuths heading, angle and rod cannot be told apart, and errors are taken to be as large along "
            "the lean as square to it"
        )
    return "; ".join(parts) + "."


AS_GON = (
    "as gon the azimuths of the lean follow the differences far better than as degrees: if the log has gon, "
    'state angle_unit = "gon" in its [[shots]]'
)


def believed(model: TiltModel) -> tuple[bool, bool]:
    """Whether a scatter of plumb shots that was stated is believed, in plan and in elevation; no repeats tell it."""
    if model.plumb_stated is None:
        return False, False
    if model.tangential is None or model.radial is None or model.vertical is None:
        return True, True
    plan = np.isinf(model.tangential.base.dof) and np.isinf(model.radial.base.dof)
    return bool(plan), bool(np.isinf(model.vertical.base.dof))


def plumb_words(model: TiltModel) -> str:
    """What is believed of a scatter of plumb shots that was stated, in short; empty where repeats tell it."""
    if model.plumb_stated is None:
        return ""
    held = believed(model)
    if all(held):
        return "plumb scatter as stated"
    where = "" if not any(held) else " in elevation" if held[0] else " in plan"
    return f"stated plumb scatter{where} not believed"


def _stated(model: TiltModel, unit: LengthUnit) -> list[str]:
    """What was stated of the scatter of plumb shots, and whether the leaning shots allow it."""
    if model.plumb_stated is None:
        return []
    told = []
    for where, held, was, found in zip(
        ("in plan", "in elevation"), believed(model), model.plumb_stated, (model.plumb_h, model.plumb_v), strict=True
    ):
        shows = (
            "believed, not tested"
            if held
            else f"not believed, the leaning shots show up to {length(found.value, unit.name)}"
        )
        told.append(f"{length(was, unit.name)} {where} ({shows})")
    return [f"no point has two plumb shots: their scatter is as stated, {told[0]} and {told[1]}; so are limits of it"]


def _left_out(model: TiltModel, scope: Scope) -> list[str]:
    """Say which shots of the test are in no number.

    Examples
    --------
    >>> from geoqa.kernels.tilt.limits import known_tilt_model
    >>> model = known_tilt_model(
    ...     rod=6.562, heading_spread=1.0, angle_spread=0.3, plumb_h=0.025, plumb_v=0.045, tilt_high=45
    ... )
    >>> _left_out(model, Scope(sides=4, sessions=2, aside=(75, 1)))
    ['left out are 75 shots that other checks reject, and 1 shot without a tilt']
    """
    lacking = "without a plumb shot of their point, or lacking a coordinate, an azimuth or a rod"
    told = ((scope.aside[0], "that other checks reject"), (scope.aside[1], "without a tilt"), (model.left_out, lacking))
    said = [f"{many(count, 'shot')} {why}" for count, why in told if count]
    if not said:
        return []
    whole = said[0] if len(said) == 1 else f"{', '.join(said[:-1])}, and {said[-1]}"
    return [f"left out {'is' if whole.startswith('1 shot ') and len(said) == 1 else 'are'} {whole}"]


def _misread(model: TiltModel, scope: Scope) -> list[tuple[str, Estimate]]:
    """Biases that the test shows to be of heading or angle, and not of a moved plumb place or anything else."""
    if scope.worse or 0 < scope.sides < SIDES:
        return []
    against = {"heading": model.left[0] or len(model.headings), "tilt angle": max(model.left[1:])}
    named = (("heading", model.heading_bias), ("tilt angle", model.angle_bias))
    return [(name, each) for name, each in named if each is not None and each.significant and not against[name]]


def _differing(model: TiltModel) -> str:
    """Say how far the headings of the sessions lie apart.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from geoqa.kernels.tilt.limits import known_tilt_model
    >>> model = known_tilt_model(
    ...     rod=6.562, heading_spread=1.0, angle_spread=0.3, plumb_h=0.025, plumb_v=0.045, tilt_high=45
    ... )
    >>> _differing(replace(model, headings=(-0.4, 1.9)))
    'the heading is not the same in each session, from 0.40° read too large to 1.90° too small'
    """
    low, high = min(model.headings), max(model.headings)
    words = [f"{abs(each):.2f}° {{}}too {'small' if each > 0 else 'large'}" for each in (low, high)]
    return f"the heading is not the same in each session, from {words[0].format('read ')} to {words[1].format('')}"


def unexplained(model: TiltModel, unit: LengthUnit) -> list[tuple[str, str]]:
    """What the tip is off by, and that it does not follow the lean as a wrong heading, angle or rod makes it.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from geoqa.kernels.tilt.limits import known_tilt_model
    >>> from geoqa.model.quantity import FOOT
    >>> model = known_tilt_model(
    ...     rod=6.562, heading_spread=1.0, angle_spread=0.3, plumb_h=0.025, plumb_v=0.045, tilt_high=45
    ... )
    >>> unexplained(replace(model, left=(0.021, 0.0, 0.0)), FOOT)
    [('sideways up to 0.021 ft', 'it does not follow the lean as a wrong heading makes it (chance below 1 %)')]
    """
    aside, along, up = model.left
    made = []
    if aside:
        made.append((f"sideways up to {length(aside, unit.name)}", _FOLLOWS.format("heading")))
    if along or up:
        what = f"along the lean up to {length(along, unit.name)}, in elevation up to {length(up, unit.name)}"
        made.append((what, _FOLLOWS.format("tilt angle or rod")))
    return made


_FOLLOWS = "it does not follow the lean as a wrong {} makes it (chance below 1 %)"


NAMED, TIERS = 2, 3
"""Kinds that a headline names of one lean, and leans it tells of one plane; of more it says how many, and the span."""


def headline(limits: pd.DataFrame, scope: Scope) -> str:
    """How far the rod may lean, in one line: kinds by name where they are few; empty where nothing is asked.

    Examples
    --------
    >>> rows = [("curb-top", "offset", 14.7, True), ("walk", "offset", 14.2, True), ("ramp", "offset", 14.1, True),
    ...     ("rim", "elevation", np.nan, False)]
    >>> table = pd.DataFrame(rows, columns=["kind", "check", "cautious", "plumb"])
    >>> print(headline(table.assign(biases="kept", deviation=0.05), Scope(sides=4, sessions=2)))
    Rod lean with half of a tolerance used up. In plan: at most 14° for 3 kinds. In elevation: not even plumb for rim.
    >>> print(headline(table[:1].assign(biases="kept", deviation=0.05), Scope(sides=2, sessions=2)))
    Rod lean with half of a tolerance used up (2 of 4 sides). In plan: at most 14° for curb-top.
    """
    half = limits[(limits["biases"] == "kept") & (limits["deviation"] > 0)]
    level = half["check"] == "elevation"
    planes = [(name, _by_lean(mine)) for name, mine in (("In plan", half[~level]), ("In elevation", half[level]))]
    said = [(name, tiers) for name, tiers in planes if tiers]
    if not said:
        return ""
    whole = " ".join(f"{name}: {_in_short(tiers)}." for name, tiers in said)
    narrow = f" ({scope.narrow})" if scope.narrow else ""
    lines = [f"Rod lean with half of a tolerance used up{narrow}. {whole}"]
    for opening in ("Rod lean, half a tolerance used up", "Rod lean at half a tolerance"):
        for named in (NAMED, 1, 0):
            brief = " ".join(f"{name}: {_in_brief(tiers, named)}." for name, tiers in said)
            lines.append(f"{opening}{narrow}. {brief}")
    return next((each for each in lines if len(each) <= LONGEST), min(lines, key=len))


def _in_short(tiers: list[tuple[float, pd.DataFrame]]) -> str:
    return "; ".join(f"{_lean(far)} for {_kinds(mine, NAMED)}" for far, mine in tiers)


def _in_brief(tiers: list[tuple[float, pd.DataFrame]], named: int) -> str:
    """Leans alone, with the number of kinds of each; leans in the middle of many are one span."""
    leaning = [tier for tier in tiers if tier[0] > 0]
    rest = [(_lean(far).removesuffix(" only"), _kinds(mine, named)) for far, mine in tiers if far <= 0]
    told = [(f"{far:.0f}°", _kinds(mine, named)) for far, mine in leaning]
    if len(told) > TIERS:
        told = [
            (f"{leaning[-1][0]:.0f}° to {leaning[0][0]:.0f}°", _kinds(pd.concat([mine for _, mine in leaning]), named))
        ]
    return ", ".join(f"{lean} for {kinds}" for lean, kinds in (*told, *rest))


def _lean(far: float) -> str:
    return f"at most {far:.0f}°" if far > 0 else "plumb only" if far == 0 else "not even plumb"


def _kinds(mine: pd.DataFrame, named: int) -> str:
    names = [str(kind) for kind in mine["kind"]]
    return listed(names) if len(names) <= named else many(len(names), "kind")


def _by_lean(half: pd.DataFrame) -> list[tuple[float, pd.DataFrame]]:
    """Kinds by how far the rod may lean on them, the farthest first; -1 is not even plumb."""
    lean = np.where(half["cautious"].notna(), np.floor(half["cautious"]), np.where(half["plumb"], 0.0, -1.0))
    table = half.assign(lean=lean).sort_values(["lean", "kind", "check"], kind="stable").drop_duplicates("kind")
    return [(far, table[table["lean"] == far]) for far in sorted(table["lean"].unique(), reverse=True)]


def _allowed(half: pd.DataFrame) -> str:
    """Kinds by how far the rod may lean on them, the farthest first: the strictest check of a kind decides.

    Examples
    --------
    >>> rows = [("curb-top", "offset", 0.1, 14.7, True), ("walk", "offset", 0.1, 14.2, True),
    ...     ("valve", "position", 0.05, np.nan, True), ("rim", "position", 0.03, np.nan, False)]
    >>> table = pd.DataFrame(rows, columns=["kind", "check", "limit", "cautious", "plumb"]).assign(tested=30.0)
    >>> _allowed(table)
    'at most 14° for curb-top and walk; not at all for valve; and rim is not proven even plumb'
    """
    said = []
    for far, mine in _by_lean(half):
        names = [str(kind) for kind in mine["kind"]]
        if far > 0:
            whole = " (all that was tested)" if (mine["cautious"] >= mine["tested"]).all() else ""
            said.append(f"at most {far:.0f}° for {listed(names)}{whole}")
        elif far == 0:
            said.append(f"not at all for {listed(names)}")
        else:
            said.append(f"{listed(names)} {'is' if len(names) == 1 else 'are'} not proven even plumb")
    return "; ".join([*said[:-1], "and " * (len(said) > 1) + said[-1]])


def misread(name: str, bias: Estimate) -> str:
    """Say a significant bias as what the rod reads.

    Examples
    --------
    >>> from geoqa.kernels.precision.estimate import declared
    >>> misread("heading", declared(1.5))
    'the heading is read 1.50° too small'
    """
    return f"the {name} is read {abs(bias.value):.2f}° too {'small' if bias.value > 0 else 'large'}"


def _counted(model: TiltModel) -> str:
    return "1 point" if model.points == 1 else f"{model.points} points, counted anew in each session"


def setting(model: TiltModel, scope: Scope, rods: Sequence[TiltModel] = ()) -> str:
    """Lines of a job file that use the result, biases counted as long as they are not set right.

    What the test leaves open of scatter and biases is in them: a later shot feels it. Empty where it does not tell
    enough, and where it leaves something that is neither heading nor angle.
    """
    if model.tangential is None or any(model.left) or not np.isfinite(model.together or 0.0):
        return ""
    off = [degrees_off(each) for each in rods or (model,)]
    heading, angle = (max(*each, 0.01) for each in zip(*off, strict=True))  # 0.00 is none that a job file takes
    if not (heading < _MOST[0] and angle < _MOST[1]):
        return ""
    covers = f"; {scope.narrow}" if scope.narrow else ""
    return (
        f"[tilt]\nheading_deg = {heading:.2f}\nangle_deg = {angle:.2f}\nup_to_deg = {np.floor(model.tilt_high):.0f}\n"
        f'reference = "Crew\'s own tilt test: {model.tilted_shots} tilted, {model.plumb_shots} plumb shots{covers}"\n'
    )


_MOST = 90.0, 45.0  # degrees, as a job file takes them


def plan_table(model: TiltModel, limits: pd.DataFrame, scope: Scope, unit: LengthUnit) -> pd.DataFrame:
    """What to do in the next test, most useful first."""
    rows = [*_wrong(model, scope, unit), *_thin(model, scope), *_range(model, limits)]
    if not rows:
        rows = [
            (model.tilted_shots, "Repeat the same test after a change of rod, antenna or program", "all is covered")
        ]
    made = pd.DataFrame(rows, columns=["shots", "words", "reason"])
    made.insert(0, "order", np.arange(1, len(made) + 1))
    return conform("tilt_plan", made)


def _wrong(model: TiltModel, scope: Scope, unit: LengthUnit) -> list[tuple[int, str, str]]:
    rows = []
    if model.tangential is None:
        rows.append((0, "Record the azimuth of the lean with every shot", "without it only sizes can be told"))
    if model.as_gon:
        rows.append((0, "Look up the unit of the log's azimuths", AS_GON))
    for what, why in unexplained(model, unit):
        look = "Look for what moves the tip (bent rod, loose tip, antenna off its axis, bubble), then test again"
        rows.append((model.tilted_shots, look, f"{what}, and {why}"))
    if model.headings:
        what = "Let the compensation settle as its maker says, and test on further days"
        rows.append((model.tilted_shots, what, _differing(model)))
    for name, each in _misread(model, scope):
        what = f"Set the {name} of the compensation right as its maker says, then test again"
        rows.append((model.tilted_shots, what, f"{misread(name, each)}; a test after it must show no bias"))
    short, whole = model.rod_error, not any(model.left[1:]) and not 0 < scope.sides < SIDES
    if short is not None and short.significant and whole:
        size = length(short.value, unit.name, signed=True)
        rows.append((0, "Measure the rod, tip to antenna reference", f"it seems {size} longer than entered"))
    return rows


def _thin(model: TiltModel, scope: Scope) -> list[tuple[int, str, str]]:
    rows = []
    need, have = shots_needed(_ENOUGH), model.tilted_shots
    if have < need:
        error = float(relative_error_of_spread(have))
        rows.append((need - have, f"Take {need - have} tilted shots more", f"spreads are known to {error:.0%} only"))
    if model.plumb_shots < 3 * model.points:
        missing = 3 * model.points - model.plumb_shots
        rows.append((missing, "Take at least three plumb shots on each point", "each difference leans on their mean"))
    if model.tangential is not None and scope.sides < SIDES:
        why = f"only {scope.sides} of them tested; a moved point looks like a bias"
        rows.append((have, "Lean to all four sides", why))
    if scope.sessions < ENOUGH_SESSIONS:
        rows.append((have, "Test on a second day, settled anew", "one session cannot show what changes between days"))
    return rows


def _range(model: TiltModel, limits: pd.DataFrame) -> list[tuple[int, str, str]]:
    best = limits[(limits["deviation"] == 0) & (limits["biases"] == "removed")]
    higher = min(model.tilt_high + _STEP, _STEEPEST)
    reached = best["cautious"] >= best["tested"]
    if reached.any() and higher > model.tilt_high + 1:
        kinds = ", ".join(sorted(best.loc[reached, "kind"].unique()))
        why = f"beyond {model.tilt_high:.0f}° nothing is known, and the limit was not reached for {kinds}"
        return [(16, f"Add shots at {higher:.0f}°, four sides, four points", why)]
    return []
