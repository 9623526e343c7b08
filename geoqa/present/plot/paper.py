"""How numbers, texts and verdicts stand on the paper of a figure."""

from typing import Any

from geoqa.model.signs import SIGNS, Sign

MARKERS = {"triangle": "^", "diamond": "D", "cross": "x", "circle": "o"}
"""Shape of a sign to what it is called here."""
_SIZES = {"triangle": 52, "diamond": 20, "cross": 28, "circle": 14}
DRAWN_FIRST = tuple(reversed(SIGNS.values()))
"""The worst is drawn last, and lies on top."""
INK, QUIET = "#374151", "#9CA3AF"


def plain(text: str) -> str:
    r"""Give a text from a file in which no sign is read as one of a formula, nor as one that hides a label.

    Examples
    --------
    >>> plain("$x$")
    '\\$x\\$'
    """
    return text.replace("$", r"\$")


def short(text: str, longest: int = 40) -> str:
    """Cut a text that would run off the paper.

    Examples
    --------
    >>> short("WKF-L-1"), short("WKF-L-1", 5)
    ('WKF-L-1', 'WKF-…')
    """
    return text if len(text) <= longest else text[: longest - 1] + "…"


def in_full(axis: Any, *, most: int = 6) -> None:
    """Write numbers of an axis whole: neither powers of ten nor differences from a number in a corner."""
    from matplotlib.ticker import MaxNLocator, ScalarFormatter

    axis.set_major_locator(MaxNLocator(most, steps=[1, 2, 2.5, 5, 10]))
    formatter = ScalarFormatter(useOffset=False)
    formatter.set_scientific(False)
    axis.set_major_formatter(formatter)


def scatter(axes: Any, sign: Sign, x: Any, y: Any, *, label: str | None = None, scale: float = 1.0) -> None:
    """Draw the markers of one verdict, each told by shape and colour."""
    edge = {} if sign.shape == "cross" else {"edgecolors": "white", "linewidths": 0.5}
    axes.scatter(
        x,
        y,
        marker=MARKERS[sign.shape],
        s=_SIZES[sign.shape] * scale,
        c=sign.colour,
        label=label,
        zorder=3 - 0.1 * sign.order,
        **edge,
    )
