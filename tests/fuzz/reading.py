"""What a reader made of a file, held against what it made of the sound one, and against what the file states."""

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from geoqa.frames.systems.resolve import resolve

STYLE = frozenset(
    {
        "encoding",
        "delimiter",
        "decimal mark",
        "header",
        "elements",
        "end of file",
        "lines",
        "points",
        "surface",
        "faces",
    }
)
"""What a reader always says: of itself no word about damage."""
BOX = (2231000.0, 445000.0, 2231250.0, 445200.0)
ASIDE = ("line", "place", "resolution", "sequence", "shot_key")
"""Columns that say where a row stands, not what it says."""
PLACED = re.compile(
    r"^(easting|northing|elevation|(start|end)_(easting|northing|elevation)|station|backsight|intermediate|foresight|"
    r"distance|measure_down|width|rise)$"
)
"""Columns whose numbers stand in a file as they are."""


@dataclass(frozen=True, kw_only=True)
class Reading:
    """Tables and words of one file."""

    tables: Mapping[str, pd.DataFrame]
    system: str
    troubles: frozenset[str]
    lines: frozenset[int]
    evidence: frozenset[str]

    def told_beyond(self, other: "Reading") -> bool:
        """Whether something is told that is not told of the other."""
        return bool(self.troubles - other.troubles or self.evidence - other.evidence or self.system != other.system)

    def features(self) -> int:
        """Lines, points and faces."""
        return sum(
            len(self.tables[each]) for each in ("design_lines", "design_points", "surface_faces") if each in self.tables
        )


def read(reader: Any, path: Path) -> Reading:
    """Look at a file, then read it, as a job does."""
    reader.peek(path)
    if reader.role == "photo":
        return Reading(
            tables={"small": pd.DataFrame({"bytes": [reader.small(path, side=80).hex()]})},
            system="",
            troubles=frozenset(),
            lines=frozenset(),
            evidence=frozenset(),
        )
    if reader.role == "background":
        seen = reader.picture(
            path,
            frame=resolve("EPSG:6547"),
            box=BOX,
            declared=None if path.suffix == ".tif" else "EPSG:6547",
            accept=False,
            what=path.name,
        )
        tables = {"picture": pd.DataFrame({"bytes": [seen.data.hex()]})}
        return Reading(
            tables=tables,
            system="",
            troubles=frozenset(),
            lines=frozenset(),
            evidence=frozenset(str(each) for each in seen.evidence),
        )
    source = reader.read(path, source="d")
    return Reading(
        tables={name: pd.DataFrame(table) for name, table in source.layers.items()},
        system=f"{source.crs} {source.unit} {source.unit_doubt}",
        troubles=frozenset(str(each) for each in source.troubles),
        lines=frozenset(each.line for each in source.troubles),
        evidence=frozenset(str(each) for each in source.evidence if each.what not in STYLE),
    )


def meant(table: pd.DataFrame) -> pd.DataFrame:
    """A table without where its rows stand and how its numbers are written."""
    kept = [name for name in table if name not in ASIDE and not str(name).startswith("raw_")]
    return table[kept].reset_index(drop=True)


_COMMA = re.compile(r"(?<=\d),(?=\d)")


def plain(value: Any) -> Any:
    """A value that equals itself; a comma between figures is a point, as the file may have it."""
    if isinstance(value, str):
        return _COMMA.sub(".", value).strip()
    if value is None or value is pd.NA or value is pd.NaT or (isinstance(value, float) and math.isnan(value)):
        return None
    return value


def rows_of(table: pd.DataFrame) -> list[tuple[Any, ...]]:
    """Rows to compare."""
    return [tuple(plain(each) for each in row) for row in meant(table).astype(object).itertuples(index=False)]


def same(one: Reading, other: Reading) -> bool:
    """Whether both say the same, wherever it stands."""
    if one.tables.keys() != other.tables.keys() or one.system != other.system:
        return False
    for name, table in one.tables.items():
        first, second = meant(table), meant(other.tables[name])
        if list(first.columns) != list(second.columns) or len(first) != len(second):
            return False
        if not first.equals(second) and rows_of(table) != rows_of(other.tables[name]):
            return False
    return True


_NUMBERS = (
    re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"),
    re.compile(r"[-+]?\d*,\d+"),
    re.compile(r"[-+]?\d[\d,' ]*\d(?:\.\d*)?"),
)
"""With a point; with a comma; with marks between thousands."""


def numbers_in(text: str) -> set[float]:
    """Every number that stands in a text, a comma read either way."""
    found = {0.0}
    for word in _NUMBERS[0].findall(text):
        found.add(float(word))
    for word in _NUMBERS[1].findall(text):
        found.add(float(word.replace(",", ".")))
    for word in _NUMBERS[2].findall(text):
        found.add(float(re.sub("[,' ]", "", word)))
    for first, second in re.findall(r"(\d+)\+(\d+(?:\.\d+)?)", text):
        found.add(float(first) * 100 + float(second))
    for first, second in re.findall(r"([-+]?\d+\.?\d*)\s*[:/]\s*(\d+\.?\d*)", text):
        if float(second):
            found.add(float(first) / float(second))
    return found | {each / 100 for each in found} | {-each for each in found}


def placed(reading: Reading) -> Iterator[tuple[str, np.ndarray]]:
    """Columns of numbers that stand in a file as they are."""
    for name, table in reading.tables.items():
        for column in (each for each in table if PLACED.match(str(each))):
            yield f"{name}.{column}", pd.to_numeric(table[column], errors="coerce").to_numpy(float, na_value=np.nan)


def invented(reading: Reading, text: str) -> list[str]:
    """Numbers of places that a reading has and the text has not."""
    known = np.array(sorted(each for each in numbers_in(text) if np.isfinite(each)))
    bad = []
    for column, values in placed(reading):
        values = np.unique(values[np.isfinite(values)])
        at = np.searchsorted(known, values).clip(1, len(known) - 1)
        near = np.minimum(np.abs(known[at] - values), np.abs(known[at - 1] - values))
        bad += [f"{column} {value}" for value in values[near > 1e-9 + 1e-11 * np.abs(values)].tolist()]
    return bad


def missing(reading: Reading) -> int:
    """Numbers of places that are none."""
    return sum(int(np.isnan(values).sum()) for _, values in placed(reading))
