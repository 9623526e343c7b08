"""What the checks on published marks say: each residual, by mark and session, shifts of sessions, and accuracy."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from geoqa.model import words
from geoqa.model.results import Results
from geoqa.present.report.markup import Column, Html, Row, joined, table, tag
from geoqa.present.report.origin import MEASURED, REPORTED, mark

if TYPE_CHECKING:
    import pandas as pd

_AXES = (("easting", "E"), ("northing", "N"), ("elevation", "Elev."))


def control(results: Results) -> Iterator[Html]:
    """Give residuals of every check shot, the means by mark and session, and what a session's checks say together."""
    layers = results.layers
    if "control_table" not in layers or not len(layers["control_table"]):
        yield tag(
            "p",
            Html('<b class="lacking">No check on control:</b> '),
            "no shot of this survey was taken on a "
            "published mark, so nothing here shows whether its coordinates fit the control.",
        )
        return
    unit = layers.frame.unit.name
    yield tag(
        "p",
        "Measured",
        mark(MEASURED),
        " minus published",
        mark(REPORTED),
        f", in {unit}. What a known blunder or a listed repeat touches is shown, and is in no mean.",
    )
    yield _sessions(layers["control_sessions"], unit)
    yield _residuals(layers["control_residuals"], unit)
    yield _every_check(results, unit)


def _signed(row: "dict[Any, Any]", lead: str, unit: str) -> list[str]:
    digits = words.decimals("length", unit)
    return [words.number(row[f"{lead}{axis}"], digits, signed=True) for axis, _ in _AXES]


def _sessions(sessions: "pd.DataFrame", unit: str) -> Html:
    digits, rows, notes = words.decimals("length", unit), [], []
    for row in sessions.to_dict("records"):
        name = row["session"] if isinstance(row["session"], str) else words.MISSING
        spread = [words.number(row[each], digits) for each in ("rmse_horizontal", "rmse_elevation", "h_95", "v_95")]
        rows.append(Row((name, row["shots"], row["marks"], *_signed(row, "mean_", unit), *spread), key=str(name)))
        if isinstance(row["without"], str) and row["without"]:
            notes.append(f"{name}: without {row['without']}")
    heads = (
        Column("Session", "k"),
        Column("Checks", "n"),
        Column("Marks", "n"),
        *(Column(f"Mean {axis}", "n") for _, axis in _AXES),
        Column("RMSE plan", "n"),
        Column("RMSE elev.", "n"),
        Column("95 % plan", "n"),
        Column("95 % elev.", "n"),
    )
    last = sessions.iloc[-1]
    said = f"In plan: {last['horizontal_says']}; in elevation: {last['vertical_says']}."
    said += " 95 %: of normal errors with these RMSE; no statement of accuracy."
    below = tag("p", " ".join([said, *(f"{note}." for note in notes[-1:])]), kind="quiet")
    return joined(table("control-sessions", heads, rows, caption="By session"), below)


def _residuals(means: "pd.DataFrame", unit: str) -> Html:
    rows = []
    for row in means.to_dict("records"):
        out = " ".join(
            f"{row[each]}{said}"
            for each, said in (("left_out", ""), ("left_out_elevation", " in elevation"))
            if row[each]
        )
        worst = words.number(row["worst"], words.decimals("length", unit))
        key = f"{row['mark']} {row['session']}"
        rows.append(Row((row["mark"], row["session"], row["shots"], out, *_signed(row, "mean_", unit), worst), key=key))
    heads = (
        Column("Mark", "k"),
        Column("Session", "k"),
        Column("Checks", "n"),
        Column("Left out", "n"),
        *(Column(f"Mean {axis}", "n") for _, axis in _AXES),
        Column("Farthest in plan", "n"),
    )
    return table("control-residuals", heads, rows, caption="By mark and session")


def _every_check(results: Results, unit: str) -> Html:
    names = dict(zip(results.shots["shot_key"], results.shots["shot"], strict=True))
    digits, rows = words.decimals("length", unit), []
    for row in results.layers["control_table"].to_dict("records"):
        reasons = [row[each] for each in ("left_out", "left_out_elevation") if isinstance(row[each], str)]
        limits = " / ".join(words.number(row[each], digits - 1) for each in ("limit_h", "limit_v"))
        when = "" if row["time"] is None or row["time"] != row["time"] else f"{row['time']:%m-%d %H:%M}"
        plan = words.number(row["horizontal"], digits)
        cells = (names.get(row["shot_key"], row["shot_key"]), row["mark"], row["session"], when)
        said = "; ".join(dict.fromkeys(reasons))
        rows.append(Row((*cells, *_signed(row, "", unit), plan, limits, said), key=row["shot_key"]))
    heads = (
        Column("Shot", "k"),
        Column("Mark", "k"),
        Column("Session", "k"),
        Column("UTC", "k"),
        *(Column(axis, "n") for _, axis in _AXES),
        Column("Plan", "n"),
        Column("Limits", "n"),
        Column("In no mean, because", "w"),
    )
    return table("control-checks", heads, rows, caption="Every check shot")


def shifts(results: Results) -> Iterator[Html]:
    """Give what each session is shifted by, as its checks show it, and whether that is proven or taken off."""
    layers = results.layers
    if "session_shifts" not in layers or not len(layers["session_shifts"]):
        yield tag("p", "No session has check shots enough to show a shift of its own.")
        return
    unit, rows = layers.frame.unit.name, []
    digits = words.decimals("length", unit)
    table_of = layers["session_shifts"]
    for row in table_of.to_dict("records"):
        said = "taken off" if row["applied"] else "proven, not taken off" if row["proven"] else "not proven"
        band = f"{words.number(row['low'], digits, signed=True)} to {words.number(row['high'], digits, signed=True)}"
        cells = (
            row["session"],
            row["axis"],
            words.number(row["shift"], digits, signed=True),
            band,
            words.number(row["limit"], digits),
            row["shots"],
            row["marks"],
            said,
        )
        rows.append(Row(cells, key=f"{row['session']} {row['axis']}"))
    proven = table_of[table_of["proven"]]
    lead = (
        "No shift of a session is proven."
        if not len(proven)
        else (
            f"{words.many(len(proven), 'shift is', 'shifts are')} proven; "
            f"{int(table_of['applied'].sum())} of all are taken off, as the job says."
        )
    )
    yield tag(
        "p",
        f"{lead} Measured minus published, in {unit}; a shift is proven beyond what chance makes of "
        f"{words.many(int(table_of['tests'].max()), 'test')}. It is taken off only where the job names the session.",
    )
    heads = (
        Column("Session", "k"),
        Column("Axis", "k"),
        Column("Shift", "n"),
        Column("95 % band", "n"),
        Column("Expected within", "n"),
        Column("Checks", "n"),
        Column("Marks", "n"),
        Column("It is", "w"),
    )
    yield table("session-shifts", heads, rows)


def accuracy(results: Results) -> Iterator[Html]:
    """Give the accuracy where a standard lets it be stated, else why it may not be."""
    layers = results.layers
    if "accuracy" not in layers or not len(layers["accuracy"]):
        yield tag("p", "No accuracy may be stated: there is no check on published control.")
        return
    unit, rows = layers.frame.unit.name, []
    allowed = layers["accuracy"]["allowed"]
    yield tag(
        "p",
        "Stated where the standard lets it be."
        if allowed.all()
        else "Where a standard does not let a number be stated, none is; the reasons stand beside it."
        if allowed.any()
        else "No accuracy may be stated from these checks, by either standard.",
    )
    for row in layers["accuracy"].to_dict("records"):
        stated = joined(words.length(row["value"], unit), mark(MEASURED)) if row["allowed"] else "may not be stated"
        rmse = words.number(row["rmse"], words.decimals("length", unit))
        cells = (row["standard"], row["component"], stated, row["points"], rmse, row["reason"])
        rows.append(Row(cells, key=f"{row['standard']} {row['component']}"))
    heads = (
        Column("Standard"),
        Column("Part", "k"),
        Column("Accuracy", "k"),
        Column("Points", "n"),
        Column(f"RMSE ({unit})", "n"),
        Column("Why not, and what was left out", "w"),
    )
    yield table("accuracy", heads, rows)
