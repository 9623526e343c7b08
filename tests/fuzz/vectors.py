"""Damage to vector files, drawings, LandXML and pictures: to what they hold, and to their bytes."""

import json
import re
import sqlite3
import struct
import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from random import Random
from typing import Any

from fuzz.damage import Damaged, bytes_damaged, written
from fuzz.seeds import Seed

ODD_PLACES: tuple[Any, ...] = (
    None,
    "1",
    [],
    {},
    [1],
    [1, 2, 3, 4, 5],
    ["a", "b"],
    [None, None],
    [1e308, 1e308],
    [float("nan"), 1],
    [True, False],
    [[1, 2]],
    7,
    "x" * 500,
    [1e999, 2],
)
ODD_VALUES: tuple[Any, ...] = (
    None,
    "",
    5,
    1.5,
    True,
    [],
    {},
    "é½名",
    "\ud800",
    "a\x00b",
    "x" * 5000,
    "CURB-TOP ",
    "3-Feb",
)


def raw(draw: Random, seed: Seed) -> Damaged:
    """Bytes of one of its files."""
    suffix = draw.choice(list(seed.files))
    how, data = bytes_damaged(draw, seed.files[suffix])
    texts = seed.suffix == "geojson" or seed.name in ("shots.xml", "control.xml")
    return Damaged(
        how=f"{how} ({suffix})",
        write=written(seed.suffix, {**seed.files, suffix: data}),
        other=True,
        columns=None,
        text=data.decode("cp1252", errors="replace") if texts else "",
    )


def _geojson(draw: Random, seed: Seed) -> Damaged:
    held = json.loads(seed.files["geojson"])
    features = held["features"]
    one = draw.choice(features)
    shape = one["geometry"]
    other = fewer = False
    how = draw.choice(
        (
            "feature gone",
            "feature twice",
            "odd place",
            "odd attribute",
            "attribute gone",
            "no shape",
            "other shape",
            "system gone",
            "other system",
            "axes swapped",
            "odd feature",
            "no list",
            "deep",
            "one vertex",
            "other file",
        )
    )
    line = shape["coordinates"] if shape["type"] == "LineString" else shape["coordinates"][0]
    if how == "feature gone":
        features.remove(one)
        other = fewer = True
    elif how == "feature twice":
        features.append(one)
        other = True
    elif how == "odd place":
        line[draw.randrange(len(line))] = draw.choice(ODD_PLACES)
    elif how == "odd attribute":
        one["properties"][draw.choice(("name", "kind"))] = draw.choice(ODD_VALUES)
        other = True
    elif how == "attribute gone":
        one["properties"].pop(draw.choice(("name", "kind")))
        other = True
    elif how == "no shape":
        one["geometry"] = draw.choice((None, {}, [], {"type": "LineString"}, {"type": "LineString", "coordinates": []}))
    elif how == "other shape":
        shape["type"] = draw.choice(
            ("Point", "MultiPoint", "Polygon", "MultiPolygon", "GeometryCollection", "Arc", "", 5, None)
        )
    elif how == "system gone":
        held.pop("crs", None)
    elif how == "other system":
        held["crs"] = draw.choice(
            ({"type": "name", "properties": {"name": "EPSG:4326"}}, {"type": "link"}, "EPSG:6547", 5, {}, [])
        )
    elif how == "axes swapped":
        for each in line:
            each[0], each[1] = each[1], each[0]
        other = True
    elif how == "odd feature":
        features[features.index(one)] = draw.choice(({}, [], None, 5, "x", {"type": "Point"}))
    elif how == "no list":
        held["features"] = draw.choice((None, {}, "x", [], 3))
    elif how == "deep":
        shape["coordinates"] = json.loads("[" * 400 + "]" * 400)
    elif how == "one vertex":
        del line[1:]
    else:
        held = draw.choice(([], {}, 5, None, "text", {"type": "Topology"}, {"features": features}, one))
        other, fewer = True, held is one or held == {"features": features}
    text = json.dumps(held)
    return Damaged(
        how=how,
        write=written("geojson", {"geojson": text.encode()}),
        text=text.replace("\\u", "u"),
        other=other,
        fewer=fewer,
    )


def _gpkg(draw: Random, seed: Seed) -> Damaged:
    how = draw.choice(
        (
            "shape damaged",
            "shape gone",
            "row gone",
            "name gone",
            "kind gone",
            "odd attribute",
            "other system",
            "contents gone",
            "table renamed",
            "column renamed",
            "spatial index gone",
            "view",
            "system unknown",
            "row twice",
        )
    )
    other, fewer = (
        how in ("row gone", "name gone", "kind gone", "odd attribute", "row twice", "column renamed"),
        how == "row gone",
    )
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "a.gpkg"
        path.write_bytes(seed.files["gpkg"])
        with closing(sqlite3.connect(path)) as file:
            for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
                file.execute(f'DROP TRIGGER "{name}"')
            (count,) = file.execute("SELECT count(*) FROM lines").fetchone()
            _changed_table(draw, file, how, draw.randrange(1, count + 1))
            file.commit()
        data = path.read_bytes()
    return Damaged(how=how, write=written("gpkg", {"gpkg": data}), other=other, fewer=fewer)


def _changed_table(draw: Random, file: sqlite3.Connection, how: str, row: int) -> None:
    if how == "shape damaged":
        (shape,) = file.execute("SELECT geom FROM lines WHERE fid = ?", (row,)).fetchone()
        changed = bytearray(shape)
        at = draw.choice((0, 2, 3, 4, 8, 40, 41, 45, 46, len(shape) - 1))
        changed[min(at, len(shape) - 1)] = draw.randrange(256)
        held = draw.choice(
            (bytes(changed), shape[: draw.randrange(len(shape))], b"", b"GP\x00\x01" + struct.pack("<i", 6547))
        )
        file.execute("UPDATE lines SET geom = ? WHERE fid = ?", (held, row))
    elif how == "shape gone":
        file.execute("UPDATE lines SET geom = NULL WHERE fid = ?", (row,))
    elif how == "row gone":
        file.execute("DELETE FROM lines WHERE fid = ?", (row,))
    elif how in ("name gone", "kind gone"):
        file.execute(f"UPDATE lines SET {how.split()[0]} = NULL WHERE fid = ?", (row,))
    elif how == "odd attribute":
        value = draw.choice([each for each in ODD_VALUES if isinstance(each, (str, int, float)) and each != "\ud800"])
        file.execute(f"UPDATE lines SET {draw.choice(('name', 'kind'))} = ? WHERE fid = ?", (value, row))
    elif how == "row twice":
        file.execute("INSERT INTO lines (geom, name, kind) SELECT geom, name, kind FROM lines WHERE fid = ?", (row,))
    elif how == "other system":
        file.execute("UPDATE gpkg_geometry_columns SET srs_id = ?", (draw.choice((4326, 0, -1, 6547, 99999)),))
    elif how == "system unknown":
        file.execute("DELETE FROM gpkg_spatial_ref_sys WHERE srs_id > 0")
    elif how == "contents gone":
        file.execute(f"DELETE FROM {draw.choice(('gpkg_contents', 'gpkg_geometry_columns'))}")
    elif how == "table renamed":
        file.execute("ALTER TABLE lines RENAME TO others")
    elif how == "column renamed":
        file.execute(f"ALTER TABLE lines RENAME COLUMN {draw.choice(('kind', 'name', 'geom'))} TO other")
    elif how == "view":
        file.execute("CREATE VIEW more AS SELECT * FROM lines")
    else:
        file.execute("DELETE FROM gpkg_extensions") if _has(file, "gpkg_extensions") else None


def _has(file: sqlite3.Connection, table: str) -> bool:
    return file.execute("SELECT count(*) FROM sqlite_master WHERE name = ?", (table,)).fetchone()[0] > 0


def _shp(draw: Random, seed: Seed) -> Damaged:
    gone = draw.choice([each for each in seed.files if each != "shp"])
    how = draw.choice((f"{gone} is not there", f"{gone} is empty", "shp is empty", "parts of another", "code page"))
    files: dict[str, bytes | None] = dict(seed.files)
    if how.endswith("is not there"):
        files[gone] = None
    elif how.endswith("is empty"):
        files["shp" if how.startswith("shp") else gone] = b""
    elif how == "parts of another":
        files["dbf"] = seed.files["shx"]
    else:
        files["cpg"] = draw.choice((b"UTF-16", b"nonsense", b"1252", b"\xff\xfe"))
    return Damaged(how=how, write=written("shp", files), other=gone in ("dbf", "cpg") or how == "code page")


_PAIRS = ("0", "nan", "1e308", "", "x", "-1", "9" * 400, "1,5", "ENDSEC", "\u00e9", "1e999", "2231000.0")


def _dxf(draw: Random, seed: Seed) -> Damaged:
    lines = seed.files["dxf"].decode("cp1252").splitlines()
    first = next(at for at, each in enumerate(lines) if each.strip() == "ENTITIES") if draw.random() < 0.8 else 0
    pairs = range(first - first % 2, len(lines) - 1, 2)
    at = draw.choice(pairs)
    how = draw.choice(
        ("value changed", "pair gone", "code changed", "entity cut", "pair twice", "unit changed", "layer changed")
    )
    if how == "value changed":
        lines[at + 1] = draw.choice(_PAIRS)
    elif how == "pair gone":
        del lines[at : at + 2]
    elif how == "code changed":
        lines[at] = draw.choice(("  0", "  8", " 10", " 42", "999", "-5", "x", "1071"))
    elif how == "entity cut":
        del lines[at : at + 2 * draw.randrange(2, 12)]
    elif how == "pair twice":
        lines[at:at] = lines[at : at + 2]
    elif how == "unit changed":
        places = [nth for nth, each in enumerate(lines) if each.strip() == "$INSUNITS"]
        lines[places[0] + 2 if places else at + 1] = draw.choice(("0", "6", "21", "4", "99", "x"))
    else:
        places = [nth for nth in pairs if lines[nth].strip() == "8"]
        lines[draw.choice(places) + 1 if places else at + 1] = draw.choice(("", "0", "CENTRE", "A", "B*", "NEW"))
    return Damaged(
        how=how,
        write=written("dxf", {"dxf": ("\n".join(lines) + "\n").encode("cp1252", errors="replace")}),
        other=True,
        fewer=True,
    )


_SPOTS = re.compile(r'(?<=[">])[^"<>]+(?=["<])|(?<=<)/?[A-Za-z]+|[a-zA-Z]+(?==)')
_WORDS = (
    "",
    "0",
    "-1",
    "nan",
    "INF",
    "1e308",
    "x",
    "1 2",
    "1 2 3",
    "9" * 400,
    "P",
    "name",
    "&amp;",
    "1,5",
    "١",
    "foot",
    "meter",
)


def _xml(draw: Random, seed: Seed) -> Damaged:
    text = seed.files["xml"].decode()
    how = draw.choice(
        ("word changed", "word changed", "element gone", "element twice", "other unit", "other version", "entity")
    )
    if how == "word changed":
        first, last = draw.choice([each.span() for each in _SPOTS.finditer(text)])
        text = text[:first] + draw.choice(_WORDS) + text[last:]
    elif how in ("element gone", "element twice"):
        found = draw.choice([each.span() for each in re.finditer(r"<(\w+)[^<>/]*>[^<>]*</\1>", text)])
        piece = text[found[0] : found[1]]
        text = text[: found[0]] + (piece * 2 if how == "element twice" else "") + text[found[1] :]
    elif how == "other unit":
        text = text.replace(
            'linearUnit="foot"', f'linearUnit="{draw.choice(("USSurveyFoot", "meter", "inch", "", "ell"))}"'
        )
    elif how == "other version":
        text = text.replace('version="1.2"', f'version="{draw.choice(("1.0", "2.0", "", "x"))}"')
    else:
        text = text.replace("<LandXML", '<!DOCTYPE a [<!ENTITY b "c"><!ENTITY d "&b;&b;&b;">]><LandXML', 1).replace(
            ">P1<", ">&d;<"
        )
    literal = (
        text if seed.name in ("shots.xml", "control.xml") else ""
    )  # the ends of pieces of a spiral stand in no file
    return Damaged(
        how=how, write=written("xml", {"xml": text.encode()}), text=literal, other=True, fewer=how == "element gone"
    )


INSIDE: dict[str, Callable[[Random, Seed], Damaged]] = {
    "geojson": _geojson,
    "gpkg": _gpkg,
    "shp": _shp,
    "dxf": _dxf,
    "xml": _xml,
}


def damaged(draw: Random, seed: Seed) -> Damaged:
    """One damaged file: within what it holds, or its bytes."""
    inside = INSIDE.get(seed.suffix, raw)
    return draw.choice((inside, inside, raw))(draw, seed)
