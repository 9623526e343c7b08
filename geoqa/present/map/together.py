"""What several shots show together and what is within its limits: named with its shots, not sent finding by finding."""

from typing import TYPE_CHECKING

import numpy as np

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.present.map.linework import Canvas
from geoqa.present.map.places import column, rows_of
from geoqa.present.map.rounding import QUANTITIES, whole_or_none, whole_quantities, whole_stations

if TYPE_CHECKING:
    import pandas as pd


def kept(findings: "pd.DataFrame", evidence: "pd.DataFrame") -> "tuple[pd.DataFrame, pd.DataFrame]":
    """Part findings into those that are sent to the page, and those that are only counted with their shots.

    Parameters
    ----------
    findings : DataFrame
        With `finding`, `check`, `shot`, `run` and `verdict`.
    evidence : DataFrame
        With `finding`, `layer` and `role`.

    Returns
    -------
    (DataFrame, DataFrame)
        Counted is what is IN, has no main shot but members, and belongs to no run that is sent.

    Examples
    --------
    >>> import pandas as pd
    >>> found = pd.DataFrame({"finding": ["a", "b", "c"], "check": "running-slope", "shot": None, "run": None,
    ...                       "verdict": ["IN", "OUT", "IN"]})
    >>> shown = pd.DataFrame({"finding": ["a", "b"], "layer": "shots", "role": "member"})
    >>> [part["finding"].tolist() for part in kept(found, shown)]
    [['b', 'c'], ['a']]
    """
    members = evidence.loc[(evidence["layer"] == "shots") & (evidence["role"] == "member"), "finding"]
    among = findings["finding"].isin(set(members)).to_numpy() & findings["shot"].isna().to_numpy()
    counted = among & (findings["verdict"] == "IN").to_numpy(bool)
    # a run is judged from its members: what belongs to one that is sent is sent as well, and the other way round
    told = ~counted
    of_sent = findings["run"].isin(set(findings["finding"][told])).to_numpy()
    has_sent = findings["finding"].isin(set(findings["run"][told].dropna())).to_numpy()
    counted &= ~of_sent & ~has_sent
    return findings[~counted], findings[counted]


def add_within(canvas: Canvas, within: "pd.DataFrame", evidence: "pd.DataFrame", shots: "pd.DataFrame") -> None:
    """Add to every shot what it shows with others and what is within its limits: "Running slope of a walk (2)"."""
    table = canvas.packer.table("together", len(shots))
    checks = within.set_index("finding")["check"]
    mine = evidence[(evidence["layer"] == "shots") & evidence["finding"].isin(set(checks.index))]
    of_shot = mine.assign(check=mine["finding"].map(checks.to_dict())).drop_duplicates(["finding", "key"])
    counts = of_shot.groupby(["key", "check"], sort=True).size().reset_index(name="count")
    said: dict[str, list[str]] = {}
    for row in counts.to_dict("records"):
        title = check_named(row["check"]).title
        said.setdefault(row["key"], []).append(title if row["count"] == 1 else f"{title} ({row['count']})")
    table.texts("within", [words.listed(said[key]) if key in said else None for key in shots["shot_key"]])


def add_along(
    canvas: Canvas, within: "pd.DataFrame", evidence: "pd.DataFrame", shots: "pd.DataFrame", unit: str
) -> None:
    """Add what is only counted on the cards, but drawn along a line: where it lies, its number, limits and a shot.

    Parameters
    ----------
    canvas : Canvas
    within : DataFrame
        Findings that are not sent one by one.
    evidence : DataFrame
    shots : DataFrame
        As they are packed.
    unit : str
        Of the job.
    """
    import pandas as pd

    from_baseline = column(within, "baseline_station").to_numpy(float)
    station = np.where(np.isfinite(from_baseline), from_baseline, within["station"].to_numpy(float))
    drawn = np.isfinite(station) & np.isfinite(within["deviation"].to_numpy(float))
    rows, station = within[drawn], station[drawn]
    codes = rows["quantity"].map({name: code for code, name in enumerate(QUANTITIES)}).fillna(0).to_numpy(int)
    members = evidence[(evidence["layer"] == "shots") & evidence["finding"].isin(rows["finding"])]
    first = members.drop_duplicates("finding").set_index("finding")["key"]
    shot = rows_of(rows["finding"].map(first.to_dict()).astype("str"), shots["shot_key"])
    table = canvas.packer.table("along", len(rows))
    table.texts("check", rows["check"])
    table.texts("subject", rows["subject"])
    table.numbers("on_baseline", np.isfinite(from_baseline[drawn]))
    table.numbers("station", whole_stations(station), delta=True)
    table.numbers("shot", np.where(shot < 0, np.nan, shot))
    for name in ("deviation", "u"):
        table.numbers(name, whole_quantities(rows[name], codes, unit))
    table.chosen("quantity", codes, list(QUANTITIES))
    bounds = {name: whole_quantities(rows[name], codes, unit) for name in ("lower", "upper")}
    limits = pd.DataFrame(bounds)
    table.numbers("limit", limits.groupby(["lower", "upper"], dropna=False, sort=False).ngroup().to_numpy(float))
    different = limits.drop_duplicates()
    pairs = zip(different["lower"], different["upper"], strict=True)
    table.facts("limits", [{"lower": whole_or_none(low), "upper": whole_or_none(high)} for low, high in pairs])
