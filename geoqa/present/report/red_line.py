"""The red-line table: the design value struck, the value of record beside it, and where each comes from."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from geoqa.contract.checks import check_named
from geoqa.contract.spoken import head_of
from geoqa.model import words
from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.register import register
from geoqa.present.report.items import verdict_of
from geoqa.present.report.markup import Column, Html, Row, joined, safe, table, tag
from geoqa.present.report.numbers import every_number, reported_numbers
from geoqa.present.report.origin import DESIGN, MEASURED, REPORTED, mark

MOST = 400
"""Values that are written out; what is out goes first where there are more."""


_OF_SHOT = ["shot_key", "shot", "easting", "northing", "elevation"]


@dataclass(frozen=True, kw_only=True)
class Value:
    """One value of the drawings and what takes its place.

    Attributes
    ----------
    what, name : str
        Which feature, and which value of it.
    design, record : str
        As written; an empty record leaves the design value standing.
    difference : str
    why : str
        Why there is no record.
    verdict : str
        Empty where no check judges it.
    origin : str
        Where the record comes from.
    source : str
        Drawing or file of the design value.
    key : str
        Finding or feature it is about.
    """

    what: str
    name: str
    design: str = ""
    record: str = ""
    difference: str = ""
    why: str = ""
    verdict: str = ""
    origin: str = MEASURED
    source: str = ""
    key: str = ""


def red_line(results: Results) -> Iterator[Html]:
    """Give the table, and what stands in none of its rows."""
    values = [*_points(results), *_pipes(results), *_lines(results)]
    if not values:
        yield tag("p", "The design of this job has no points and no pipes, and no line is out: nothing to strike.")
        return
    yield tag(
        "p",
        "Every point and pipe of the design, and reaches of lines that are out. A design value is struck where "
        "the record differs as printed. Without a record the design value stands, marked as from design. "
        "Other values of lines stand in findings.csv, each with its shot.",
    )
    if "session_shifts" in results.layers and results.layers["session_shifts"]["applied"].any():
        yield tag(
            "p", "Coordinates are as logged; shifts of sessions that were taken off for the verdicts are not in them."
        )
    if cut := len(values) > MOST:
        values.sort(key=lambda each: SIGNS[each.verdict].order if each.verdict else len(SIGNS))
    rows = [_row(each) for each in values[:MOST]]
    heads = (
        Column("Feature", "w"),
        Column("Value", "k"),
        Column("Design", "n"),
        Column("Record", "n"),
        Column("Difference", "n"),
        Column("Is", "k"),
        Column("Source of design"),
    )
    yield table("red-line", heads, rows)
    if cut:
        yield tag("p", f"The first {MOST} of {len(values)} values, what is out first.", kind="quiet")


def _row(value: Value) -> Row:
    design = joined(value.design, mark(DESIGN)) if value.design else safe(words.MISSING)
    if value.record and value.design and value.record != value.design:
        design = tag("del", design)
    record = joined(value.record, mark(value.origin)) if value.record else tag("i", f"no record: {value.why}")
    state = verdict_of(value.verdict) if value.verdict else safe(words.MISSING)
    cells = (value.what, value.name, design, record, value.difference, state, value.source)
    return Row(cells, key=f"{value.key} {value.name}", kind="bad" if value.verdict == "OUT" else "")


def _points(results: Results) -> Iterator[Value]:
    layers = results.layers
    if "design_points" not in layers or not len(layers["design_points"]):
        return
    known = [*_OF_SHOT, *(["use"] if "use" in results.shots else [])]
    shots = results.shots[known].set_index("shot_key").to_dict("index")
    for (key, axis), why in _waiting(layers).items():
        if key in shots:
            shots[key][f"{axis} waits"] = why
    by_shot = _findings_of_points(results)
    matched: dict[str, list[str]] = {}
    if "point_matches" in layers:
        chosen = layers["point_matches"][layers["point_matches"]["chosen"].to_numpy(bool)]
        for name, key in zip(chosen["design"], chosen["shot_key"], strict=True):
            matched.setdefault(str(name), []).append(key)
    sources = _sources(layers)
    for point in layers["design_points"].drop(columns="geometry", errors="ignore").to_dict("records"):
        name, source = str(point["point"]), sources.get(point["source"], str(point["source"]))
        what = name if name.split()[-1:] == [point["kind"]] else f"{point['kind'] or ''} {name}".strip()
        keys = matched.get(name, [])
        for key in keys or ("",):
            told = what if len(keys) < 2 else f"{what}, shot {shots[key]['shot']}"
            shot = shots.get(key)
            found = by_shot.get((key, name), {})
            yield from _place_of(point, told, shot, found, source, layers.frame.unit.name)


def _waiting(layers: Layers) -> dict[tuple[str, str], str]:
    """Shots, each with an axis, that a survey blunder or a doubt holds: no check need ask about them for that."""
    held: dict[tuple[str, str], str] = {}
    if "survey_doubt" in layers:
        for row in layers["survey_doubt"].to_dict("records"):
            for axis, name in (("easting", "off_plan"), ("elevation", "off_elevation")):
                if row[name] > 0:
                    held[row["shot_key"], axis] = "its session is in doubt, by its checks on control"
    if "cause_shots" in layers:
        for row in layers["cause_shots"].to_dict("records"):
            plan = [row["shift_easting"], row["shift_northing"]]
            moved = {"easting": any(each != 0 for each in plan), "elevation": row["shift_elevation"] != 0}
            for axis in ("easting", "elevation"):
                if row["holds"] and moved[axis]:
                    held[row["shot_key"], axis] = check_named("elevation").reason("open-blunder").text
    return held


def _findings_of_points(results: Results) -> dict[tuple[str, str], dict[str, dict[Any, Any]]]:
    """Findings of position and elevation by shot and subject, then by check: the worst of several rule sets."""
    found, points = every_number(results), results.layers["design_points"]["point"]
    mine = found[found["check"].isin(("position", "elevation")) & found["subject"].isin(points) & found["shot"].notna()]
    held: dict[tuple[str, str], dict[str, dict[Any, Any]]] = {}
    for row in mine.to_dict("records"):
        held.setdefault((row["shot"], str(row["subject"])), {}).setdefault(row["check"], row)
    return held


def _place_of(
    point: Mapping[Any, Any],
    what: str,
    shot: Mapping[Any, Any] | None,
    found: Mapping[str, Any],
    source: str,
    unit: str,
) -> Iterator[Value]:
    digits = words.decimals("length", unit)
    plan, height = found.get("position", {}), found.get("elevation", {})
    common = {"what": what, "source": source}

    def place(north: float, east: float) -> Html:
        return Html(f"N {words.number(north, digits)}<br>E {words.number(east, digits)}")

    why = _withheld(shot, plan, "easting")
    east, north = (float("nan"),) * 2 if shot is None or why else (shot["easting"], shot["northing"])
    apart = (words.number(each, digits, signed=True) for each in (north - point["northing"], east - point["easting"]))
    away = (
        Html("<br>".join(f"{axis} {size}" for axis, size in zip(("dN", "dE"), apart, strict=True))) if not why else ""
    )
    yield Value(
        name="position",
        design=place(point["northing"], point["easting"]),
        why=why,
        difference=away,
        record="" if why else place(north, east),
        verdict=plan.get("verdict", ""),
        key=plan.get("finding", str(point["point"])),
        **common,
    )
    why = _withheld(shot, height, "elevation")
    built = height.get("measured", float("nan"))
    if built != built and shot is not None:
        built = shot["elevation"]
    if point["elevation"] != point["elevation"] and (why or built != built):
        return  # neither drawn nor measured
    drawn = point["elevation"] == point["elevation"]
    rise = words.number(built - point["elevation"], digits, signed=True) if drawn and not why else ""
    yield Value(
        name="elevation",
        design=words.number(point["elevation"], digits) if drawn else "",
        why=why,
        record="" if why else words.number(built, digits),
        difference=rise,
        verdict=height.get("verdict", ""),
        key=height.get("finding", str(point["point"])),
        **common,
    )


def _withheld(shot: Mapping[Any, Any] | None, finding: Mapping[Any, Any], axis: str) -> str:
    """Why a shot gives no value of record; empty where it does."""
    if shot is None:
        return "not measured"
    if finding.get("verdict") == "NO_DATA" and finding.get("why") != "no-limit":
        return check_named(finding["check"]).reason(finding["why"]).text
    if not shot.get("use", True):
        return "the shot is not used"
    if finding.get("verdict", "NO_DATA") == "NO_DATA" and f"{axis} waits" in shot:
        return str(shot[f"{axis} waits"])
    return "the shot has no such value" if shot[axis] != shot[axis] else ""


def _pipes(results: Results) -> Iterator[Value]:
    layers = results.layers
    if "pipes" not in layers:
        return
    judged = every_number(results)
    found = {str(row["subject"]): row for row in judged[judged["check"] == "pipe-slope"].to_dict("records")[::-1]}
    ends, unit = _ends_in_question(layers), layers.frame.unit.name
    for pipe in layers["pipes"].drop(columns="geometry", errors="ignore").to_dict("records"):
        name = str(pipe["pipe"])
        what, finding = f"pipe {name}, {pipe['upper']} to {pipe['lower']}", found.get(name, {})
        why = pipe["why"] if isinstance(pipe["why"], str) else ""
        if finding.get("verdict") == "NO_DATA" and finding.get("why") != "no-limit":
            why = check_named("pipe-slope").reason(finding["why"]).text
        why = why or ends.get(name, "")
        why = why or ("not measured" if pipe["slope"] != pipe["slope"] else "")
        drawn = pipe["design_slope"] == pipe["design_slope"]
        apart = words.number(100 * (pipe["slope"] - pipe["design_slope"]), 2, signed=True) if drawn and not why else ""
        yield Value(
            what=what,
            name="slope",
            design=f"{100 * pipe['design_slope']:.2f} %" if drawn else "",
            why=why,
            record="" if why else f"{100 * pipe['slope']:.2f} %",
            difference=apart,
            source="between inverts",
            verdict=finding.get("verdict", ""),
            key=finding.get("finding", name),
        )
        if isinstance(pipe["material"], str) or pipe["diameter"] == pipe["diameter"]:
            size = f"{words.number(pipe['diameter'], 2)} {unit} inside" if pipe["diameter"] == pipe["diameter"] else ""
            told = ", ".join(
                part for part in (size, pipe["material"] if isinstance(pipe["material"], str) else "") if part
            )
            yield Value(what=what, name="size, material", record=told, origin=REPORTED, key=name)


def _ends_in_question(layers: Layers) -> dict[str, str]:
    """Pipes with an end whose invert waits, or looks misread: their slope is no record, whether it is judged or not."""
    if "structures" not in layers:
        return {}
    waiting, held = _waiting(layers), {}
    for row in layers["structures"].drop(columns="geometry", errors="ignore").to_dict("records"):
        if isinstance(row["question"], str) and row["question"]:
            held[str(row["pipe"])] = f"the invert at {row['structure']} looks misread"
        elif why := waiting.get((row["shot_key"], "elevation"), ""):
            held[str(row["pipe"])] = f"invert at {row['structure']}: {why}"
    return held


def _lines(results: Results) -> Iterator[Value]:
    """Reaches and shots of design lines that are out to the side or in elevation."""
    layers, unit = results.layers, results.layers.frame.unit.name
    if "design_lines" not in layers:
        return
    sources = _sources(layers)
    owner = dict(zip(layers["design_lines"]["line"].astype(str), layers["design_lines"]["source"], strict=True))
    out = reported_numbers(results)
    out = out[(out["verdict"] == "OUT") & out["check"].isin(("offset", "elevation")) & out["subject"].isin(list(owner))]
    digits = words.decimals("length", unit) - 1
    for row in out.to_dict("records"):
        check = check_named(row["check"])
        grade = row["check"] == "elevation" and row["design"] == row["design"] and isinstance(row["shot"], str)
        said = words.judged(row, check, unit)
        yield Value(
            what=f"{head_of(row, unit)}, {row['subject']}"
            if row["subject"] not in head_of(row, unit)
            else head_of(row, unit),
            name="elevation" if row["check"] == "elevation" else "offset",
            design=words.number(row["design"], digits) if grade else "as drawn",
            record=words.number(row["measured"], digits) if grade else said,
            difference=words.number(row["deviation"], digits, signed=True),
            verdict="OUT",
            source=sources.get(owner[row["subject"]], str(owner[row["subject"]])),
            key=row["finding"],
        )


def _sources(layers: Layers) -> dict[str, str]:
    """Sheet, revision and date of each design file, or its name where the job states none."""
    if "sources" not in layers:
        return {}
    files = layers["sources"]
    named = dict(zip(files["source"].astype(str), files["path"].astype(str), strict=True))
    return named | register(files)
