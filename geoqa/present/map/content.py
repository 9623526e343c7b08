"""What goes into the map: layers and summary of the results, packed, and the words around them."""

import base64
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.contract.checks import every_check, reason_texts
from geoqa.contract.items import by_chance, headline
from geoqa.contract.odds_sentences import odds_of
from geoqa.contract.shown_by import cause_of_checks
from geoqa.contract.survey import DIAGNOSIS, NAMELESS, subject_in_words
from geoqa.contract.what_next import chances, meaning
from geoqa.contract.words import every_flag
from geoqa.frames.moving.mesh import lonlat_mesh
from geoqa.model import words
from geoqa.model.background import Background
from geoqa.model.frame import Frame
from geoqa.model.note_line import more_of, short_of
from geoqa.model.photos import Photos, names_of
from geoqa.model.quantity import LengthUnit
from geoqa.model.results import Results
from geoqa.model.shown import FINE
from geoqa.model.signs import SIGNS
from geoqa.model.tables.direction import ways
from geoqa.model.tables.finding import VERDICTS
from geoqa.model.tables.in_rows import in_rows
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.levelled import levelled_in
from geoqa.model.tables.register import register
from geoqa.model.tables.reported import NOT_CHECKED, UNASKED, shots_by_sign
from geoqa.present.map import judged, linework, places, together
from geoqa.present.map.difference import difference
from geoqa.present.map.left_out import left_out
from geoqa.present.map.linework import Canvas
from geoqa.present.map.overview import changes, control_table, overview, states
from geoqa.present.map.pack import Packer
from geoqa.present.map.review import review
from geoqa.present.map.rounding import digits_of

if TYPE_CHECKING:
    import pandas as pd


DEGREE_DIGITS = 9
"""Decimals of a degree in the page: a tenth of a millimetre."""


@dataclass(frozen=True, kw_only=True)
class Content:
    """What a page holds besides its scripts.

    Attributes
    ----------
    about : str
        JSON: titles, words, and the directory of the payload.
    payload : str
        Base64 of the packed columns.
    background : str
        Base64 of the picture under the map; empty where there is none.
    difference : str
        The same of the difference of as-built and design surface.
    """

    about: str
    payload: str
    background: str
    difference: str = ""


def content(results: Results, *, without: Sequence[str] = ()) -> Content:
    """Choose and pack what the map shows.

    Parameters
    ----------
    results : Results
    without : sequence of str
        Kinds that are left out.

    Returns
    -------
    Content
        The same bytes for the same results.
    """
    buried = _buried(results.layers)  # what is left out is under ground all the same
    results = left_out(results, without)
    layers, unit = results.layers, results.layers.frame.unit.name
    digits = words.decimals("length", unit)
    canvas = Canvas(Packer(), _origin(layers), digits)
    linework.add_design(canvas, layers)
    shots = places.add_shots(canvas, results)
    loud = results.findings[results.findings["verdict"] != "IN"]
    told = _in_words(results.findings)
    told = told.assign(below=cause_of_checks(layers, results.findings))
    told = told.assign(
        toward=ways(layers, loud).reindex(told.index),
        odds=odds_of(layers, told["finding"]),
        levelled=levelled_in(layers, told),
    )
    told, within = together.kept(told, layers["evidence"])
    findings = judged.add_findings(canvas, told, shots, unit)
    together.add_within(canvas, within, layers["evidence"], shots)
    together.add_along(canvas, within, layers["evidence"], shots, unit)
    chapters = judged.add_listed(canvas, findings, unit, chances(layers), by_chance(layers))
    judged.add_evidence(canvas, layers["evidence"], findings, shots)
    _add_shapes(canvas, layers, findings)
    if "asbuilt_members" in layers:
        linework.add_asbuilt(canvas, layers["asbuilt_members"], shots)
    if "control" in layers:
        places.add_control(canvas, layers["control"])
    if "design_points" in layers:
        places.add_design_points(canvas, layers["design_points"])
    about = {
        "title": _title(results),
        "unit": unit,
        "metres": layers.frame.unit.metres_float,
        "digits": digits,
        "digits_of": digits_of(unit),
        "fine": FINE["ft" if unit.startswith("ft") else "m"],
        "origin": [round(each) for each in canvas.origin],
        "lonlat": _lonlat(layers.frame, canvas.origin),
        "chapters": chapters,
        "verdicts": [_sign(verdict) for verdict in VERDICTS],
        "reported": _reported(results),
        "signs": shots_by_sign(layers),
        "unasked": {"sign": NOT_CHECKED, "text": UNASKED},
        "overview": overview(results),
        "control": control_table(layers),
        "changes": changes(results),
        "since": states(results),
        "notes": [[short_of(note), more_of(note)] for note in results.notes],
        "words": _words(told, shots),
        "budget": _alike(_budget(layers)),
        "buried": buried,
        "sources": _sources(layers),
        "register": register(layers["sources"]) if "sources" in layers else {},
        "data": canvas.packer.directory(),
    }
    if results.photos is not None:
        about["photos"] = _photos(results.photos, layers["shots"])
    if results.background is not None:
        about["background"] = _background(results.background, canvas.origin, layers.frame.unit)
    picture = results.background.picture.data if results.background is not None else b""
    surface = difference(layers, canvas.origin)
    if surface is not None:
        about["difference"] = surface.about
    about |= review(results)
    text = json.dumps(about, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    held = {"background": picture, "difference": surface.png if surface is not None else b""}
    coded = {name: base64.b64encode(data).decode("ascii") for name, data in held.items()}
    return Content(about=text, payload=canvas.packer.payload(), **coded)


def _in_words(findings: "pd.DataFrame") -> "pd.DataFrame":
    """Findings with the subject as people say it, where that is not what the tables hold."""
    rows = findings.index[(findings["check"] == DIAGNOSIS.name) | findings["subject"].str.endswith(NAMELESS)]
    if not len(rows):
        return findings
    told = [subject_in_words(row) for row in in_rows(findings.loc[rows, ["check", "subject"]])]
    subjects = findings["subject"].copy()
    subjects.loc[rows] = told
    return findings.assign(subject=subjects)


def _origin(layers: Layers) -> tuple[float, float]:
    """A round place near the middle of what is known, so that one far-off shot does not move it."""
    tables = [layers[name] for name in ("design_points", "control", "shots") if name in layers]
    if "design_elements" in layers:
        starts = layers["design_elements"]
        tables.insert(0, starts.rename(columns={"start_easting": "easting", "start_northing": "northing"}))
    for table in tables:
        east, north = table["easting"].to_numpy(float), table["northing"].to_numpy(float)
        there = np.isfinite(east) & np.isfinite(north)
        if there.any():
            return float(round(np.median(east[there]), -2)), float(round(np.median(north[there]), -2))
    return 0.0, 0.0


def _lonlat(frame: Frame, origin: tuple[float, float]) -> dict[str, object] | None:
    """Longitude and latitude about the origin, from which the page finds those of any place; None if not known."""
    mesh = lonlat_mesh(frame, *origin)
    if mesh is None:
        return None
    degrees = {"longitude": mesh.longitude, "latitude": mesh.latitude}
    return {
        "nodes": len(mesh.longitude),
        "step": mesh.step,
        "accuracy": mesh.accuracy,
        **{name: values.ravel().round(DEGREE_DIGITS).tolist() for name, values in degrees.items()},
    }


def _photos(photos: Photos, shots: "pd.DataFrame") -> dict[str, object]:
    """The folder, and those that the shots of this map name, each with its small copy as text."""
    named = {name for text in shots["photo"].dropna().astype("str").unique() for name in names_of(text)}
    small = {name: base64.b64encode(data).decode("ascii") for name, data in photos.small.items() if name in named}
    return {"folder": photos.folder, "small": small}


def _background(background: Background, origin: tuple[float, float], unit: LengthUnit) -> dict[str, object]:
    """Where the picture lies, counted from the origin in units of the grid, and the words beside it."""
    picture = background.picture
    return {
        "words": background.describe(unit),
        "opacity": background.opacity,
        "media": picture.media,
        "west": picture.west - origin[0],
        "north": picture.north - origin[1],
        "pixel": picture.pixel,
        "width": picture.width,
        "height": picture.height,
    }


def _add_shapes(canvas: Canvas, layers: Layers, findings: "pd.DataFrame") -> None:
    for name, owner in (("runs", "run"), ("gaps", "finding")):
        if name in layers and "geometry" in layers[name].columns:
            judged.add_owned(canvas, name, layers[name], findings, owner)
            linework.add_shapes(canvas, name, layers[name]["geometry"])
    if "bands" in layers and "geometry" in layers["bands"].columns:
        bands = layers["bands"]
        table = canvas.packer.table("bands", len(bands))
        table.texts("kind", bands["kind"])
        table.texts("line", bands["line"])
        linework.add_shapes(canvas, "bands", bands["geometry"])


def _title(results: Results) -> dict[str, object]:
    title, between = results.title, results.summary.get("grid_ground", "")
    return {
        "name": title.name,
        "headline": headline(results.layers, counts_too=False),
        "revision": title.revision,
        "date": title.date,
        "client": title.client,
        "reviewed": "" if title.preliminary else f"Reviewed by {title.reviewed_by}, {title.reviewed_on}",
        "preliminary": words.PRELIMINARY if title.preliminary else "",
        "notes": list(title.notes),
        "frame": "; ".join(part for part in (results.layers.frame.describe(), between) if part),
        "caution": words.CERTIFICATION,
    }


def _sign(verdict: str) -> dict[str, object]:
    sign = SIGNS[verdict]
    return {
        "verdict": verdict,
        "text": sign.text,
        "short": sign.short,
        "colour": sign.colour,
        "shape": sign.shape,
        "order": sign.order,
    }


def _reported(results: Results) -> dict[str, int]:
    """Counts of the summary; where a summary has none, the reported findings are counted."""
    counts = results.summary.get("reported")
    if counts is None:
        return judged.verdict_counts(results.reported["verdict"])
    return {verdict: int(counts.get(verdict, 0)) for verdict in VERDICTS}


def _words(findings: "pd.DataFrame", shots: "pd.DataFrame") -> dict[str, object]:
    """Words of what is on the page."""
    told, whys = set(findings["check"]), set(findings["why"].dropna())
    checks = {name: check for name, check in every_check().items() if name in told}
    raised = {flag for flags in shots["flags"].dropna().unique() for flag in flags.split(";")}
    return {
        "checks": {name: check.title for name, check in checks.items()},
        "whys": {name: text for name, text in reason_texts().items() if name in whys},
        "flags": {name: flag.title for name, flag in every_flag().items() if name in raised},
        "directions": {name: check.directions for name, check in checks.items() if check.directions},
        "radial": [name for name, check in checks.items() if check.radial],
        "means": {name: said for name in checks if (said := meaning({"check": name, "verdict": "OUT"}))},
        "axes": {name: check.axis for name, check in checks.items() if check.axis},
    }


def _budget(layers: Layers) -> dict[str, dict[str, list[list[str]]]]:
    """For every kind and axis where the parts of its uncertainty come from, in words."""
    if "budget" not in layers:
        return {}
    told: dict[str, dict[str, list[list[str]]]] = {}
    budget = layers["budget"]
    for row in budget[budget["part"] != "all"].itertuples(index=False):
        of_axis = told.setdefault(row.kind if isinstance(row.kind, str) else "", {}).setdefault(row.axis, [])
        of_axis.append([_PARTS.get(row.part, row.part), row.source])
    return told


def _alike(told: dict[str, Any]) -> dict[str, Any]:
    """What many kinds share, written once: the number of each kind's entry, and the entries."""
    entries: list[Any] = []
    for entry in told.values():
        entries += [] if entry in entries else [entry]
    return {"of": {kind: entries.index(entry) for kind, entry in told.items()}, "entries": entries}


_PARTS = {"random": "of its own", "common": "shared by the session", "tilt": "lean, where the rod leans",
          "mark": "of the published mark"}  # fmt: skip
"""Parts of an uncertainty in words."""


def _buried(layers: Layers) -> str:
    """Words of warning where something under ground shows."""
    shown: set[str] = set()
    for name in ("design_lines", "design_points", "shots"):
        if name in layers and "kind" in layers[name].columns:
            shown |= set(layers[name]["kind"].dropna().unique())
    return words.BURIED if shown & words.BURIED_KINDS else ""


def _sources(layers: Layers) -> list[dict[str, str]]:
    if "sources" not in layers:
        return []
    columns = ["source", "role", "path", "sha256", "reader"]
    rows = layers["sources"].reindex(columns=columns).astype("str").fillna("")
    return [dict(zip(columns, map(str, row), strict=True)) for row in rows.itertuples(index=False)]
