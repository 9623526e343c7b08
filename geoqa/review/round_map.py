"""Where the difference of two rounds lies, as a drawing: changed items, new shots, and the rest faint."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geoqa.review.rounds import OPEN, STATES, Compared, Thread

WIDTH, TALLEST, MARGIN = 1000.0, 620.0, 44.0
"""Of the drawing, in its own units."""
PIN = 13.0
"""Radius of a pin, and half the least distance of two."""
MOST_DOTS = 3000
"""Faint dots; of more shots one a cell is drawn."""
LONG = 2.0
"""A job longer than this many times its width is turned so that it lies along the page."""
PASSES = 200


@dataclass(frozen=True, kw_only=True)
class View:
    """Where a place of the job's frame lies on the drawing.

    Attributes
    ----------
    middle : ndarray, (2,)
    turn : float
        Of the job, counterclockwise, in radians.
    scale : float
        Units of the drawing a unit of the job.
    height : float
    """

    middle: np.ndarray
    turn: float
    scale: float
    height: float

    def at(self, places: np.ndarray) -> np.ndarray:
        """Places on the drawing, (n, 2)."""
        cos, sin = math.cos(self.turn), math.sin(self.turn)
        away = (places - self.middle) @ np.array([[cos, sin], [-sin, cos]])
        return np.column_stack([WIDTH / 2 + away[:, 0] * self.scale, self.height / 2 - away[:, 1] * self.scale])


def drawing(found: Compared) -> str:
    """The drawing as SVG without a script; empty where nothing that changed has a place.

    Parameters
    ----------
    found : Compared
    """
    pinned = [each for each in found.threads if each.place and not each.untouched]
    if not pinned or found.ground is None:
        return ""
    of_pins = np.array([each.place for each in pinned], dtype=float)
    ground = found.ground.places[np.isfinite(found.ground.places).all(axis=1)]
    view = seen_from(np.concatenate([ground, of_pins]))
    parts = [*_dots(found, view), *_rings(found, view), *_crosses(pinned, view), *_pins(pinned, view.at(of_pins), view)]
    return (
        f'<svg class="ground" viewBox="0 0 {WIDTH:.0f} {view.height:.0f}" role="img" '
        f'aria-label="Map of what changed: {len(pinned)} items at their places">'
        f"{''.join(parts)}{_north(view)}{_bar(view, found.unit)}</svg>{_key(found, pinned)}"
    )


def seen_from(places: np.ndarray) -> View:
    """A view that holds all places, turned where they are long and thin.

    Examples
    --------
    >>> view = seen_from(np.array([[0.0, 0.0], [100.0, 100.0], [50.0, 51.0]]))
    >>> round(math.degrees(view.turn)), view.height
    (-45, 140.0)
    """
    middle = (places.min(axis=0) + places.max(axis=0)) / 2
    spread = np.cov((places - middle).T) if len(places) > 2 else np.eye(2)
    sizes, ways = np.linalg.eigh(spread)
    turn = 0.0
    if sizes[1] > LONG**2 * max(sizes[0], 1e-9):
        turn = -math.atan2(ways[1, 1], ways[0, 1])
        turn = turn - math.pi * round(turn / math.pi)  # north stays up, or turns less than a quarter
    unturned = View(middle=np.zeros(2), turn=turn, scale=1.0, height=0.0).at(places - middle)
    low, high = unturned.min(axis=0), unturned.max(axis=0)
    size = np.maximum(high - low, 1.0)
    scale = min((WIDTH - 2 * MARGIN) / size[0], (TALLEST - 2 * MARGIN) / size[1])
    centre = (low + high) / 2 - [WIDTH / 2, 0.0]
    cos, sin = math.cos(turn), math.sin(turn)
    middle = middle + np.array([cos * centre[0] - sin * centre[1], -sin * centre[0] - cos * centre[1]])
    return View(middle=middle, turn=turn, scale=scale, height=max(140.0, size[1] * scale + 2 * MARGIN))


def _dots(found: Compared, view: View) -> list[str]:
    """Every shot of the last round, those that are new on top of the faint ones."""
    assert found.ground is not None
    sound = np.isfinite(found.ground.places).all(axis=1)
    at, fresh = view.at(found.ground.places[sound]), found.ground.fresh[sound]
    return [_path(_thinned(at[~fresh]), 1.5, "shot"), _path(_thinned(at[fresh]), 2.6, "fresh")]


def _thinned(at: np.ndarray) -> np.ndarray:
    if len(at) <= MOST_DOTS:
        return at
    cell = math.sqrt(WIDTH * TALLEST / MOST_DOTS)
    _, first = np.unique(np.floor(at / cell).astype(int), axis=0, return_index=True)
    return at[np.sort(first)]


def _path(at: np.ndarray, radius: float, kind: str) -> str:
    if not len(at):
        return ""
    d = "".join(f"M{x - radius:.1f} {y:.1f}h{2 * radius:.1f}" for x, y in at)
    return f'<path class="{kind}" stroke-width="{2 * radius:.1f}" d="{d}"/>'


def _rings(found: Compared, view: View) -> list[str]:
    """Items that are untouched: there, and no more than that."""
    places = [each.place for each in found.threads if each.untouched and each.place]
    at = view.at(np.array(places, dtype=float)) if places else np.empty((0, 2))
    return [f'<circle class="same" cx="{x:.1f}" cy="{y:.1f}" r="5"/>' for x, y in at]


def _crosses(pinned: Sequence[Thread], view: View) -> list[str]:
    places = [place for each in pinned for place in each.beside]
    at = view.at(np.array(places, dtype=float)) if places else np.empty((0, 2))
    return [f'<path class="beside" d="M{x - 5:.1f} {y - 5:.1f}l10 10m0 -10l-10 10"/>' for x, y in at]


def _pins(pinned: Sequence[Thread], at: np.ndarray, view: View) -> list[str]:
    """Pins beside each other, each with a line to its place; open ones are squares, closed ones circles."""
    told = []
    for each, (x, y), (pin_x, pin_y) in zip(pinned, at, _apart(at, view.height), strict=True):
        kind = "open" if each.state in OPEN else "closed"
        if math.hypot(pin_x - x, pin_y - y) > 1.0:
            told.append(f'<path class="leader {kind}" d="M{x:.1f} {y:.1f}L{pin_x:.1f} {pin_y:.1f}"/>')
        shape = (
            f'<rect x="{pin_x - PIN + 1:.1f}" y="{pin_y - PIN + 1:.1f}" width="{2 * PIN - 2:.0f}" '
            f'height="{2 * PIN - 2:.0f}" rx="3"/>'
            if kind == "open"
            else f'<circle cx="{pin_x:.1f}" cy="{pin_y:.1f}" r="{PIN - 1:.0f}"/>'
        )
        number = "".join(mark for mark in each.item if mark.isdigit())[:6]
        told.append(
            f'<g class="pin {kind}"><title>{number}: {STATES[each.state]}</title>{shape}'
            f'<text x="{pin_x:.1f}" y="{pin_y + 4.5:.1f}">{number}</text></g>'
        )
    return told


def _apart(at: np.ndarray, height: float) -> np.ndarray:
    """Places of pins of which none covers another, near to where they belong; the same each time."""
    pins = at + np.column_stack([np.zeros(len(at)), -2.0 * np.arange(len(at)) / max(len(at), 1)])
    for _ in range(PASSES):
        apart = pins[:, None] - pins[None]
        away = np.hypot(apart[..., 0], apart[..., 1])
        np.fill_diagonal(away, np.inf)
        near = away < 2 * PIN
        if not near.any():
            break
        push = np.where(near, (2 * PIN + 0.5 - away) / 2, 0.0) / np.maximum(away, 1e-6)
        pins = pins + (apart * push[..., None]).sum(axis=1) * 0.6
        pins[:, 0] = np.clip(pins[:, 0], PIN, WIDTH - PIN)
        pins[:, 1] = np.clip(pins[:, 1], PIN, height - PIN)
    return pins


def _north(view: View) -> str:
    turn = -math.degrees(view.turn)
    return (
        f'<g class="north" transform="translate({WIDTH - 24:.0f} 26) rotate({turn:.1f})">'
        f'<path d="M0 -16L6 12L0 7L-6 12Z"/><text y="-2" transform="translate(0 26) rotate({-turn:.1f})">N</text></g>'
    )


def _bar(view: View, unit: str) -> str:
    """A round length that is at most a fifth of the drawing."""
    most = WIDTH / 5 / view.scale
    round_one = 10 ** math.floor(math.log10(most))
    size = next(each * round_one for each in (5, 2, 1) if each * round_one <= most)
    long, y = size * view.scale, view.height - 14
    return (
        f'<g class="bar"><path d="M16 {y - 5:.1f}v5h{long:.1f}v-5"/>'
        f'<text x="{24 + long:.1f}" y="{y + 1:.1f}">{size:g} {unit}</text></g>'
    )


def _key(found: Compared, pinned: Sequence[Thread]) -> str:
    """What the signs mean, those that are drawn."""
    said = [
        ("■ open", any(each.state in OPEN for each in pinned)),
        ("● closed", any(each.state not in OPEN for each in pinned)),
        ("○ untouched", any(each.untouched and each.place for each in found.threads)),
        ("× beside closed work, not shot again", any(each.beside for each in pinned)),
        ("• new shot", found.ground is not None and bool(found.ground.fresh.any())),
        ("· shot as before", found.ground is not None and not found.ground.fresh.all()),
    ]
    placeless = sum(not each.place and not each.untouched for each in found.threads)
    words = [text for text, there in said if there]
    if placeless:
        words.append(f"{placeless} without a place, in the lists alone")
    return f'<p class="quiet">{"; ".join(words)}.</p>'
