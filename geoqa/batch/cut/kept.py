"""Tables of a part on disk, exactly as a step made them: whole or not there."""

import json
import os
import shutil
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa.errors import SourceError
from geoqa.job.workplace import new_workplace
from geoqa.model.frame import Frame
from geoqa.model.tables.columns import PLACED
from geoqa.model.tables.layer import placed, shaped

if TYPE_CHECKING:
    import pandas as pd

LIST = "tables.json"
BATCH = 1 << 17
"""Rows that are read or written at a time."""
BARE = ("shots", "findings")
"""Tables whose points are left out where the whole is put together: no step of the default ones looks at them."""


def write_tables(tables: "Mapping[str, pd.DataFrame]", place: Path) -> None:
    """Keep tables in a folder of their own; one that stands there is kept instead, for it holds the same.

    Parameters
    ----------
    tables : mapping of str to DataFrame
    place : Path
    """
    import pyarrow as pa

    if (place / LIST).is_file():
        return
    place.parent.mkdir(parents=True, exist_ok=True)
    made = new_workplace(place.parent)
    try:
        told = {}
        for number, (name, table) in enumerate(tables.items()):
            bare, shapes = _bare(name, table)
            packed = pa.Table.from_pandas(bare, preserve_index=False)
            with (
                pa.OSFile(str(made / f"{number}.arrow"), "wb") as sink,
                pa.ipc.new_file(sink, packed.schema, options=pa.ipc.IpcWriteOptions(compression="zstd")) as writer,
            ):
                writer.write_table(packed, max_chunksize=BATCH)
            types = {column: str(dtype) for column, dtype in bare.dtypes.items()}
            told[name] = {"file": f"{number}.arrow", "types": types, "rows": len(table), "shapes": shapes}
        (made / LIST).write_text(json.dumps(told), encoding="utf-8")
        shutil.rmtree(place, ignore_errors=True)
        os.rename(made, place)
    finally:
        shutil.rmtree(made, ignore_errors=True)


def read_tables(
    place: Path,
    frame: Frame,
    names: Collection[str] | None = None,
    *,
    without: Collection[str] = (),
) -> "dict[str, pd.DataFrame]":
    """Tables of a folder: those that are named, or all.

    Parameters
    ----------
    place : Path
    frame : Frame
    names : collection of str, optional
    without : collection of str
        Columns that are left out; "geometry" leaves points bare.

    Raises
    ------
    SourceError
        They cannot be read; they are taken away, so that they are made again the next time.
    """
    import pyarrow as pa

    told = _told(place)
    try:
        made = {}
        for name in told if names is None else names:
            with pa.memory_map(str(place / told[name]["file"])) as file:
                opened = pa.ipc.open_file(file)
                there = [each for each in opened.schema.names if each not in without]
                table = opened.read_all().select(there).to_pandas()
            made[name] = _whole(name, _typed(table, told[name]["types"]), frame, told[name]["shapes"], without)
        return made
    except (OSError, ValueError, LookupError, TypeError, pa.ArrowException) as error:
        raise _unreadable(place, error) from error


def rows_of(place: Path, name: str) -> int:
    """How many rows of a table a folder holds."""
    return int(_told(place)[name]["rows"])


def names_of(place: Path) -> list[str]:
    """Names of the tables in a folder."""
    return list(_told(place))


def columns_of(place: Path, name: str) -> list[str]:
    """Names of the columns of a table in a folder."""
    return list(_told(place)[name]["types"])


def batches_of(place: Path, name: str) -> "Iterator[pd.DataFrame]":
    """A table of a folder, some rows at a time, with its points left out; nothing of a table with other shapes.

    Raises
    ------
    SourceError
        As for `read_tables`.
    """
    import pyarrow as pa

    listed = _told(place)
    try:
        told = listed[name]
        with pa.memory_map(str(place / told["file"])) as file:
            opened = pa.ipc.open_file(file)
            for number in range(opened.num_record_batches if told["shapes"] != "bytes" else 0):
                yield _typed(opened.get_batch(number).to_pandas(), told["types"])
    except (OSError, ValueError, LookupError, TypeError, pa.ArrowException) as error:
        raise _unreadable(place, error) from error


def _told(place: Path) -> dict[str, Any]:
    """What the list of a folder says of its tables."""
    try:
        told: dict[str, Any] = json.loads((place / LIST).read_text(encoding="utf-8"))
        return told
    except (OSError, ValueError) as error:
        raise _unreadable(place, error) from error


def _typed(table: "pd.DataFrame", types: Mapping[str, Any]) -> "pd.DataFrame":
    """A table with the types it was written with."""
    for column, dtype in types.items():
        if column in table and str(table[column].dtype) != dtype:
            table[column] = table[column].astype(dtype)
    return table


def _unreadable(place: Path, error: Exception) -> SourceError:
    """A refusal that names a folder, which is taken away so that it is made again the next time."""
    shutil.rmtree(place, ignore_errors=True)
    return SourceError(f"{place.parent.name}/{place.name} cannot be read: {error}.")


def _bare(name: str, table: "pd.DataFrame") -> "tuple[pd.DataFrame, str]":
    """A table without shapes, or with them as bytes; and which of the two."""
    import pandas as pd

    if "geometry" not in table.columns or table["geometry"].dtype != "geometry":
        return pd.DataFrame(table).reset_index(drop=True), ""
    bare = pd.DataFrame(table.drop(columns="geometry")).reset_index(drop=True)
    if PLACED.get(name) == "Point" and {"easting", "northing"} <= set(bare.columns):
        return bare, "places"
    import shapely

    return bare.assign(geometry=shapely.to_wkb(table["geometry"].to_numpy())), "bytes"


def _whole(name: str, table: "pd.DataFrame", frame: Frame, shapes: str, without: Collection[str]) -> "pd.DataFrame":
    if not shapes or "geometry" in without:
        return table
    if shapes == "places":
        return placed(name, table, frame)
    import shapely

    return shaped(table.drop(columns="geometry"), shapely.from_wkb(table["geometry"].to_numpy(object)), frame)
