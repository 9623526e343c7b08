"""Strings of shots that count for a number, each set of them worked out once in a job."""

import pandas as pd

from geoqa.model.tables.layer import Layers
from geoqa.steps.linework.observed import READS
from geoqa.steps.shots.strings import String, chosen, strings_of


def strings_among(layers: Layers, shots: pd.DataFrame, *, least: int = 2, again: bool = False) -> list[String]:
    """`strings_of` some of the shots of `observed`, worked out once for the same ones.

    Parameters
    ----------
    layers : Layers
    shots : DataFrame
        Rows of `observed(layers)`, with what they bear there; its `row` says which.
    least, again
        As of `strings_of`.

    Returns
    -------
    list of String
        Rows are places in `shots`; shared between steps, not to be changed.
    """
    known: dict[bytes, list[String]] = layers.derived("strings of observed shots", READS, dict)
    asked = shots["row"].to_numpy("int64").tobytes()
    if asked not in known:
        known[asked] = strings_of(shots, layers.frame.unit, least=1, again=True)
    return chosen(known[asked], least=least, again=again)
