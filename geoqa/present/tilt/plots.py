"""The plots of a tilt test: scatter round the plumb shot, rose of lean, and error against tilt."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.model.quantity import FOOT, METRE, LengthUnit
from geoqa.model.words import many
from geoqa.present.drawing import Scale, drawing, line, path, pointer, text, tick_text, ticks

if TYPE_CHECKING:
    import pandas as pd


SECTORS = 16
_SHADES = 4  # shades of blue there are, light to dark


@dataclass(frozen=True)
class Other:
    """The second unit of every axis."""

    name: str
    factor: float


def other_unit(unit: LengthUnit) -> Other:
    """Millimetres beside feet, feet beside metres.

    Examples
    --------
    >>> other_unit(FOOT).name, round(other_unit(FOOT).factor, 1), other_unit(METRE).name
    ('mm', 304.8, 'ft')
    """
    if unit == METRE:
        return Other("ft", float(METRE.metres / FOOT.metres))
    return Other("mm", 1000.0 * unit.metres_float)


def shade(classes: "pd.DataFrame", tilt: float) -> str:
    """Name of the style of a tilt's class."""
    place = int(np.searchsorted(classes["low"].to_numpy(float), tilt, side="right")) - 1
    return f"c{min(max(place, 0), _SHADES - 1)}"


def scatter(pairs: "pd.DataFrame", classes: "pd.DataFrame", unit: LengthUnit) -> str:
    """Where tilted shots lie round the plumb shot of their point; each mark points the way the rod leaned."""
    other, size = other_unit(unit), 470.0
    far = max(
        float(np.nanmax(np.abs(pairs[["difference_e", "difference_n"]].to_numpy(float)))),
        float(np.nan_to_num(classes["major"].to_numpy(float)).max(initial=0.0)),
        0.01 / unit.metres_float * 0.3048,
    )
    far *= 1.06
    x, y = Scale(-far, far, 62.0, size - 46.0), Scale(-far, far, size - 50.0, 58.0)
    parts = [*_square_axes(x, y, far, unit, other, size)]
    for row in classes.to_dict("records"):
        if np.isfinite(row["major"]):
            parts.append(_ellipse(row, x, y, f"ellipse {shade(classes, row['low'])}"))
    for row in pairs.sort_values(["tilt", "shot_key"], ascending=[False, True]).to_dict("records"):
        place = x.at(row["difference_e"]), y.at(row["difference_n"])
        parts.append(pointer(*place, row["azimuth"], f"mark {shade(classes, row['tilt'])}"))
    parts.append(f'<circle class="plumb" cx="{x.at(0):.2f}" cy="{y.at(0):.2f}" r="4.5"/>')
    return drawing(size, size, parts, "Tilted shots round the plumb shot of their point, in plan")


def _square_axes(x: Scale, y: Scale, far: float, unit: LengthUnit, other: Other, size: float) -> list[str]:
    parts = [f'<rect class="field" x="{x.start:.0f}" y="{y.end:.0f}" width="{x.end - x.start:.0f}" '
             f'height="{y.start - y.end:.0f}"/>']  # fmt: skip
    here = ticks(-far, far)
    step = here[1] - here[0]
    for value in here:
        kind = "zero" if value == 0 else "grid"
        parts += [
            line(x.at(value), y.start, x.at(value), y.end, kind),
            line(x.start, y.at(value), x.end, y.at(value), kind),
        ]
        parts += [text(x.at(value), y.start + 16, tick_text(value, step), "tick"),
                  text(x.start - 6, y.at(value) + 4, tick_text(value, step), "tick", anchor="end")]  # fmt: skip
    there = ticks(-far * other.factor, far * other.factor)
    step = there[1] - there[0]
    for value in there:
        said = tick_text(value, step)
        parts += [text(x.at(value / other.factor), y.end - 6, said, "tick soft"),
                  text(x.end + 5, y.at(value / other.factor) + 4, said, "tick soft", anchor="start")]  # fmt: skip
    middle = (x.start + x.end) / 2
    parts += [
        text(middle, size - 14, f"east of the plumb shot, {unit.name}", "axis"),
        text(middle, 26, other.name, "axis soft"),
        text(16, (y.start + y.end) / 2, f"north of the plumb shot, {unit.name}", "axis", turn=-90),
        text(size - 6, y.end - 6, other.name, "axis soft", anchor="end"),
    ]
    return parts


def _ellipse(row: Mapping[Hashable, Any], x: Scale, y: Scale, kind: str) -> str:
    turn, along = np.linspace(0.0, 2 * np.pi, 73), np.radians(row["direction"])
    major, minor = row["major"] * np.cos(turn), row["minor"] * np.sin(turn)
    east = row["centre_e"] + major * np.sin(along) + minor * np.cos(along)
    north = row["centre_n"] + major * np.cos(along) - minor * np.sin(along)
    return path([x.at(each) for each in east], [y.at(each) for each in north], kind, closed=True)


def rose(pairs: "pd.DataFrame") -> str:
    """How many shots leaned which way."""
    azimuth = pairs["azimuth"].dropna().to_numpy(float)
    size, middle = 210.0, 105.0
    if not azimuth.size:
        words = [text(middle, middle, "no azimuths in the log", "axis soft")]
        return drawing(size, size, words, "No azimuths of the lean in the log")
    sector = np.floor((azimuth % 360.0) / (360.0 / SECTORS) + 0.5).astype(int) % SECTORS
    count = np.bincount(sector, minlength=SECTORS)
    most, reach = int(count.max()), 76.0
    parts = []
    for share in (0.5, 1.0):
        parts.append(f'<circle class="ring" cx="{middle:.0f}" cy="{middle:.0f}" r="{reach * share:.1f}"/>')
    for number, shots in enumerate(count.tolist()):
        if not shots:
            continue
        turn = np.radians((number + np.linspace(-0.42, 0.42, 7)) * 360.0 / SECTORS)
        far = reach * shots / most
        x = np.append(middle, middle + far * np.sin(turn))
        y = np.append(middle, middle - far * np.cos(turn))
        parts.append(path(x, y, "petal", closed=True))
    for letter, degrees in (("N", 0.0), ("E", 90.0), ("S", 180.0), ("W", 270.0)):
        at = np.radians(degrees)
        parts.append(text(middle + 92 * np.sin(at), middle - 92 * np.cos(at) + 4, letter, "axis"))
    parts.append(text(size - 2, 26, many(most, "shot"), "tick soft", anchor="end"))
    return drawing(size, size, parts, "Rose of lean: shots by the direction from tip to antenna")


@dataclass(frozen=True)
class Panel:
    """One plot of an error against tilt."""

    part: str
    column: str
    title: str
    axis: str


PANELS = (
    Panel("tangential", "tangential", "Sideways: square to the lean", "clockwise +"),
    Panel("radial", "radial", "Along the lean", "towards antenna +"),
    Panel("vertical", "difference_v", "Elevation", "high +"),
)
BY_SIZE = (
    Panel("", "size_h", "In plan: distance from the plumb shot", "distance"),
    Panel("", "difference_v", "Elevation", "high +"),
)
"""What is left without azimuths."""


def error_plot(
    panel: Panel,
    pairs: "pd.DataFrame",
    curve: "pd.DataFrame",
    classes: "pd.DataFrame",
    highest: float,
    unit: LengthUnit,
) -> str:
    """Differences by tilt, with the fitted shift and its 95 % band."""
    other, width, height = other_unit(unit), 760.0, 250.0
    values = pairs[panel.column].to_numpy(float)
    far = float(np.nanmax(np.abs(values)))
    if panel.part:
        reach = np.abs(curve[f"shift_{panel.part}"]) + curve[f"{panel.part}_reach"]
        far = max(far, float(np.nan_to_num(reach, nan=0.0, posinf=0.0).max()))
    far *= 1.08
    end = 5.0 * np.ceil(highest / 5.0 + 0.2)
    x = Scale(0.0, end, 66.0, width - 58.0)
    y = Scale(0.0 if panel.column == "size_h" else -far, far, height - 40.0, 42.0)
    parts = [*_axes(panel, x, y, unit, other, (width, height)), _untested(x, y, highest, end)]
    if panel.part:
        parts += _band(panel.part, curve, x, y)
    for row in pairs.assign(value=values).sort_values(["tilt", "shot_key"]).to_dict("records"):
        if np.isfinite(row["value"]):
            place = f'cx="{x.at(row["tilt"]):.2f}" cy="{y.at(row["value"]):.2f}"'
            parts.append(f'<circle class="mark {shade(classes, row["tilt"])}" {place} r="2.6"/>')
    for row in classes.to_dict("records"):
        mine = pairs[(pairs["tilt"] >= row["low"]) & (pairs["tilt"] < row["high"])]
        parts.append(text(x.at(mine["tilt"].mean()), y.end - 5, f"n = {row['shots']}", "count"))
    return drawing(width, height, parts, f"{panel.title}: difference from the plumb shot against tilt")


def _band(part: str, curve: "pd.DataFrame", x: Scale, y: Scale) -> list[str]:
    across = [x.at(each) for each in curve["tilt"]]
    shift, reach = curve[f"shift_{part}"].to_numpy(float), curve[f"{part}_reach"].to_numpy(float)
    low, high = ([y.at(each) for each in curve[f"{part}_{end}"]] for end in ("from", "to"))
    return [
        path([*across, *across[::-1]], [*low, *high[::-1]], "band", closed=True),
        path(across, [y.at(each) for each in shift - reach], "outer"),
        path(across, [y.at(each) for each in shift + reach], "outer"),
        path(across, [y.at(each) for each in shift], "fitted"),
    ]


def _untested(x: Scale, y: Scale, highest: float, end: float) -> str:
    """Beyond the largest tilt tested there is no claim."""
    left, right = x.at(highest), x.at(end)
    middle = (left + right) / 2 + 4
    shape = path([left, right, right, left], [y.start, y.start, y.end, y.end], "untested", closed=True)
    return shape + text(middle, (y.start + y.end) / 2, "not tested", "axis soft", turn=-90)


def _axes(panel: Panel, x: Scale, y: Scale, unit: LengthUnit, other: Other, size: tuple[float, float]) -> list[str]:
    parts = [text(x.start, 16, panel.title, "title", anchor="start")]
    here = ticks(y.low, y.high)
    for value in here:
        said = tick_text(value, here[1] - here[0])
        parts += [line(x.start, y.at(value), x.end, y.at(value), "zero" if value == 0 else "grid"),
                  text(x.start - 6, y.at(value) + 4, said, "tick", anchor="end")]  # fmt: skip
    there = ticks(y.low * other.factor, y.high * other.factor)
    for value in there:
        said = tick_text(value, there[1] - there[0])
        parts.append(text(x.end + 6, y.at(value / other.factor) + 4, said, "tick soft", anchor="start"))
    for value in ticks(x.low, x.high, about=7):
        parts += [line(x.at(value), y.start, x.at(value), y.start + 4, "grid"),
                  text(x.at(value), y.start + 17, f"{value:.0f}°", "tick")]  # fmt: skip
    middle = (y.start + y.end) / 2
    return [
        *parts,
        text(16, middle, f"{panel.axis}, {unit.name}", "axis", turn=-90),
        text(size[0] - 8, middle, other.name, "axis soft", turn=-90),
        text((x.start + x.end) / 2, size[1] - 6, "tilt from plumb", "axis"),
    ]
