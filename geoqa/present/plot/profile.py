"""One design line along its stations: deviations with what is allowed, and elevations with the design's."""

from typing import Any

import numpy as np

from geoqa.model import words
from geoqa.model.signs import SIGNS
from geoqa.present.plot.chosen import Along
from geoqa.present.plot.paper import DRAWN_FIRST, INK, QUIET, in_full, plain, scatter, short

BARS = 2.0
"""Standard uncertainties to either side."""
_PERCENT = ("ratio", "slope")


def draw_deviation(axes: Any, along: Along) -> None:
    """Draw deviations by station, each with its uncertainty, over the band that is allowed."""
    findings = along.findings
    factor = 100.0 if along.quantity in _PERCENT else 1.0
    station = findings["station"].to_numpy(float)
    lower, upper, deviation, u = (
        findings[name].to_numpy(float) * factor for name in ("lower", "upper", "deviation", "u")
    )
    axes.errorbar(
        station, deviation, yerr=BARS * np.nan_to_num(u), fmt="none", ecolor=QUIET, elinewidth=0.9, zorder=2,
        label=f"±{BARS:g} standard uncertainties",
    )  # fmt: skip
    _draw(axes, along, deviation)
    axes.axhline(0.0, color=INK, linewidth=0.8, zorder=1)
    _draw_band(axes, station, lower, upper)
    unit = "%" if along.quantity in _PERCENT else words.unit_of(along.quantity, along.unit)
    axes.set_ylabel(f"{_sense(along)}({unit})")
    axes.set_title(plain(f"{along.check.title}, {short(along.line)}"), loc="left", fontsize=10)
    axes.set_xlabel(f"Station ({along.unit})")
    _stations(axes, along)
    in_full(axes.yaxis, most=7)


def draw_elevation(axes: Any, along: Along) -> None:
    """Draw measured and designed elevations by station."""
    findings = along.findings
    axes.plot(findings["station"], findings["design"], color=INK, linewidth=1.2, zorder=1)
    _draw(axes, along, findings["measured"].to_numpy(float))
    axes.set_ylabel(f"Elevation ({along.unit})")
    axes.set_title(
        plain(f"Elevation, {short(along.line)}: the design at the shots, and the shots"), loc="left", fontsize=10
    )
    _stations(axes, along)
    in_full(axes.yaxis, most=5)


def _draw(axes: Any, along: Along, values: np.ndarray) -> None:
    verdicts = along.findings["verdict"].to_numpy()
    station = along.findings["station"].to_numpy(float)
    for sign in DRAWN_FIRST:
        mine = (verdicts == sign.verdict) & np.isfinite(values)
        scatter(axes, sign, station[mine], values[mine], scale=1.8, label=sign.text if mine.any() else None)


def _draw_band(axes: Any, station: np.ndarray, lower: np.ndarray, upper: np.ndarray) -> None:
    """Shade what is allowed; where a side has no limit the shade runs to the edge, and no edge is drawn."""
    known = ~np.isnan(lower) & ~np.isnan(upper)
    start, end = _ends(station)
    axes.set_xlim(start, end)
    if not known.any():
        return
    station = np.concatenate([[start], station[known], [end]])
    lower, upper = (np.pad(limit[known], 1, mode="edge") for limit in (lower, upper))
    axes.update_datalim([(start, edge) for edge in (*lower, *upper) if np.isfinite(edge)])
    axes.autoscale_view(scalex=False)
    low, high = axes.get_ylim()
    bottom, top = np.where(np.isinf(lower), low, lower), np.where(np.isinf(upper), high, upper)
    axes.fill_between(
        station, bottom, top, color=SIGNS["IN"].colour, alpha=0.12, linewidth=0, zorder=0, label="allowed"
    )
    for limit in (lower, upper):
        edge = np.where(np.isinf(limit), np.nan, limit)
        axes.plot(station, edge, color=INK, linewidth=0.8, linestyle="--", zorder=1)
    axes.set_ylim(low, high)


def _ends(station: np.ndarray) -> tuple[float, float]:
    """Stations between which is drawn: a little beyond the first and the last shot."""
    beyond = 0.02 * float(np.ptp(station)) or 10.0
    return float(station.min()) - beyond, float(station.max()) + beyond


def _sense(along: Along) -> str:
    if along.check.directions is None:
        return "Deviation "
    low, high = along.check.directions
    return f"{low} (−), {high} (+) ".capitalize()


def _stations(axes: Any, along: Along) -> None:
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.xaxis.set_major_locator(MaxNLocator(7, steps=[1, 2, 2.5, 5, 10]))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: words.station(value)))
    axes.grid(color="#E5E7EB", linewidth=0.6)
    axes.set_axisbelow(True)
