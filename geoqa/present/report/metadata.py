"""What rules of records ask a survey to say of itself, item by item; what is missing is named."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from geoqa.model import words
from geoqa.model.results import Results
from geoqa.present.report.markup import Column, Html, Row, joined, safe, table, tag
from geoqa.present.report.origin import REPORTED, mark

if TYPE_CHECKING:
    import pandas as pd

RULE = "21 NCAC 56.1607"
"""North Carolina’s rule on what a survey by satellites must state; rules elsewhere ask for the same or for less."""


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One thing a rule asks for.

    Attributes
    ----------
    name : str
    stated : str or Html
        What this job says of it; empty where it says nothing.
    missing : str
        What is not stated, and what would state it; empty where nothing is missing.
    """

    name: str
    stated: str = ""
    missing: str = ""


def metadata(results: Results) -> Iterator[Html]:
    """Give the block of metadata, and the published marks that the survey is tied to."""
    asked = every_item(results)
    lacking = [each.name for each in asked if each.missing]
    count = f"{len(lacking)} of {len(asked)}" if lacking else "none"
    yield tag(
        "p",
        f"The items are those that rules such as {RULE} ask for in a certificate or a note of metadata. "
        f"Missing in whole or in part: {count}"
        + (f" – {words.listed([f'{each[:1].lower()}{each[1:]}' for each in lacking])}." if lacking else "."),
    )
    rows = [
        Row(
            (
                each.name,
                joined(
                    tag("p", each.stated),
                    tag("p", Html('<b class="lacking">Missing:</b> '), each.missing) if each.missing else "",
                ),
            ),
            key=each.name,
            kind="lacks" if each.missing else "",
        )
        for each in asked
    ]
    yield table("metadata", (Column("Asked for", "k"), Column("Stated", "w")), rows)
    if "control" in results.layers and len(results.layers["control"]):
        yield _marks(results)


def every_item(results: Results) -> tuple[Asked, ...]:
    """Everything the rule asks for, in its order."""
    frame = results.layers.frame
    epoch = "" if frame.epoch is None else f"epoch {frame.epoch:.2f}"
    datum = ", ".join(part for part in (frame.realization or "", epoch) if part)
    lacks = [name for name, held in (("realization", frame.realization), ("epoch", frame.epoch)) if held is None]
    return (
        Asked(
            name="Class of survey",
            missing="which class the survey is of is for the licensed professional to state; no file says it",
        ),
        _accuracy(results),
        _procedure(results.shots),
        _dates(results.shots),
        Asked(
            name="Horizontal datum and epoch",
            stated=f"{frame.horizontal_name}"
            + (f" ({frame.horizontal})" if ":" in frame.horizontal else "")
            + (f"; {datum}" if datum else ""),
            missing=f"{' and '.join(lacks)}, as [frame] states {'it' if len(lacks) == 1 else 'them'}" if lacks else "",
        ),
        Asked(
            name="Vertical datum",
            stated=(frame.vertical_name or "") + (f" ({frame.vertical})" if ":" in (frame.vertical or "") else ""),
            missing="" if frame.vertical_name else 'vertical = "…" in [frame]',
        ),
        _control(results),
        Asked(
            name="Geoid model",
            stated=frame.geoid or "",
            missing="" if frame.geoid else "the model that gave the logged elevations: no file of this job says it",
        ),
        _factor(results),
        Asked(
            name="Units",
            stated=f"{frame.unit.full_name} ({frame.unit.name}), {frame.unit.metres_exact} m, of coordinates, "
            "elevations and all lengths here",
        ),
    )


def _accuracy(results: Results) -> Asked:
    name, unit = "Positional accuracy", results.layers.frame.unit.name
    if "accuracy" not in results.layers or not len(results.layers["accuracy"]):
        return Asked(name=name, missing="no check on published control says anything of it")
    rows = results.layers["accuracy"]
    held = [
        f"{row.component}: {words.length(row.value, unit)}, {row.standard}, {words.many(row.points, 'check point')}"
        for row in rows[rows["allowed"]].itertuples()
    ]
    lacks = [each for each in ("horizontal", "vertical") if not (rows["allowed"] & (rows["component"] == each)).any()]
    return Asked(
        name=name,
        stated="; ".join(held),
        missing=f"{' and '.join(lacks)}: it may not be stated from these checks; the chapter on accuracy says why"
        if lacks
        else "",
    )


def _procedure(shots: "pd.DataFrame") -> Asked:
    said = []
    if "solution" in shots and shots["solution"].notna().any():
        counts = shots["solution"].value_counts()
        said.append("solutions " + ", ".join(f"{name} ({count})" for name, count in counts.items()))
    if "correction_age" in shots and shots["correction_age"].notna().any():
        said.append("corrections received in real time")
    if "epochs" in shots and shots["epochs"].notna().any():
        held = shots["epochs"].dropna().astype("int64")
        said.append(f"{held.min()} to {held.max()} epochs a shot")
    return Asked(
        name="Field procedure",
        stated="; ".join(said),
        missing="whether a network or a single base gave the corrections, and which: no log says it",
    )


def _dates(shots: "pd.DataFrame") -> Asked:
    times = shots["time"].dropna()
    if not len(times):
        return Asked(name="Dates of survey", missing="the logs carry no time")
    days = sorted({each.isoformat() for each in times.dt.date})
    none = len(shots) - len(times)
    return Asked(
        name="Dates of survey",
        stated=(", ".join(days) if len(days) <= 8 else f"{days[0]} to {days[-1]}, {len(days)} days") + " (UTC)",
        missing=f"{words.many(none, 'shot carries', 'shots carry')} no time" if none else "",
    )


def _control(results: Results) -> Asked:
    name = "Fixed control"
    if "control" not in results.layers or not len(results.layers["control"]):
        return Asked(name=name, missing="no published mark is known: [control] names a list of them")
    marks = results.layers["control"]
    sources = sorted({str(each) for each in marks["reference"].dropna()})
    held = marks.loc[marks["held"].to_numpy(bool), "mark"].astype(str).tolist()
    said = f"{words.many(len(marks), 'published mark')}, listed below"
    said += f"; held fixed: {words.listed(held)}" if held else ""
    said += f"; source: {'; '.join(sources)}" if sources else ""
    lacks = [] if held else ["which marks, or which stations of a network, the survey was held to"]
    if marks["reference"].isna().any():
        lacks.append("source of " + words.listed(marks.loc[marks["reference"].isna(), "mark"].astype(str).tolist()))
    return Asked(name=name, stated=said, missing="; ".join(lacks))


def _factor(results: Results) -> Asked:
    name, layers = "Combined grid factor", results.layers
    if layers.frame.combined_factor is not None:
        source = f" ({layers.frame.ground_reference})" if layers.frame.ground_reference else ""
        return Asked(name=name, stated=f"{layers.frame.combined_factor!r}, stated for ground coordinates{source}")
    if "grid_ground" in layers and len(layers["grid_ground"]):
        row = layers["grid_ground"].iloc[0]
        parts = f"scale {row['scale_factor']:.6f}, elevation {row['elevation_factor']:.6f}"
        value = f"{row['combined_factor']:.6f} at the middle of the shots ({parts})"
        lacks = "" if layers.frame.vertical else "what elevations count from: no vertical datum is stated"
        return Asked(name=name, stated=f"{value}; {row['words']}" if row["words"] else value, missing=lacks)
    return Asked(name=name, missing="it needs a projected system and elevations, or combined_factor in [frame]")


def _marks(results: Results) -> Html:
    unit = results.layers.frame.unit.name
    digits = words.decimals("length", unit)
    rows = []
    for row in results.layers["control"].to_dict("records"):
        place = (words.number(row[axis], digits) for axis in ("easting", "northing", "elevation"))
        used = ", ".join(word for word in ("held", "independent") if row[word] is True or row[word] == 1)
        source = row["reference"] if isinstance(row["reference"], str) else Html('<b class="lacking">not stated</b>')
        u = " / ".join(words.number(row[each], digits) for each in ("u_h", "u_v"))
        name = joined(row["mark"], mark(REPORTED))
        rows.append(Row((name, *place, u, used or words.MISSING, safe(source)), key=str(row["mark"])))
    heads = (
        Column("Mark", "k"),
        *(Column(f"{axis} ({unit})", "n") for axis in ("Easting", "Northing", "Elevation")),
        Column("1 sigma, plan / elev.", "n"),
        Column("Used as", "k"),
        Column("Source", "w"),
    )
    return table("marks", heads, rows, caption="Published marks")
