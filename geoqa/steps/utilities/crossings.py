"""Pipes that cross, and pipes that run side by side: how far apart their outsides are."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field
from scipy.special import ndtri

from geoqa.contract.utilities import CLEARANCE, SEPARATION
from geoqa.contract.utility_sentences import crossing_label, separation_label
from geoqa.kernels.utilities.apart import beside, crossings
from geoqa.model import words
from geoqa.model.check import Check
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.findings import asked, verdicts_of, with_limits
from geoqa.steps.judging.remedies import NOTHING_AGAIN
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import NEEDS, observed
from geoqa.steps.utilities.bodies import Body, bodies, slips
from geoqa.steps.utilities.ends import WANTS as END_WANTS
from geoqa.steps.utilities.judged import Found, judged, together
from geoqa.steps.utilities.questions import held, questions
from geoqa.steps.utilities.tops import WANTS


class Crossings(Step):
    """Judge the clearance of pipes that cross in plan, and the distance of pipes side by side.

    A pipe is straight between its shots, or between the inverts of its ends; a leg longer than `longest_leg` between
    two shots on top is no pipe that was seen. Distances are between outsides: sizes and walls as noted. What is not
    noted counts as nothing, so the distance is the most that it can be, and only one that is too small is called out.
    """

    name = "crossings"
    needs = ("limits", *NEEDS)
    wants = tuple(dict.fromkeys(("precision", *END_WANTS, *WANTS)))
    adds = ("findings", "evidence")

    longest_leg: Length = Field(Length.parse("100 ft"), description="Longest distance between two shots on a pipe")
    beside_within: Length = Field(Length.parse("30 ft"), description="Pipes farther apart are not side by side")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Pairs of pipes of which one has a limit."""
        limits = layers["limits"]
        kinds = {
            check.name: set(limits.loc[limits["check"] == check.name, "kind"]) for check in (CLEARANCE, SEPARATION)
        }
        if not any(kinds.values()):
            return together()
        pipes = bodies(layers)
        crossed = list(self._crossed(layers, pipes, kinds[CLEARANCE.name]))
        apart = list(self._apart(layers, pipes, kinds[SEPARATION.name]))
        return together(_judged(layers, crossed, CLEARANCE), _judged(layers, apart, SEPARATION))

    def _crossed(self, layers: Layers, pipes: list[Body], kinds: set[str]) -> Iterator[dict[str, Any]]:
        longest = self.longest_leg.to(layers.frame.unit)
        met = []
        for one, other in _pairs(pipes):
            if not {one.kind, other.kind} & kinds or one.pipe == other.pipe:
                continue
            at = crossings(one.place[:, :2], other.place[:, :2])
            for nth in range(len(at.one)):
                legs = (_leg(one, at.one[nth], at.share_one[nth]), _leg(other, at.other[nth], at.share_other[nth]))
                if all(leg["length"] <= longest or leg["body"].inverts for leg in legs):
                    met.append((one, other, (legs, {"easting": at.easting[nth], "northing": at.northing[nth]})))
        told: dict[frozenset[str], tuple[Body, Body]] = {}
        # a pipe by its inverts comes after those by their tops: where these cross, the crossing is told already
        for one, other, (legs, place) in sorted(_of_one_pass(met), key=lambda each: _also_shot(*each[:2])):
            first = told.setdefault(frozenset((one.pipe, other.pipe)), (one, other))
            if _also_shot(one, other) and first != (one, other):
                continue
            for kind in sorted({one.kind, other.kind} & kinds):
                yield _clearance(layers, legs, kind) | place

    def _apart(self, layers: Layers, pipes: list[Body], kinds: set[str]) -> Iterator[dict[str, Any]]:
        unit = layers.frame.unit
        reach, longest = self.beside_within.to(unit), self.longest_leg.to(unit)
        met = []
        for one in pipes:
            for other in pipes:
                if one is other or one.kind not in kinds or one.pipe == other.pipe or len(other.row) < 2:
                    continue
                if _also_shot(one, other) or len(crossings(one.place[:, :2], other.place[:, :2]).one):
                    continue
                found = beside(one.place[:, :2], other.place[:, :2])
                legs = np.hypot(*np.diff(other.place[:, :2], axis=0).T)
                seen = (found.leg >= 0) & ((legs[found.leg] <= longest) | other.inverts)
                far = np.where(seen, found.distance, np.inf)
                at = int(np.argmin(far)) if len(far) else 0
                if len(far) and far[at] <= reach and far[at] > 0:
                    met.append((one, other, (at, int(found.leg[at]), float(found.share[at]), found.across[at], far)))
        own = observed(layers)["u_h_random"].to_numpy(float)
        for one, other, (at, leg, share, across, far) in _of_one_pass(met):
            u = float(np.hypot(own[one.row[at]], own[other.row[[leg, leg + 1]]].max()))
            alike = int((far <= far[at] + ALIKE * u).sum())
            yield _separation(one, other, at, leg, share, across, unit.name) | {"choice": of_choice(alike)}


ALIKE = 4.0
"""Standard uncertainties that a distance may be larger than the least one, and be the least by its true size."""


def of_choice(count: int) -> float:
    """How many times the u of one number that of the least of several alike is, each with an error of its own.

    The least of ten sound numbers lies 1.5 u too low on the average. So wide, it lies beyond a limit that all ten just
    keep once in twenty times (Bonferroni's inequality, any textbook).

    Examples
    --------
    >>> of_choice(1), round(of_choice(10), 2)
    (1.0, 1.57)
    """
    return float(ndtri(1 - 0.05 / max(count, 1)) / ndtri(0.95))


def _also_shot(*pipes: Body) -> int:
    """How many of them stand here by their inverts, and by their tops as well."""
    return sum(each.also_shot for each in pipes)


def _of_one_pass(met: list[tuple[Body, Body, Any]]) -> list[tuple[Body, Body, Any]]:
    """Of pipes that meet, without pairs of different passes where both passes meet the same pass of the other pipe."""
    same = {(one.pipe, other.pipe, one.turn) for one, other, _ in met if one.turn == other.turn}
    return [
        (one, other, how)
        for one, other, how in met
        if one.turn == other.turn or not {(one.pipe, other.pipe, each.turn) for each in (one, other)} <= same
    ]


def _pairs(pipes: list[Body]) -> Iterator[tuple[Body, Body]]:
    boxes = [(each.place[:, :2].min(axis=0), each.place[:, :2].max(axis=0)) for each in pipes]
    for nth, one in enumerate(pipes):
        for far in range(nth + 1, len(pipes)):
            if (boxes[nth][0] <= boxes[far][1]).all() and (boxes[far][0] <= boxes[nth][1]).all():
                yield one, pipes[far]


def _leg(body: Body, first: int, share: float) -> dict[str, Any]:
    """A place on a pipe: the two shots of its leg, and what each counts."""
    at = np.array([first, first + 1])
    weight = np.array([1 - share, share])
    return {
        "body": body, "at": at, "weight": weight, "level": float(body.place[at, 2] @ weight),
        "length": float(np.hypot(*(body.place[at[1], :2] - body.place[at[0], :2]))),
    }  # fmt: skip


def _clearance(layers: Layers, legs: tuple[dict[str, Any], dict[str, Any]], kind: str) -> dict[str, Any]:
    """The bottom of the upper pipe less the top of the lower one."""
    middle = [leg["level"] + (leg["body"].bottom()[0] + leg["body"].top()[0]) / 2 for leg in legs]
    # an unknown level keeps the order in which they were found
    high, low = legs if not middle[0] < middle[1] else legs[::-1]
    upper, lower = high["body"], low["body"]
    below, lacks_upper = upper.bottom()
    above, lacks_lower = lower.top()
    change = [float(leg["weight"] @ slips(layers, leg["body"].ends[leg["at"]])) for leg in (high, low)]
    own = next(each for each in (upper, lower) if each.kind == kind)
    other = lower if own is upper else upper
    return {
        "kind": kind, "subject": own.name, "source": own.source, "other": other.name,
        "label": crossing_label(upper.name, lower.name, _assumed((upper, lacks_upper), (lower, lacks_lower))),
        "number": high["level"] + below - low["level"] - above,
        "members": [*upper.row[high["at"]], *lower.row[low["at"]]],
        "elevation": [*high["weight"], *-low["weight"]], "easting_weight": [0.0] * 4, "northing_weight": [0.0] * 4,
        "ends": [int(each) for leg in (high, low) for each in leg["body"].ends[leg["at"]] if each >= 0],
        "u_down": float(np.linalg.norm([*(high["weight"] * upper.u_down[high["at"]]),
                                        *(low["weight"] * lower.u_down[low["at"]])])),
        "effect": change[0] - change[1], "lacks": lacks_upper or lacks_lower, "blocked": _blocked(upper, lower),
    }  # fmt: skip


def _separation(
    one: Body, other: Body, at: int, leg: int, share: float, across: np.ndarray, unit: str
) -> dict[str, Any]:  # fmt: skip
    """The distance in plan from a shot of a pipe to another pipe, less both half outside diameters."""
    foot = other.place[[leg, leg + 1], :2]
    distance = float((one.place[at, :2] - (1 - share) * foot[0] - share * foot[1]) @ across)
    weight = np.array([1.0, -(1 - share), -share])
    return {
        "kind": one.kind, "subject": one.name, "source": one.source, "other": other.name,
        "label": separation_label(other.name, _assumed((one, one.lacks), (other, other.lacks))),
        "number": distance - (one.outside + other.outside) / 2,
        "members": [one.row[at], *other.row[[leg, leg + 1]]],
        "elevation": [0.0] * 3, "easting_weight": list(weight * across[0]), "northing_weight": list(weight * across[1]),
        "ends": [], "u_down": 0.0, "effect": 0.0, "lacks": one.lacks or other.lacks,
        "blocked": "" if one.measured and other.measured else "locate-mark",
        "easting": one.place[at, 0], "northing": one.place[at, 1],
    }  # fmt: skip


def _blocked(*pipes: Body) -> str:
    """What keeps a distance between pipes from being told at all."""
    if not all(each.measured for each in pipes):
        return "locate-mark"
    return next((each.why for each in pipes if each.why), "")


def _assumed(*pipes: tuple[Body, str]) -> list[str]:
    """What is not noted, and counts as nothing."""
    return [f"{'size' if lacks == 'no-size' else 'wall'} of {body.name}" for body, lacks in pipes if lacks]


def _judged(layers: Layers, made: list[dict[str, Any]], check: Check) -> Found:
    if not made:
        return empty("findings"), empty("evidence")
    unit = layers.frame.unit.name

    def show(value: float) -> str:
        return words.usual(value, unit)

    members = np.array([each["members"] for each in made])
    gradient = {"elevation": "elevation", "easting": "easting_weight", "northing": "northing_weight"}
    rows = derived_rows(
        layers, members, {axis: np.array([each[name] for each in made]) for axis, name in gradient.items()},
        np.array([each["number"] for each in made]), show=show,
    )  # fmt: skip
    rows["u_random"] = np.hypot(rows["u_random"], [each["u_down"] for each in made])
    if check is SEPARATION:
        rows["u_unchosen"] = np.hypot(rows["u_random"], rows["u_common"])
        rows["u_random"] = rows["u_random"] * np.array([each["choice"] for each in made])
    if any(each["ends"] for each in made):
        effect = np.array([each["effect"] for each in made])
        rows = held(rows, [each["ends"] for each in made], effect, questions(layers), show=show)
    own = np.array([check.why(each["blocked"]) for each in made])
    rows["why"] = np.where(own > 0, own, rows["why"])
    table = pd.DataFrame(made)[["kind", "subject", "source", "label", "easting", "northing", "lacks"]]
    rows = pd.concat([rows.assign(design=np.nan, shot=rows["keys"].str[0]), table], axis=1)
    rows = asked(with_limits(rows, layers["limits"], check=check))
    # a distance that is at most so much is proven only where it is too small
    at_most = (rows["lacks"] != "") & (rows["why"] == 0)
    if at_most.any() and len(rows):
        out = (verdicts_of(rows, check=check, limits=layers["limits"]) == "OUT").to_numpy()
        lost = np.array([check.why(each) for each in rows["lacks"]])
        rows["why"] = np.where(at_most & ~out, lost, rows["why"])
    return judged(layers, rows.drop(columns="lacks"), check=check, again=NOTHING_AGAIN)
