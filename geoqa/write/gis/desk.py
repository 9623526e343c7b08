"""The layers a GIS desk reads: few, each with a title, columns that say what they are, and elevations where known."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.model.results import Results
from geoqa.model.tables.column import Column
from geoqa.model.tables.columns import TABLES
from geoqa.model.tables.direction import toward
from geoqa.model.tables.in_rows import in_rows
from geoqa.model.tables.layer import shaped
from geoqa.model.tables.reported import signs_in
from geoqa.write.gis.elevated import elevated, elevated_areas, elevated_design, elevated_lines
from geoqa.write.rows import arranged, in_order, is_placed, measured_alone, plain_columns
from geoqa.write.sheets.items_list import items_list
from geoqa.write.verdicts import at_shots, in_words

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

WHOLE = ("asbuilt_lines", "asbuilt_areas", "design_lines", "design_points", "gaps", "control")
"""Layers that a desk gets with every column they have: they stand nowhere else."""

TITLES = {
    "items": ("Items", "What is open, one row a place of the work, a reach without a shot or a matter of the survey"),
    "findings": ("Findings", "Every reported number that is not within tolerance; audit.gpkg holds all of them"),
    "shots": ("Shots", "One row an observed point, with the worst that is reported about it"),
    "asbuilt_lines": ("As-built lines", "Lines that the shots make; in space where every elevation is known"),
    "asbuilt_areas": ("As-built areas", "What closed as-built lines surround; in space where every elevation is known"),
    "design_lines": ("Design lines", "In space where every elevation is known; arcs are chords"),
    "design_points": ("Design points", "Points of the design, with their elevation where it has one"),
    "gaps": ("Reaches without a shot", "Where the design has no as-built evidence"),
    "control": ("Control", "Control marks as published"),
}
"""Title and description of each layer, in the order in which they stand in the file."""

_SHOTS = (
    *("shot", "code", "kind", "line_id", "note", "photo", "time", "session", "initialization", "solution"),
    *("easting", "northing", "elevation", "rod_height", "tilt", "use", "flags"),
    *("baseline_station", "baseline_offset", "baseline_place", "shot_key"),
)
_FINDINGS = (
    *("item", "verdict", "check", "kind", "subject", "label", "against", "design", "measured", "deviation"),
    *("lower", "upper", "u", "remedy", "reference", "easting", "northing", "elevation"),
    *("baseline_station", "baseline_offset", "baseline_place", "shot", "finding"),
)
ALIASES = {
    "shot": "Point",
    "line_id": "Line ID",
    "u": "Uncertainty, 1 sigma",
    "u_h": "Uncertainty in plan, 1 sigma per axis",
    "u_v": "Uncertainty in elevation, 1 sigma",
    "use": "Used",
    "says": "What is reported",
    "lower": "Least allowed",
    "upper": "Most allowed",
    "baseline_station": "Station",
    "baseline_offset": "Offset",
    "baseline_place": "Place",
    "baseline_station_end": "Station of the end",
    "baseline_equation": "Station equation",
    "shot_key": "Key of the shot",
    "finding": "Key of the finding",
    "what_and_where": "What and where",
    "how_sure": "How sure",
    "what_next": "What next",
    "held": "Held in the field set-up",
}
"""What people call a column whose name does not say it."""
_MEANINGS = {
    "says": "each check with its deviation, worst first",
    "chapter": "work, evidence or survey",
    "what_and_where": "the item in words, with its place",
    "found": "measured against design, in words",
    "allowed": "the limit, in words",
    "how_sure": "what chance may have done, and what the work would be like",
    "means": "what follows from it",
    "what_next": "what decides or settles it",
    "numbers": "how many findings the item holds",
    "done_by": "for people",
    "done_on": "for people",
    "u_h": "1 sigma per axis, random and common together",
    "u_v": "1 sigma, random and common together",
    "item": "number that people cite",
}


@dataclass(frozen=True, kw_only=True)
class DeskLayer:
    """One layer: rows in their order, and what it and its columns are called."""

    table: gpd.GeoDataFrame
    title: str
    says: str
    aliases: Mapping[str, str]
    meanings: Mapping[str, str]


def desk_layers(results: Results) -> dict[str, DeskLayer]:
    """Layers by name, worked out once for those who write them and those who read them back."""
    of = ("findings", "shots", "items", "work_odds", *WHOLE, "asbuilt_elements", "design_elements")
    return results.layers.derived("layers of a GIS desk", of, lambda: _desk_layers(results))


def _desk_layers(results: Results) -> dict[str, DeskLayer]:
    unit = results.layers.frame.unit.name
    tables = {"items": _items(results), "findings": _findings(results), "shots": _shots(results)}
    tables |= {name: _whole(results, name) for name in on_desk(results)}
    made = {}
    for name in (each for each in TITLES if each in tables):
        columns = plain_columns(tables[name])
        made[name] = DeskLayer(
            table=tables[name],
            title=TITLES[name][0],
            says=TITLES[name][1],
            aliases=_aliases(columns),
            meanings={column: text for column in columns if (text := declared(name, column, unit))},
        )
    return made


def declared(layer: str, column: str, unit: str) -> str:
    """What a column holds, with its unit; empty where nobody declared it.

    Examples
    --------
    >>> declared("control", "elevation", "ft"), declared("strange", "width", "ft")
    ("published, in the job's frame (ft)", '')
    """
    own = _declared(layer).get(column)
    if own is None and column in _MEANINGS:
        return _MEANINGS[column]
    known = own or (_declared("findings") | _declared("shots")).get(column) if layer in TITLES else own
    if known is None:
        return ""
    measured_in = {"job": unit, "quantity": "in the unit of the quantity"}.get(known.unit, known.unit)
    return f"{known.meaning} ({measured_in})" if measured_in else known.meaning


@cache
def _declared(layer: str) -> dict[str, Column]:
    return {each.name: each for each in TABLES.get(layer, ())}


def _aliases(columns: Iterable[str]) -> dict[str, str]:
    """A name for people for each column, no two alike."""
    made: dict[str, str] = {}
    for column in columns:
        said = ALIASES.get(column) or column.replace("_", " ").capitalize()
        made[column] = said if said not in made.values() else f"{said} ({column})"
    return made


def on_desk(results: Results) -> list[str]:
    """Layers of the results that stand here as they are, and in no other file of the package."""
    layers = results.layers
    return [name for name in WHOLE if name in layers and is_placed(layers[name])]


def _items(results: Results) -> gpd.GeoDataFrame:
    return _at_places(results, items_list(results))


def _findings(results: Results) -> gpd.GeoDataFrame:
    import pandas as pd

    reported = in_order("findings", results.reported)
    loud = reported[reported["verdict"] != "IN"].reset_index(drop=True)
    unit = results.layers.frame.unit.name
    rows = loud.assign(toward=toward(results.layers, loud, among=results.findings))
    listed: list[Any] = in_rows(rows.drop(columns="geometry", errors="ignore"))
    made = pd.DataFrame(loud[[name for name in _FINDINGS if name in loud]])
    made = made.assign(**measured_alone(loud, "design", "measured", "deviation", "lower", "upper", "u"))
    said = {
        "title": [check_named(row["check"]).title for row in listed],
        "says": [in_words(row, unit) for row in listed],
        "unit": [words.unit_of(row["quantity"], unit) for row in listed],
        "why": [check_named(row["check"]).reason(row["why"]).text for row in listed],
    }
    names = dict(zip(results.shots["shot_key"], results.shots["shot"], strict=True))
    made["shot"] = loud["shot"].map(names).astype("str")
    for place, (name, texts) in enumerate(said.items()):
        made.insert(2 + place, name, pd.Series(texts, index=made.index, dtype="str"))
    return _at_places(results, made)


def _shots(results: Results) -> gpd.GeoDataFrame:
    import numpy as np
    import pandas as pd

    signs = dict(zip(results.shots["shot_key"], signs_in(results.layers), strict=True))
    shots = arranged(results, "shots")
    made = pd.DataFrame(shots[[name for name in _SHOTS if name in shots]])
    said = at_shots(results)["headline"].reindex(shots["shot_key"].to_numpy()).to_numpy()
    made.insert(1, "verdict", pd.Series(shots["shot_key"].map(signs).to_numpy(), index=made.index, dtype="str"))
    made.insert(2, "says", pd.Series(said, index=made.index, dtype="str"))
    for name in ("u_h", "u_v"):
        if {f"{name}_random", f"{name}_common"} <= set(shots.columns):
            parts = np.hypot(shots[f"{name}_random"].to_numpy(float), shots[f"{name}_common"].to_numpy(float))
            made.insert(list(made.columns).index("elevation") + 1, name, parts)
    return _at_places(results, made)


def _whole(results: Results, name: str) -> gpd.GeoDataFrame:
    layers, table = results.layers, arranged(results, name)
    if name == "asbuilt_lines" and "asbuilt_elements" in layers:
        return elevated_lines(table, layers["asbuilt_elements"])
    if name == "asbuilt_areas" and {"asbuilt_lines", "asbuilt_elements"} <= set(layers):
        around = elevated_lines(arranged(results, "asbuilt_lines"), layers["asbuilt_elements"])
        return elevated_areas(table, around)
    if name == "design_lines" and "design_elements" in layers:
        return elevated_design(table, layers["design_elements"])
    if name == "gaps" and "item" in results.findings:
        number = results.findings.drop_duplicates("finding").set_index("finding")["item"]
        table = table.copy(deep=False)
        table.insert(0, "item", table["finding"].map(number).astype("str"))
    return elevated(table)


def _at_places(results: Results, table: pd.DataFrame) -> gpd.GeoDataFrame:
    """Points where the rows are, in space where they have an elevation; none where a row has no place."""
    import numpy as np
    import shapely

    places = table[["easting", "northing"]].to_numpy(float)
    points = np.full(len(places), None, dtype=object)
    there = np.isfinite(places).all(axis=1)
    points[there] = shapely.points(places[there])
    return elevated(shaped(table, points, results.layers.frame))
