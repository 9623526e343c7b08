"""What the map draws as points: shots with their worst verdict, control marks and design points."""

from typing import TYPE_CHECKING

import numpy as np

from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.model.tables.finding import VERDICTS
from geoqa.model.tables.reported import signs_in, signs_of_shots
from geoqa.present.map.curve import hilbert_order
from geoqa.present.map.linework import Canvas
from geoqa.present.map.pack import PackedTable
from geoqa.present.map.rounding import whole

if TYPE_CHECKING:
    import pandas as pd


NOT_ASKED = len(VERDICTS)
"""Code on the page of a shot that no check asks about, above the codes of the verdicts."""


def column(table: "pd.DataFrame", name: str) -> "pd.Series":
    """Give a column of a table, or a column of nothing where no step made it."""
    import pandas as pd

    if name in table.columns:
        return table[name]
    return pd.Series([None] * len(table), index=table.index, dtype=object)


def rows_of(keys: "pd.Series", among: "pd.Series") -> np.ndarray:
    """Row of each key among different ones; -1 where it is not there, or missing."""
    import pandas as pd

    return np.asarray(pd.Index(among).get_indexer(pd.Index(keys)), dtype=np.int64)


def verdict_codes(verdicts: "pd.Series") -> np.ndarray:
    """Give the place of each verdict in `VERDICTS`."""
    import pandas as pd

    return np.asarray(pd.Categorical(verdicts, categories=VERDICTS).codes, dtype=np.int64)


def worst_verdicts(findings: "pd.DataFrame", shots: "pd.DataFrame") -> np.ndarray:
    """Worst reported verdict of every shot over all findings about it; a member of a run bears the run's.

    Returns
    -------
    ndarray of int64, shape (shots,)
        Codes of `VERDICTS`, or `NOT_ASKED`; a shot that is not used and has no finding is NO_DATA.
    """
    return _codes(signs_of_shots(findings, shots))


def _codes(signs: np.ndarray) -> np.ndarray:
    """Code on the page of each sign."""
    made = np.full(len(signs), NOT_ASKED, dtype=np.int64)
    for verdict in SIGNS:
        made[signs == verdict] = VERDICTS.index(verdict)
    return made


def add_shots(canvas: Canvas, results: Results) -> "pd.DataFrame":
    """Add every shot, in the order of a space-filling curve.

    Returns
    -------
    DataFrame
        The shots in the order they are packed.
    """
    shots = results.shots
    order = hilbert_order(shots["easting"], shots["northing"])
    shots = shots.iloc[order].reset_index(drop=True)
    table = canvas.packer.table("shots", len(shots))
    east, north = canvas.whole(shots["easting"], shots["northing"])
    table.numbers("easting", east, delta=True)
    table.numbers("northing", north, delta=True)
    elevation = whole(shots["elevation"], canvas.digits)
    table.numbers("elevation", elevation, delta=True)
    table.numbers("verdict", _codes(signs_in(results.layers)[order]))
    for name in ("kind", "role", "code", "line_id", "note", "photo", "session", "solution", "source", "flags"):
        table.texts(name, column(shots, name))
    if "baseline_place" in shots.columns:
        table.texts("baseline", shots["baseline_place"])
    number = table.names("shot", column(shots, "shot"))
    _add_keys(table, shots)
    # names mostly run with the rows of the file
    table.numbers("row", shots["line"].to_numpy(float) - np.nan_to_num(number), delta=True)
    times = shots["time"].dt.as_unit("s").to_numpy("datetime64[s]")
    table.numbers("time", np.where(np.isnat(times), np.nan, times.astype(np.int64).astype(float)), delta=True)
    table.numbers("rod_height", whole(shots["rod_height"], canvas.digits))
    table.numbers("tilt", whole(shots["tilt"], 1))
    for axis in ("h", "v"):
        for part in ("random", "common"):
            u = column(shots, f"u_{axis}_{part}").to_numpy(float)
            table.numbers(f"u_{axis}_{part}", whole(u, canvas.digits))
    if "use" in shots.columns:
        table.numbers("use", shots["use"].to_numpy(float))
    grid = {"easting": shots["easting"], "northing": shots["northing"], "elevation": shots["elevation"]}
    for name, values in grid.items():
        _add_raw(table, name, column(shots, f"raw_{name}"), whole(values, canvas.digits), canvas.digits)
    return shots


def _add_keys(table: PackedTable, shots: "pd.DataFrame") -> None:
    """A key is its source and name; only those that differ are written out."""
    plain = shots["source"] + "/" + shots["shot"]
    table.texts("key", shots["shot_key"].where(shots["shot_key"] != plain, None))


def _add_raw(table: PackedTable, name: str, raw: "pd.Series", values: np.ndarray, digits: int) -> None:
    """Text as read: nothing where it is the coordinate itself, else a decimal number, else the text."""
    import pandas as pd

    raw = raw.astype("str").reset_index(drop=True)
    number = pd.to_numeric(raw, errors="coerce").to_numpy(float)
    fraction = rf"\.\d{{{digits}}}" if digits else ""
    written_so = raw.str.fullmatch(rf"-?(?:0|[1-9]\d*){fraction}").fillna(False).to_numpy(bool)
    same = written_so & (whole(number, digits) == values) & ~((values == 0) & raw.str.startswith("-").to_numpy(bool))
    other = raw.where(~same, None)
    split = other.dropna().str.extract(r"^(-?)(0|[1-9]\d{0,11})(?:\.(\d{1,8}))?$").reindex(other.index)
    places = np.where(split[1].notna(), split[2].str.len().fillna(0).to_numpy(float), np.nan)
    ends = split[1].str.cat(split[2].fillna("")).where(split[1].notna(), "0").astype("float64").to_numpy(float)
    ends = np.where(split[0] == "-", -ends, ends)
    places[(ends == 0) & (split[0] == "-").to_numpy(bool)] = np.nan
    decimal = np.isfinite(places)
    table.numbers(f"raw_{name}.decimals", np.where(same, -1, places))
    table.numbers(f"raw_{name}", np.where(decimal, ends, np.nan), delta=True)
    table.texts(f"raw_{name}.text", other.where(~decimal, None))


def add_control(canvas: Canvas, control: "pd.DataFrame") -> None:
    """Add control marks."""
    table = canvas.packer.table("control", len(control))
    _add_place(canvas, table, control)
    table.texts("mark", control["mark"])
    table.texts("reference", column(control, "reference"))
    table.numbers("held", control["held"].to_numpy(float))
    table.numbers("independent", control["independent"].to_numpy(float))


def add_design_points(canvas: Canvas, points: "pd.DataFrame") -> None:
    """Add the points of the design."""
    table = canvas.packer.table("points", len(points))
    _add_place(canvas, table, points)
    table.texts("point", points["point"])
    table.texts("kind", points["kind"])


def _add_place(canvas: Canvas, table: PackedTable, rows: "pd.DataFrame") -> None:
    east, north = canvas.whole(rows["easting"], rows["northing"])
    table.numbers("easting", east)
    table.numbers("northing", north)
    table.numbers("elevation", whole(rows["elevation"], canvas.digits))
