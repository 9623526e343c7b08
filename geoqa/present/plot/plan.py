"""The plan: design lines, shots by their worst verdict, in the job's own grid with one scale both ways."""

from typing import Any

import numpy as np
import pandas as pd
import shapely

from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.model.tables.reported import signs_in
from geoqa.present.plot.chosen import Along
from geoqa.present.plot.paper import DRAWN_FIRST, INK, QUIET, in_full, plain, scatter, short


def extent(results: Results) -> tuple[float, float]:
    """Width and height of all that is drawn, in the job's unit; 0 where nothing has a place."""
    place = [shapely.get_coordinates(line) for _, line in _lines(results)]
    place.append(results.layers["shots"][["easting", "northing"]].to_numpy(float))
    every = np.vstack(place)
    every = every[np.isfinite(every).all(axis=1)]
    if not len(every):
        return 0.0, 0.0
    width, height = np.ptp(every, axis=0)
    return float(width), float(height)


def draw_plan(axes: Any, results: Results, along: Along | None) -> None:
    """Draw the plan of results; the line of the profile is drawn heavier."""
    unit = results.layers.frame.unit.name
    for name, line in _lines(results):
        mine = along is not None and name == along.line
        vertices = shapely.get_coordinates(line)
        axes.plot(
            *vertices.T,
            color=INK if mine else QUIET,
            linewidth=6.0 if mine else 0.8,
            alpha=0.35 if mine else 1.0,
            solid_capstyle="butt",
            zorder=2 if mine else 1,
            label=plain(f"design line {short(name)}") if mine else None,
        )
    shots = results.layers["shots"]
    worst = _worst(results)
    for sign in DRAWN_FIRST:
        rows = shots[(worst == sign.order).to_numpy()]
        scatter(
            axes, sign, rows["easting"], rows["northing"],
            label=f"{len(rows)} {'shot' if len(rows) == 1 else 'shots'} {sign.text}" if len(rows) else None,
        )  # fmt: skip
    unasked = shots[worst.isna().to_numpy()]
    if len(unasked):
        label = f"{len(unasked)} that no check asks about"
        axes.scatter(unasked["easting"], unasked["northing"], marker="s", s=5, c=QUIET, zorder=2, label=label)
    axes.set_aspect("equal", adjustable="datalim")
    axes.margins(0.03)
    axes.set(xlabel=f"Easting ({unit})", ylabel=f"Northing ({unit})")
    axes.set_title("Plan", loc="left", fontsize=10)
    in_full(axes.xaxis)
    in_full(axes.yaxis, most=5)
    axes.grid(color="#E5E7EB", linewidth=0.6)
    axes.set_axisbelow(True)


def _lines(results: Results) -> list[tuple[str, Any]]:
    if "design_lines" not in results.layers:
        return []
    table = results.layers["design_lines"]
    return [(name, line) for name, line in zip(table["line"], table.geometry, strict=True) if line is not None]


def _worst(results: Results) -> pd.Series:
    """Place of the worst verdict about each shot among the signs; missing where no check asks about it."""
    signs = signs_in(results.layers)
    return pd.Series(signs, index=results.shots.index).map({verdict: sign.order for verdict, sign in SIGNS.items()})
