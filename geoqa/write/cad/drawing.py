"""What a drawing shows, before any drawing format: lines, marks, labels and a note, each on its layer.

Layer names are trade words: kind, then verdict, as in ``CURB-TOP_OUT``. Everything but the marks, and the lines on
layers that say 3D, is in plan, at 0; a mark is at its elevation. One without an elevation is drawn in plan, on a layer
that says so, and never inserted at 0. Shots of a tilt test are no work and are not drawn.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import TYPE_CHECKING

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.model.tables.direction import ways
from geoqa.model.tables.in_rows import in_rows
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.reported import NOT_CHECKED, TEXTS, shots_by_sign, signs_in
from geoqa.model.tables.shot_flags import once
from geoqa.write.about import about
from geoqa.write.cad.layout import COVERED, LAST, WIDE
from geoqa.write.cad.linework import Vertices, arrow, element_paths, plan_paths, raised_paths
from geoqa.write.cad.names import along, centred, design_points
from geoqa.write.cad.sheet import LABEL, Label, Mark, Path, Raised, Sheet
from geoqa.write.rows import FEW
from geoqa.write.text import one_line
from geoqa.write.verdicts import at_shots

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

DESIGN, BAND, GAP, RUN, DIFFERENCE = "DESIGN", "BAND", "GAP", "RUN", "DIFFERENCE"
ASBUILT, IN_SPACE, CAPPED = "ASBUILT", "3D", "CAPPED"
NAME, DESIGN_POINT = "NAME", "DESIGN-POINT"
NO_ELEVATION = "NO-ELEVATION"
_THIRDS = (1 / 3, 2 / 3, 0.2, 0.8, 0.45, 0.55, 0.1, 0.9)
LINES_APART = 1.5
"""Distance between lines of text, in their height."""
TILT_TEST = "tilt-test"
HIDDEN = frozenset({"UNDECIDED"})
"""Verdicts whose labels and arrows are there and switched off: too many to read, and nothing to mend."""
_LABELLED = {"OUT": 0, "UNDECIDED": 0, "NO_DATA": 3}
"""Verdicts that are labelled, and when: what is not judged after the names of lines."""
CHORD = Length.parse("0.01 ft")
"""Largest distance between an arc and the chords of a line in space; in plan it is an arc."""


def drawing_of(results: Results, *, spacing: float, exaggeration: int, longest: float = math.inf) -> Sheet:
    """Collect what a drawing of `results` shows.

    Parameters
    ----------
    results : Results
    spacing : float
        Distance between lines of text that stand at one place, in the job's unit.
    exaggeration : int
        Factor that difference arrows are drawn with; the note prints it.
    longest : float
        Where an arrow ends that would be longer, in the job's unit; its layer and the note say so.
    """
    layers = results.layers

    def made() -> Sheet:
        return _drawn(results, spacing, exaggeration, longest)

    few = len(layers["shots"]) < FEW
    name = f"drawing {spacing} {exaggeration} {longest}"
    seen = layers.derived(name, tuple(layers), made) if few else made()
    return replace(seen, note=_note(results, seen, exaggeration, longest))


def _drawn(results: Results, spacing: float, exaggeration: int, longest: float) -> Sheet:
    """Everything but the note, which tells more than layers hold."""
    seen = Sheet()
    verdicts = at_shots(results)
    layers = results.layers
    seen.marks = _marks(results, verdicts)
    kinds = (
        dict(zip(layers["design_lines"]["line"], layers["design_lines"]["kind"], strict=True))
        if ("design_lines" in layers)
        else {}
    )
    if "design_elements" in layers and len(layers["design_elements"]):
        for line, vertices in element_paths(layers["design_elements"]):
            seen.paths.append(Path(layer_name(DESIGN, kinds.get(line, "line")), vertices, shows=DESIGN))
            _name_line(seen, DESIGN, line, vertices, spacing)
    elif "design_lines" in layers:
        _shapes(seen, DESIGN, layers["design_lines"])
    if "asbuilt_elements" in layers:
        _asbuilt(seen, layers["asbuilt_lines"], layers["asbuilt_elements"], spacing)
    if "design_points" in layers:
        for kind, place, said in design_points(layers["design_points"]):
            ending = [] if place[2] is not None else [NO_ELEVATION]
            seen.design.append(Mark(layer_name(DESIGN_POINT, kind, *ending), DESIGN_POINT, *place, said))
    _in_space(seen, layers, kinds)
    for table, prefix in (("bands", BAND), ("gaps", GAP), ("runs", RUN)):
        if table in layers:
            _shapes(seen, prefix, layers[table])
    _arrows(seen, results, verdicts, exaggeration, longest)
    _labels(seen, results, spacing)
    return seen


def _asbuilt(seen: Sheet, lines: pd.DataFrame, elements: pd.DataFrame, spacing: float) -> None:
    kinds = dict(zip(lines["line"], lines["kind"].fillna("line"), strict=True))
    for line, vertices in element_paths(elements):
        seen.paths.append(Path(layer_name(ASBUILT, kinds[line]), vertices, shows=ASBUILT))
        _name_line(seen, ASBUILT, line, vertices, spacing)


def _name_line(seen: Sheet, prefix: str, line: str, vertices: Vertices, spacing: float) -> None:
    """The name of a line along it: of the design at its middle, of the crew at a third, above and below."""
    height, text = spacing / LINES_APART, one_line(line)
    shares, above, rank = ((0.5, 0.25, 0.75, 0.4, 0.6, 0.1, 0.9), 0.6, 1) if prefix == DESIGN else (_THIRDS, -1.6, 2)
    places = [along(vertices, share) for share in shares]
    first, *others = [(*centred(at, WIDE * height * len(text), above * height), at[2]) for at in places]
    seen.labels.append(
        Label(
            layer_name(NAME, prefix),
            first[0],
            first[1],
            text,
            prefix,
            turn=first[2],
            others=tuple(others),
            rank=rank,
        )
    )


def _in_space(seen: Sheet, layers: Layers, kinds: dict[str, str]) -> None:
    """Lines of the crew and of the design whose elevations are all known, in space beside each other."""
    sagitta = CHORD.to(layers.frame.unit)
    if "asbuilt_elements" in layers:
        lines = layers["asbuilt_lines"]
        own = dict(zip(lines["line"], lines["kind"].fillna("line"), strict=True))
        for line, vertices in raised_paths(layers["asbuilt_elements"], sagitta=sagitta):
            seen.raised.append(Raised(layer_name(ASBUILT, IN_SPACE, own[line]), vertices, ASBUILT))
    if "design_elements" in layers:
        for line, vertices in raised_paths(layers["design_elements"], sagitta=sagitta):
            seen.raised.append(Raised(layer_name(DESIGN, IN_SPACE, kinds.get(line, "line")), vertices, DESIGN))


def layer_name(*parts: str) -> str:
    """Name a layer from words: capitals, digits and hyphens, the words joined by ``_``.

    Examples
    --------
    >>> layer_name("curb-top", "OUT"), layer_name("rim <new>", "NO_DATA")
    ('CURB-TOP_OUT', 'RIM-NEW_NO-DATA')
    """
    clean = [re.sub(r"[^A-Z0-9]+", "-", str(part).upper()).strip("-")[:40] for part in parts]
    return "_".join(part or "UNNAMED" for part in clean)


def _marks(results: Results, verdicts: pd.DataFrame) -> list[Mark]:
    signs = dict(zip(results.shots["shot_key"], signs_in(results.layers), strict=True))
    shots = once(results.shots)  # a row that lists a shot again would draw a second symbol over the first
    shots = shots.sort_values("shot_key", kind="stable")
    kinds = shots["kind"] if "kind" in shots else [None] * len(shots)
    columns = (shots[name] for name in ("shot_key", "shot", "code", "easting", "northing", "elevation"))
    told = verdicts.to_dict("index")
    marks = []
    for key, name, code, easting, northing, elevation, kind in zip(*columns, kinds, strict=True):
        if not (easting == easting and northing == northing) or kind == TILT_TEST:
            continue
        finding, sign = told.get(key, {"headline": "", "findings": ""}), signs[key]
        high = elevation == elevation
        layer = layer_name(_text(kind) or "unknown", sign, *([] if high else [NO_ELEVATION]))
        says = {
            "POINT": _text(name),
            "CODE": _text(code),
            "ELEVATION": repr(float(elevation)) if high else "none",
            "SAYS": one_line(finding["headline"]),
            "KEY": _text(key),
            "FINDINGS": finding["findings"],
        }
        place = float(easting), float(northing), float(elevation) if high else None
        marks.append(Mark(layer, sign, *place, says))
    return marks


def _shapes(seen: Sheet, prefix: str, table: gpd.GeoDataFrame) -> None:
    for kind, shape in zip(table["kind"], table.geometry, strict=True):
        for vertices, closed in plan_paths(shape):
            seen.paths.append(Path(layer_name(prefix, kind), vertices, closed, shows=prefix))


def _arrows(seen: Sheet, results: Results, verdicts: pd.DataFrame, factor: int, longest: float) -> None:
    places = results.shots.set_index("shot_key")[["easting", "northing"]]
    for table, radial in (("line_matches", False), ("point_matches", True)):
        if table not in results.layers:
            continue
        matches = results.layers[table]
        chosen = matches[matches["chosen"]].sort_values(["shot_key", "design"], kind="stable")
        chosen = chosen.join(places, on="shot_key").join(verdicts[["verdict"]], on="shot_key")
        length = chosen["distance"] if radial else chosen["offset"]
        columns = (chosen[name] for name in ("easting", "northing", "azimuth", "verdict"))
        for easting, northing, azimuth, verdict, apart in zip(*columns, length, strict=True):
            bearing = azimuth if radial else azimuth + 90.0
            if vertices := arrow(easting, northing, bearing, apart, factor, longest=longest):
                shows = _text(verdict) or NOT_CHECKED
                capped = [CAPPED] if abs(apart) * factor > longest else []
                seen.paths.append(Path(layer_name(f"{DIFFERENCE} X{factor}", shows, *capped), vertices, shows=shows))


def _labels(seen: Sheet, results: Results, spacing: float) -> None:
    unit = results.layers.frame.unit.name
    taken: dict[tuple[float, float], int] = {}
    reported = results.reported.sort_values(["excess", "finding"], ascending=[False, True], kind="stable")
    loud = reported[reported["verdict"].isin(_LABELLED)]
    loud = loud.assign(toward=ways(results.layers, loud))
    for row in in_rows(loud.drop(columns="geometry", errors="ignore")):
        place = row["easting"], row["northing"]
        if place[0] != place[0] or place[1] != place[1]:
            continue
        line = taken[place] = taken.get(place, 0) + 1
        number, check = _text(row.get("item")), check_named(row["check"])
        told = check.title.lower()  # a count is no deviation: the label says how many
        if row["verdict"] == "NO_DATA":  # a number that is not judged would read as one that is
            told = f"{row['check']} not judged"
        elif row["quantity"] != "count":  # the note says the unit once
            told = f"{row['check']} {words.judged(row, check, unit, toward=row['toward'], bare=True)}"
        said = f"{f'{number}. ' if number else ''}{_text(row['label'])}: {told}"
        beside = _text(row.get("baseline_place"))
        text = one_line(f"{said} ({beside})" if beside else said)
        layer = layer_name(LABEL, row["verdict"])
        rank = LAST if row["verdict"] in HIDDEN else _LABELLED[row["verdict"]]
        seen.labels.append(
            Label(
                layer,
                place[0] + spacing,
                place[1] - spacing * line,
                text,
                shows=row["verdict"],
                at=place,
                item=number,
                rank=rank,
            )
        )


def _note(results: Results, seen: Sheet, factor: int, longest: float) -> list[str]:
    said, frame = about(results), results.layers.frame
    reported = results.reported["verdict"].value_counts()
    shown = ["Findings, a run of shots that agree as one; and shots, by the worst that is reported about each:"]
    for sign, count in shots_by_sign(results.layers).items():
        mark = f"{SIGNS[sign].shape if sign in SIGNS else 'plus'}:"
        findings = f"{words.many(int(reported.get(sign, 0)), 'finding')}, " if sign in SIGNS else ""
        shown.append(f"{mark} {TEXTS[sign]}: {findings}{words.many(count, 'shot')}")
    drawn = once(results.shots)
    tests = int((drawn["kind"] == TILT_TEST).sum()) if "kind" in drawn else 0
    if tests:
        shown.append(f"{words.many(tests, 'shot')} of a tilt test {'is' if tests == 1 else 'are'} not drawn.")
    placeless = len(drawn) - tests - len(seen.marks)
    if placeless:
        shown.append(f"{words.many(placeless, 'shot')} without a place {'is' if placeless == 1 else 'are'} not drawn.")
    lines = [
        " ".join(said[label] for label in ("title", "revision", "date") if label in said),
        said["review"],
        frame.describe(),
        f"Coordinates and elevations in {frame.unit.full_name}: 1 {frame.unit.name} = {frame.unit.metres_exact} m",
        *shown,
        f"Labels give deviations in {frame.unit.name}; what is not judged is labelled so, without a number.",
        f"Difference arrows are drawn {factor} times their length{_ends(longest, frame.unit.name)}.",
        "Switched off are the layers of labels and arrows of what cannot be decided, of tolerance bands, and of text "
        f"that has no room (they end in {COVERED}). A label that begins with a number is of that item, its worst.",
        f"Lines are in plan, at 0, and their arcs are true arcs: measure arcs there. On layers with {IN_SPACE} in "
        "their name lines whose elevations are all known are there again, in space.",
        f"In space no entity keeps an arc that climbs: there arcs are chords, which leave them by {CHORD.text} "
        "at the most.",
        "Shots without an elevation are drawn in plan, on layers that end in NO-ELEVATION, and are no blocks.",
        said["caution"],
        said["caution_buried"],
    ]
    return [one_line(line) for line in lines if line]


def _ends(longest: float, unit: str) -> str:
    if math.isinf(longest):
        return ""
    size = words.number(longest, 2)
    return f"; one that would be longer than {size} {unit} ends there, on a layer that ends in {CAPPED}"


def _text(value: object) -> str:
    return "" if value is None or value != value else one_line(str(value))
