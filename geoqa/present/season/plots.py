"""A mark over time against the others of its sessions, as a drawing."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.present.drawing import Scale, drawing, line, number, path, text, tick_text, ticks

if TYPE_CHECKING:
    import pandas as pd

WIDTH, HEIGHT = 760.0, 190.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 60.0, 12.0, 26.0, 34.0
_SHOWN = 1.96


def mark_plot(values: "pd.DataFrame", move: Mapping[Any, Any], unit: str) -> str:
    """Draw one mark along one axis.

    Parameters
    ----------
    values : DataFrame
        Rows of the table `mark_values` of one mark and axis.
    move : mapping
        Row of the table `marks`.
    unit : str
    """
    rows = values.sort_values(["time", "session"])
    at, value = _days(rows["time"]), rows["value"].to_numpy(float)
    reach = _SHOWN * rows["u"].to_numpy(float)
    step = _days(rows["time"][rows["time"] >= move["before"]])
    far = 1.08 * float(np.nanmax(np.abs(value) + np.nan_to_num(reach)))
    first, last = float(at.min()), float(at.max())
    room = max(last - first, 1.0) * 0.04
    x = Scale(first - room, last + room, _LEFT, WIDTH - _RIGHT)
    y = Scale(-far, far, HEIGHT - _BOTTOM, _TOP)
    mark = "".join(each if each.isprintable() else "\N{REPLACEMENT CHARACTER}" for each in str(move["mark"]))
    title = f"{mark}, {move['axis']}: {unit} from where it was before"
    parts = [text(_LEFT, 14, title, "title", anchor="start"), *_axes(rows, at, x, y)]
    if len(step):
        turn = float(step.min() + at[at < step.min()].max()) / 2 if (at < step.min()).any() else float(step.min())
        path_x, path_y = [x.start, x.at(turn), x.at(turn), x.end], [0.0, 0.0, move["size"], move["size"]]
        parts.append(path(path_x, [y.at(each) for each in path_y], "limit"))
    for where, high, half in zip(at, value, reach, strict=True):
        if np.isfinite(half):
            parts.append(line(x.at(where), y.at(high - half), x.at(where), y.at(high + half), "bar"))
        parts.append(f'<circle class="IN" cx="{number(x.at(where))}" cy="{number(y.at(high))}" r="3"/>')
    return drawing(WIDTH, HEIGHT, parts, title)


def _days(times: "pd.Series") -> np.ndarray:
    made: np.ndarray = times.to_numpy("datetime64[s]").astype(np.int64) / 86400.0
    return made


def _axes(rows: "pd.DataFrame", at: np.ndarray, x: Scale, y: Scale) -> list[str]:
    parts = []
    marks = ticks(y.low, y.high)
    for value in marks:
        kind = "zero" if value == 0 else "grid"
        said = tick_text(value, marks[-1] - marks[-2])
        parts += [
            line(x.start, y.at(value), x.end, y.at(value), kind),
            text(x.start - 6, y.at(value) + 3, said, anchor="end"),
        ]
    named, taken = rows["time"].dt.strftime("%Y-%m-%d"), -np.inf
    for where, date in zip(at, named, strict=True):
        if x.at(where) - taken >= 62.0:
            taken = x.at(where)
            parts += [line(taken, y.start, taken, y.start + 4, "axis"), text(taken, y.start + 16, date, "count")]
    return parts
