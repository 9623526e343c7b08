"""Which findings rest on a levelled elevation, and not on that of their shot."""

from typing import TYPE_CHECKING

from geoqa.model.tables.layer import Layers

if TYPE_CHECKING:
    import pandas as pd


def levelled_in(layers: Layers, findings: "pd.DataFrame") -> "pd.Series":
    """Level run that gave the elevation of each finding of a single shot; null for all others.

    Parameters
    ----------
    layers : Layers
        With `levelled`, if level runs were given.
    findings : DataFrame

    Returns
    -------
    Series of str
    """
    if "levelled" not in layers:
        return findings["shot"].mask(findings["shot"].notna())
    levelled = layers["levelled"]
    run = levelled[levelled["taken"]].set_index("shot_key")["source"]
    return findings["shot"].map(run).where(findings["check"] == "elevation").astype("str")
