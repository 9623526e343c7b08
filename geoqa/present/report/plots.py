"""Plots of the report: how deviations spread about their tolerance, and a line along its stations."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geoqa.model import words
from geoqa.model.signs import SIGNS
from geoqa.present.drawing import Scale, drawing, line, number, path, text, tick_text, ticks
from geoqa.present.report.markup import Html

BARS = 21
"""Bars of a histogram: an odd number, so that one stands about 0."""
_WORST_LAST = tuple(reversed(SIGNS))


@dataclass(frozen=True, kw_only=True)
class Spread:
    """Numbers of one kind and check, to be drawn as a histogram.

    Attributes
    ----------
    title, unit : str
        What it shows; the unit of the numbers as drawn.
    values : (n,) float64 array
    verdicts : (n,) object array
    lower, upper : float
        Limits, infinite where there is none to that side; NaN where they are not the same for all.
    """

    title: str
    unit: str
    values: np.ndarray
    verdicts: np.ndarray
    lower: float
    upper: float


def histogram(spread: Spread) -> Html:
    """Draw bars stacked by verdict, worst on top, and the limits; what lies far beyond is heaped in the last bar."""
    width, height, left, right, top, foot = 340.0, 150.0, 34.0, 8.0, 20.0, 34.0
    low, high = _reach(spread)
    inside = np.clip(spread.values, low, high)
    edges = np.linspace(low, high, BARS + 1)
    which = np.clip(np.searchsorted(edges, inside, side="right") - 1, 0, BARS - 1)
    counts = {each: np.bincount(which[spread.verdicts == each], minlength=BARS) for each in _WORST_LAST}
    most = max(1, int(sum(counts.values(), np.zeros(BARS, dtype=np.int64)).max()))
    across, up = Scale(low, high, left, width - right), Scale(0.0, most, height - foot, top)
    parts = [text(left, 12.0, spread.title, "title", anchor="start")]
    counted = [each for each in ticks(0.0, most, about=3) if each == int(each)]
    for each in counted:
        parts += [
            line(left, up.at(each), width - right, up.at(each), "grid"),
            text(left - 5.0, up.at(each) + 3.5, f"{each:.0f}", "count", anchor="end"),
        ]
    parts += _bars(counts, edges, across, up)
    marks = ticks(low, high, about=5)
    step = marks[1] - marks[0] if len(marks) > 1 else 1.0
    parts += [text(across.at(each), height - foot + 13.0, tick_text(each, step), "count") for each in marks]
    parts.append(line(left, up.at(0.0), width - right, up.at(0.0), "axis"))
    for limit in (spread.lower, spread.upper):
        if np.isfinite(limit) and low <= limit <= high:
            parts.append(line(across.at(limit), top - 2.0, across.at(limit), up.at(0.0), "limit"))
    beyond = int(((spread.values < low) | (spread.values > high)).sum())
    said = f"{spread.unit}, n = {len(spread.values)}" + (f"; {beyond} beyond the ends" if beyond else "")
    parts.append(text((left + width - right) / 2, height - 5.0, said, "count"))
    return Html(drawing(width, height, parts, f"Histogram: {spread.title}, {said}"))


def _reach(spread: Spread) -> tuple[float, float]:
    """Ends of the axis: the limits and most of the numbers, and not one that lies far away."""
    bounds = [abs(each) for each in (spread.lower, spread.upper) if np.isfinite(each)]
    values = spread.values
    if bounds and (spread.lower <= 0.0 <= spread.upper):
        if np.isneginf(spread.lower) and (values >= 0.0).all():  # a distance or a depth: it has no other side
            return 0.0, 1.6 * max(bounds)
        return -1.6 * max(bounds), 1.6 * max(bounds)
    low, high = np.quantile(values, [0.01, 0.99])
    held = [each for each in (spread.lower, spread.upper) if np.isfinite(each)]
    low, high = min(low, *held) if held else low, max(high, *held) if held else high
    margin = 0.08 * (high - low) or 0.5 * abs(high) or 0.5
    return float(low - margin), float(high + margin)


def _bars(counts: dict[str, np.ndarray], edges: np.ndarray, across: Scale, up: Scale) -> list[str]:
    below, parts = np.zeros(len(edges) - 1), []
    for verdict, heights in counts.items():
        for place in np.flatnonzero(heights).tolist():
            x, x2 = across.at(float(edges[place])), across.at(float(edges[place + 1]))
            y, y0 = up.at(float(below[place] + heights[place])), up.at(float(below[place]))
            parts.append(
                f'<rect class="{verdict}" x="{number(x + 0.5)}" y="{number(y)}" '
                f'width="{number(x2 - x - 1.0)}" height="{number(y0 - y)}"/>'
            )
        below = below + heights
    return parts


@dataclass(frozen=True, kw_only=True)
class Along:
    """Elevations of one line by station.

    Attributes
    ----------
    title, unit : str
    station, design, measured, u, lower, upper : (n,) float64 arrays
        By station; limits of measured minus design; `u` at 1 sigma.
    verdicts : (n,) object array
    """

    title: str
    unit: str
    station: np.ndarray
    design: np.ndarray
    measured: np.ndarray
    u: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    verdicts: np.ndarray


def profile(along: Along) -> Html:
    """Draw the line as designed and as built above, and below what lies between them, with tolerance and 2 sigma."""
    width, left, right = 700.0, 52.0, 8.0
    start, end = float(along.station.min()), float(along.station.max())
    margin = 0.02 * (end - start) or 1.0
    across = Scale(start - margin, end + margin, left, width - right)
    high, low = _elevations(along, across, width - right), _deviations(along, across, width - right)
    marks = ticks(start, end, about=7)
    # labels by station, whole: stations of a plan are read at the full hundred or fifty
    foot = [text(across.at(each), 284.0, words.station(each, 0), "count") for each in marks]
    head = [text(left, 12.0, along.title, "title", anchor="start")]
    return Html(drawing(width, 290.0, [*head, *high, *low, *foot], f"Profile: {along.title}"))


def _elevations(along: Along, across: Scale, edge: float) -> list[str]:
    both = np.concatenate([along.design, along.measured])
    low, high = float(np.nanmin(both)), float(np.nanmax(both))
    margin = 0.08 * (high - low) or 0.5
    up = Scale(low - margin, high + margin, 140.0, 22.0)
    parts = _grid(up, across.start, edge, about=4)
    x = [across.at(each) for each in along.station.tolist()]
    parts.append(path(x, [up.at(each) for each in along.design.tolist()], "design"))
    parts += _marks(x, [up.at(each) for each in along.measured.tolist()], along.verdicts)
    exaggerated = (across.end - across.start) / (across.high - across.low)
    factor = (up.start - up.end) / (up.high - up.low) / exaggerated
    said = f"elevation by station, {along.unit}; line: design; drawn {factor:.0f} times as high as long"
    return [*parts, text(edge, 12.0, said, "count", anchor="end")]


def _deviations(along: Along, across: Scale, edge: float) -> list[str]:
    deviation = along.measured - along.design
    bounds = np.concatenate([along.lower, along.upper])
    largest = max([1.35 * float(np.abs(bounds[np.isfinite(bounds)]).max())] if np.isfinite(bounds).any() else [0.1])
    reach = max(largest, 1.1 * float(np.nanmax(np.abs(deviation))))
    up = Scale(-reach, reach, 270.0, 168.0)
    x = [across.at(each) for each in along.station.tolist()]
    tops, feet = (
        np.where(np.isfinite(each), each, side) for each, side in ((along.upper, reach), (along.lower, -reach))
    )
    band = path(
        [*x, *reversed(x)], [up.at(each) for each in [*tops.tolist(), *reversed(feet.tolist())]], "band", closed=True
    )
    parts = [band, *_grid(up, across.start, edge, about=4), line(across.start, up.at(0.0), edge, up.at(0.0), "zero")]
    for limit in (along.lower, along.upper):
        y = [up.at(each) if np.isfinite(each) else np.nan for each in limit.tolist()]
        parts.append(path(x, y, "limit"))
    bars = zip(x, deviation.tolist(), (2.0 * along.u).tolist(), strict=True)
    parts += [line(at, up.at(max(d - u, -reach)), at, up.at(min(d + u, reach)), "bar") for at, d, u in bars if u == u]
    parts += _marks(x, [up.at(each) for each in deviation.tolist()], along.verdicts)
    said = f"measured minus design, {along.unit}; bars: 2 sigma; shaded: allowed"
    return [*parts, text(edge, 158.0, said, "count", anchor="end")]


def _grid(up: Scale, start: float, end: float, *, about: int) -> list[str]:
    values = ticks(up.low, up.high, about=about)
    step = values[1] - values[0] if len(values) > 1 else 1.0
    parts = []
    for each in values:
        parts += [
            line(start, up.at(each), end, up.at(each), "grid"),
            text(start - 5.0, up.at(each) + 3.5, tick_text(each, step), "count", anchor="end"),
        ]
    return parts


def _marks(x: Sequence[float], y: Sequence[float], verdicts: np.ndarray) -> list[str]:
    """Signs of shots, the worst drawn last so that it lies on top."""
    parts = []
    for verdict in _WORST_LAST:
        for place in np.flatnonzero(verdicts == verdict).tolist():
            if y[place] == y[place]:
                parts.append(_sign(SIGNS[verdict].shape, x[place], y[place], verdict))
    return parts


def _sign(shape: str, x: float, y: float, kind: str) -> str:
    if shape == "circle":
        return f'<circle class="{kind}" cx="{number(x)}" cy="{number(y)}" r="2.2"/>'
    if shape == "triangle":
        return path([x, x + 4.2, x - 4.2], [y - 4.6, y + 3.2, y + 3.2], kind, closed=True)
    if shape == "diamond":
        return path([x, x + 3.2, x, x - 3.2], [y - 3.2, y, y + 3.2, y], kind, closed=True)
    return (
        f'<path class="{kind} cross" d="M{number(x - 2.6)} {number(y - 2.6)}L{number(x + 2.6)} {number(y + 2.6)}'
        f'M{number(x - 2.6)} {number(y + 2.6)}L{number(x + 2.6)} {number(y - 2.6)}"/>'
    )


def sign_key() -> Html:
    """The four verdicts with their signs, for a legend."""
    each = "".join(
        f'<li><svg viewBox="0 0 12 12" aria-hidden="true">{_sign(sign.shape, 6.0, 6.0, verdict)}</svg>{sign.text}</li>'
        for verdict, sign in SIGNS.items()
    )
    return Html(f'<ul class="key">{each}</ul>')
