"""Pieces of a drawing in text: scales with round ticks, marks, and shapes. The same text for the same numbers."""

from dataclasses import dataclass
from html import escape
from math import ceil, floor, log10

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True)
class Scale:
    """From a range of values to a range of pixels."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Pixel of a value.

        Examples
        --------
        >>> Scale(0.0, 10.0, 100.0, 200.0).at(5.0)
        150.0
        """
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


def ticks(low: float, high: float, *, about: int = 5) -> list[float]:
    """Round values between two ends.

    Examples
    --------
    >>> ticks(0.0, 32.0), ticks(-0.23, 0.23)
    ([0.0, 10.0, 20.0, 30.0], [-0.2, -0.1, 0.0, 0.1, 0.2])
    """
    if not high > low:
        return [low]
    raw = (high - low) / about
    size = 10.0 ** floor(log10(raw))
    step = next(each * size for each in (1.0, 2.0, 5.0, 10.0) if each * size >= raw * 0.999)
    count = range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1)
    return [round(number * step, 10) + 0.0 for number in count]


def number(value: float) -> str:
    """Pixels, to a hundredth.

    Examples
    --------
    >>> number(-0.001), number(12.345)
    ('0', '12.35')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def tick_text(value: float, step: float) -> str:
    """A tick with the decimals its step needs.

    Examples
    --------
    >>> tick_text(0.1, 0.05), tick_text(20.0, 10.0)
    ('0.10', '20')
    """
    return f"{value:.{max(0, -floor(log10(step) + 1e-9))}f}"


def line(x1: float, y1: float, x2: float, y2: float, kind: str) -> str:
    """A straight line."""
    ends = f'x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"'
    return f'<line class="{kind}" {ends}/>'


def path(x: ArrayLike, y: ArrayLike, kind: str, *, closed: bool = False) -> str:
    """A line through points, or an area."""
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    whole = np.isfinite(x) & np.isfinite(y)
    if not whole.any():
        return ""
    points = " ".join(f"{number(a)},{number(b)}" for a, b in zip(x[whole], y[whole], strict=True))
    return f'<{"polygon" if closed else "polyline"} class="{kind}" points="{points}"/>'


def text(x: float, y: float, words: str, kind: str = "", *, anchor: str = "middle", turn: float = 0.0) -> str:
    """Words at a place; whatever they hold is shown, never obeyed."""
    turned = f' transform="rotate({number(turn)} {number(x)} {number(y)})"' if turn else ""
    head = f'<text class="{kind}" x="{number(x)}" y="{number(y)}" text-anchor="{anchor}"{turned}>'
    return f"{head}{escape(words)}</text>"


def pointer(x: float, y: float, azimuth: float, kind: str, *, size: float = 5.0) -> str:
    """A small arrowhead that points along an azimuth; a dot where there is none."""
    if not np.isfinite(azimuth):
        return f'<circle class="{kind}" cx="{number(x)}" cy="{number(y)}" r="{number(size * 0.6)}"/>'
    turn = np.radians(azimuth + np.array([0.0, 145.0, 215.0]))
    return path(x + size * np.sin(turn), y - size * np.cos(turn), kind, closed=True)


def drawing(width: float, height: float, parts: list[str], label: str) -> str:
    """A whole drawing with its name for those who cannot see it."""
    body = "\n".join(part for part in parts if part)
    head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {number(width)} {number(height)}" role="img"'
    return f'{head} aria-label="{escape(label)}">\n{body}\n</svg>'
