"""The figure: a plan above, one line along its stations below; beside each other where the job is tall."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.present.plot.chosen import chosen
from geoqa.present.plot.paper import plain, short
from geoqa.present.plot.plan import draw_plan, extent
from geoqa.present.plot.profile import draw_deviation, draw_elevation

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_WIDE, _TALL = (11.0, 8.5), (12.0, 8.0)
"""Inches."""
_TALLER = 1.2
"""Height over width of a job from which its plan stands beside the profile."""


def figure(results: Results, *, line: str | None = None, check: str | None = None) -> Figure:
    """Draw results.

    Parameters
    ----------
    results : Results
    line : str, optional
        Name of the design line of the profile; without, the one with the worst finding.
    check : str, optional
        Whose deviations the profile shows; without, that of the worst finding of the line.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    LayerError
        No such line, or no finding of that check along it.
    """
    along = chosen(results, line=line, check=check)
    width, height = extent(results)
    tall = height > _TALLER * width
    drawn = _class()(figsize=_TALL if tall else _WIDE, layout="constrained")
    names = ["plan"] if along is None else ["plan", "deviation"]
    if along is not None and along.has_elevations:
        names.insert(1, "elevation")
    axes = _axes(drawn, names, tall=tall, ratio=height / width if width else 1.0)
    draw_plan(axes["plan"], results, along)
    if along is not None:
        draw_deviation(axes["deviation"], along)
    if "elevation" in axes and along is not None:
        draw_elevation(axes["elevation"], along)
        axes["elevation"].sharex(axes["deviation"])
    title = f"{results.title.name} {results.title.revision}".strip()
    drawn.suptitle(plain(short(title, 90)), fontsize=12, fontweight="bold")
    _legend(drawn, axes)
    return drawn


def _axes(drawn: Figure, names: list[str], *, tall: bool, ratio: float) -> dict[str, Any]:
    if tall:
        mosaic: list[Any] = [["plan", name] for name in names[1:]] or [["plan"]]
        return drawn.subplot_mosaic(mosaic, width_ratios=[2, 3] if len(names) > 1 else None)
    plan = min(max(2.5 * ratio, 0.6), 2.0)  # as high as its place on the paper needs, other things being equal
    below: list[Any] = [[name] for name in names]
    return drawn.subplot_mosaic(below, height_ratios=[plan] + [1.0] * (len(names) - 1))


def _legend(drawn: Figure, axes: dict[str, Any]) -> None:
    """One legend for all: what else is drawn first, then verdicts, worst first, as the plan counts them."""
    texts = [sign.text for sign in SIGNS.values()]
    found: dict[tuple[int, str], tuple[Any, str]] = {}
    for each in axes.values():
        for handle, label in zip(*each.get_legend_handles_labels(), strict=True):
            place = next((place for place, text in enumerate(texts) if label.endswith(text)), -1)
            found.setdefault((place, "" if place >= 0 else label), (handle, label))
    if found:
        handles, labels = zip(*(found[key] for key in sorted(found, key=lambda key: key[0])), strict=True)
        drawn.legend(handles, labels, loc="outside lower center", ncols=3, frameon=False, fontsize=9)


@cache
def _class() -> type[Figure]:
    """A figure that shows itself in a notebook, whether or not the notebook has been told of such figures."""
    import io

    from matplotlib.figure import Figure

    class Plot(Figure):
        """A plan and a profile of results."""

        def _repr_png_(self) -> bytes:
            stream = io.BytesIO()
            self.savefig(stream, format="png")
            return stream.getvalue()

    return Plot
