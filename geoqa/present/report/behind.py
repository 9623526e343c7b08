"""Behind each item that is out: its finding, the shots it is made of with file and line, and what made the numbers."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from geoqa.model import words
from geoqa.model.results import Results
from geoqa.model.tables.in_rows import in_rows
from geoqa.model.tables.register import register
from geoqa.present.report.markup import Column, Html, Row, joined, table, tag
from geoqa.present.report.numbers import reported_numbers

if TYPE_CHECKING:
    import pandas as pd

MOST, SHOTS = 150, 6
"""Items that are written out, and shots of each; the counts are always complete."""
AS_READ = ("raw_northing", "raw_easting", "raw_elevation")


def behind(results: Results) -> Iterator[Html]:
    """Give the rows behind each item, then what made every number; nothing where nothing is out."""
    reported = reported_numbers(results)
    out = reported[reported["verdict"] == "OUT"]
    if "item" in out:
        out = out[~(out["item"].notna() & out["item"].duplicated())]
        out = out.assign(number=out["item"].astype("float64")).sort_values("number", kind="stable")
    if not len(out):
        return
    yield tag(
        "p",
        "What each number rests on, as its file has it: northing, easting, elevation. geoqa trace with the job file "
        "and an item, a finding or a shot tells the same of every number, with its arithmetic.",
    )
    heads = (
        Column("Item", "k"),
        Column("Finding", "k"),
        Column("Shots: file, line, as read", "w"),
        Column("Held against"),
    )
    made_of = _made_of(results, out)
    rows = [_row(row, made_of, results) for row in in_rows(out.head(MOST))]
    yield table("behind", heads, rows)
    if len(out) > MOST:
        yield tag("p", f"The first {MOST} of {len(out)}.", kind="quiet")
    yield tag("p", _made_by(results.record), kind="quiet")


def _made_of(results: Results, out: "pd.DataFrame") -> Mapping[str, list[str]]:
    """Keys of the shots behind each finding, in the order of the evidence."""
    evidence = results.layers["evidence"]
    mine = evidence[(evidence["layer"] == "shots") & evidence["finding"].isin(out["finding"])]
    found: dict[str, list[str]] = {}
    for finding, key in zip(mine["finding"], mine["key"], strict=True):
        found.setdefault(str(finding), []).append(str(key))
    for finding, shot in zip(out["finding"], out["shot"], strict=True):
        if isinstance(shot, str) and shot not in found.setdefault(str(finding), []):
            found[str(finding)].insert(0, shot)
    return found


def _row(row: Mapping[Any, Any], made_of: Mapping[str, list[str]], results: Results) -> Row:
    keys = list(dict.fromkeys(made_of.get(row["finding"], [])))
    shots = results.shots.loc[results.shots["shot_key"].isin(keys[:SHOTS])].set_index("shot_key")
    files = _files(results)
    told = [_shot(key, shots.loc[key].to_dict(), files) for key in keys[:SHOTS] if key in shots.index]
    if len(keys) > SHOTS:
        told.append(tag("p", f"and {len(keys) - SHOTS} more (layer evidence)", kind="quiet"))
    item = row["item"] if isinstance(row.get("item"), str) else ""
    cells = (
        item,
        Html(f"<code>{row['finding']}</code>"),
        joined(*told) or words.MISSING,
        _against(row, results, files),
    )
    return Row(cells, key=row["finding"])


def _shot(key: str, shot: Mapping[Any, Any], files: Mapping[str, str]) -> Html:
    name = shot["shot"] if isinstance(shot["shot"], str) else key
    read = " ".join(shot[each] if isinstance(shot[each], str) and shot[each] else words.MISSING for each in AS_READ)
    return tag("p", f"{name}: {files.get(shot['source'], shot['source'])}, line {shot['line']}, {read}")


def _files(results: Results) -> Mapping[str, str]:
    if "sources" not in results.layers:
        return {}
    sources = results.layers["sources"]
    return dict(zip(sources["source"].astype(str), sources["path"].astype(str), strict=True))


def _against(row: Mapping[Any, Any], results: Results, files: Mapping[str, str]) -> Html:
    """Files of the design or the control, and where the limit is stated."""
    sheets = register(results.layers["sources"]) if "sources" in results.layers else {}
    named = [part for part in str(row["against"]).split("; ") if part in files]
    told = [", ".join(dict.fromkeys((files[part], sheets.get(part, files[part])))) for part in named]
    limit = row["reference"] if isinstance(row["reference"], str) else ""
    return joined(*(tag("p", each) for each in told), tag("p", limit, kind="quiet"))


def _made_by(record: Mapping[str, Any]) -> Html:
    """Job file with its hash, versions, and the name of the run: by these the numbers are made once more."""
    if "job" not in record:
        return Html("")
    versions = record.get("versions", {})
    packages = ", ".join(f"{name} {versions[name]}" for name in ("python", "numpy", "pyproj") if name in versions)
    job = record["job"]
    return joined(
        f"Job file {job['file']}, SHA-256 {job['sha256'][:12]}; geoqa {record['geoqa']}; {packages}",
        f"; run {record['run']}" if "run" in record else "",
        ". Settings of every step, and the whole hashes, stand in record.json; geoqa verify with the output folder "
        "makes all of it once more and says whether it is identical.",
    )
