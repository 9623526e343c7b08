"""What one job tells a season: counts by kind, causes, and its check shots, as plain facts."""

from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from geoqa.contract.causes import cause_named
from geoqa.contract.checks import check_named
from geoqa.job.document.load import LoadedJob
from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.model.tables.layer import Layers

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

MARK = "mark"
"""Cause that is about the mark itself: over many jobs its shots are what is looked for."""
_PLACE = ("easting", "northing", "elevation")


def facts_of(results: Results, loaded: LoadedJob) -> dict[str, Any]:
    """What is told of a job in a season, JSON-ready; who measured is not among it, but for the receiver."""
    frame, summary = results.layers.frame, results.summary
    return {
        "name": results.title.name,
        "date": results.title.date,
        "owner": results.title.client,
        "unit": frame.unit.name,
        "frame": frame.describe(),
        "headline": summary["headline"],
        "shots": summary["shots"],
        "counts": dict(summary["reported"]),
        "rows_left_out": summary["rows_left_out"],
        "work": _work(results),
        "causes": _causes(results.layers, _receivers(loaded)),
        "files_without_receiver": sum(not each.receiver for each in loaded.job.shots),
    }


def checks_of(results: Results, loaded: LoadedJob) -> "gpd.GeoDataFrame":
    """Every check shot of a job with its mark: residuals, published place, file, receiver and hour of the day.

    Returns
    -------
    GeoDataFrame
        `counts` is false where a blunder is named of the shot other than one of its mark, or where it is listed twice.
        `clock` is the zone of `hour`: the job's own, where it states one.
    """
    import geopandas as gpd
    import numpy as np
    import pandas as pd

    layers = results.layers
    table = pd.DataFrame(layers["control_table"]) if "control_table" in layers else pd.DataFrame(columns=_TAKEN)
    table = table.reindex(columns=_TAKEN).reset_index(drop=True)
    marks = pd.DataFrame(layers["control"]).drop_duplicates("mark").set_index("mark")
    for name in _PLACE:
        table[f"published_{name}"] = table["mark"].map(marks[name]).astype("float64")
    sources = pd.DataFrame(layers["shots"])[["shot_key", "source"]].set_index("shot_key")["source"]
    table["source"] = table["shot_key"].map(sources).astype("str")
    table["receiver"] = table["source"].map(_receivers(loaded)).astype("str")
    named = _excused(layers)
    apart = table["left_out"].notna() | table["left_out_elevation"].notna()
    table["counts"] = ~apart | table["shot_key"].isin(named).to_numpy()
    own = {each.source: getattr(each.reader, "time_zone", None) for each in loaded.job.shots}
    clocks = {source: zone or loaded.job.job.time_zone or "UTC" for source, zone in own.items()}
    table["clock"] = table["source"].map(clocks).astype("str")
    table["hour"] = [_hour(at, zone) for at, zone in zip(table["time"], table["clock"], strict=True)]
    table["hour"] = table["hour"].astype("float64")
    place = gpd.points_from_xy(table["published_easting"], table["published_northing"])
    shown = table.drop(columns=["left_out", "left_out_elevation"])
    missing = ~np.isfinite(shown["published_easting"].to_numpy(float))
    made = gpd.GeoDataFrame(shown, geometry=place, crs=layers.frame.horizontal_wkt or None)
    made.loc[missing, "geometry"] = None
    return made


_TAKEN = ["session", "mark", "shot_key", "time", *_PLACE, "left_out", "left_out_elevation"]


def _receivers(loaded: LoadedJob) -> dict[str, str]:
    """Receiver of each file of shots that states one."""
    return {each.source: each.receiver for each in loaded.job.shots if each.receiver}


def _excused(layers: Layers) -> set[str]:
    """Shots that the job leaves out for their mark alone: it is the mark that a season asks about."""
    if "cause_shots" not in layers or not len(layers["cause_shots"]):
        return set()
    held = layers["cause_shots"][layers["cause_shots"]["holds"]]
    other = set(held["shot_key"][held["cause"] != MARK])
    return set(held["shot_key"][held["cause"] == MARK]) - other


def _hour(at: Any, zone: str) -> float:
    if at is None or at != at:
        return float("nan")
    there = at.astimezone(ZoneInfo(zone))
    return float(there.hour + there.minute / 60.0)


def _work(results: Results) -> list[dict[str, Any]]:
    """Reported numbers of the work by kind and verdict."""
    reported = results.reported
    work = [name for name in reported["check"].unique() if check_named(name).subject == "work"]
    mine = reported[reported["check"].isin(work)]
    table = mine.groupby(["kind", "verdict"], dropna=False).size().unstack("verdict", fill_value=0)
    return [
        {"kind": str(kind) if kind == kind else "", **{each: int(row.get(each, 0)) for each in SIGNS}}
        for kind, row in table.iterrows()
    ]


def _causes(layers: Layers, receivers: dict[str, str]) -> list[dict[str, Any]]:
    """Causes that the job names, each with how many shots it acts on and the receivers that took them."""
    if "causes" not in layers:
        return []
    causes = layers["causes"]
    source = layers["shots"].set_index("shot_key")["source"]
    told = []
    for row in causes[(causes["status"] == "named") & (causes["explanation"] == 1)].to_dict("records"):
        subject = row["subject"] if row["subject"] == row["subject"] else ""
        keys = _acted_on(layers, row["cause"], subject)
        used = sorted({receivers.get(str(source.get(key)), "") for key in keys} - {""})
        title = cause_named(row["cause"]).title
        told.append({"cause": row["cause"], "title": title, "subject": subject, "shots": row["shots"],
                     "receivers": used})  # fmt: skip
    return told


def _acted_on(layers: Layers, cause: str, subject: str) -> "pd.Series":
    acts = layers["cause_shots"]
    return acts["shot_key"][(acts["cause"] == cause) & (acts["subject"].fillna("") == subject)]
