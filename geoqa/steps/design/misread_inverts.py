"""Elevations of inverts that were reduced with a measure-down which looks misread."""

import numpy as np
import pandas as pd

from geoqa.contract.utility_sentences import waits
from geoqa.model import words
from geoqa.model.reasons import WHY
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of, taken


def waiting(layers: Layers, rows: pd.DataFrame) -> pd.DataFrame:
    """Let such elevations wait, shown both ways, as the invert of that end does.

    Parameters
    ----------
    layers : Layers
        With `reduced_shots`, if notes of structures were given.
    rows : DataFrame
        Elevations of shots against their design points, before they are judged; needs `shot`, `measured`,
        `deviation`, `why`.

    Returns
    -------
    DataFrame
        The same rows where none waits.
    """
    if "reduced_shots" not in layers or not len(layers["reduced_shots"]) or not len(rows):
        return rows
    table = layers["reduced_shots"]
    row = rows_of(rows["shot"], table["shot_key"])
    asks = (row >= 0) & (rows["why"] == 0).to_numpy(bool)
    if not asks.any():
        return rows
    slip = np.where(asks, table["slip"].to_numpy(float)[row], 0.0)
    titles, unit = table["title"].to_numpy(dtype=object), layers.frame.unit.name

    def show(value: float) -> str:
        return words.usual(value, unit)

    rows = rows.copy()
    number, before = rows["measured"].to_numpy(float), rows["deviation"].to_numpy(float)
    told: dict[str, list[str | None]] = {"cause": [], "cause_both": [], "remedy": []}
    for at in np.flatnonzero(asks).tolist():
        title = [str(titles[row[at]])]
        cause, both = waits(title, show(number[at]), show(number[at] + slip[at]))
        for name, text in zip(told, (cause, both, "re-measure: " + title[0]), strict=True):
            told[name].append(text)
    place = np.where(asks, np.cumsum(asks) - 1, -1)
    for name, texts in told.items():
        own = rows[name] if name in rows else taken([], np.full(len(rows), -1)).set_axis(rows.index)
        rows[name] = own.mask(pd.Series(asks, index=rows.index), taken(texts, place).set_axis(rows.index))
    bare = {"without": before + slip, "without_own": before + slip, "u_without": np.zeros(len(rows))}
    for name, values in bare.items():
        old = rows[name].to_numpy(float) if name in rows else np.full(len(rows), np.nan)
        rows[name] = np.where(asks, values, old)
    rows["why"] = np.where(asks, WHY["open-blunder"], rows["why"])
    return rows
