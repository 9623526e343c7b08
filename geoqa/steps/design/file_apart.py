"""Design files that lie apart from the shots, each as a whole: one matter each, and no defects line by line."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.evidence import COVERAGE
from geoqa.kernels.design.along_elements import chords
from geoqa.kernels.design.moved_together import MovedTogether, Pieces, moved_together
from geoqa.model.quantity import FOOT, Length
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import AGAIN, has_flag
from geoqa.model.words import listed, many
from geoqa.steps.causes.open_blunders import under_blunder
from geoqa.steps.causes.other_foot import LONGER, units_read
from geoqa.steps.design.alignments import alignments
from geoqa.steps.design.design_apart import BESIDE, FEWEST, MOST, REACH, SIDES, lies_apart
from geoqa.steps.judging.text_columns import rows_of

FEWEST_FILES = 2
FEWEST_LINES = 2
"""Lines and points that shots lie on once the file is moved: one string lies along one line by chance."""
LIKE = Length.parse("0.5 ft")
"""Within this, in plan, a shot lies on the moved design; and so much its elevations may scatter about it."""
AROUND = Length.parse("40 ft")
"""How far from a first guess the shift is looked for."""
SHARE = 0.2
"""Most of the shots of a file's kinds that lie beside it where it is, of those that lie beside no other."""
SAME = 0.1
"""A shift is the difference of the two feet within so much of it."""
NAMES = 6
MOST_FILES = 6
"""Files of which each may lie apart by a shift of its own; of more nobody could tell whose shots are whose."""


@dataclass(frozen=True, kw_only=True, eq=False)
class FileApart:
    """A design file on which shots lie once it is moved.

    Attributes
    ----------
    file : str
        Its source.
    shots : tuple of str
        Shots that lie on it then, by their keys.
    asked : int
        Shots of its kinds that lie beside no other design.
    lines : tuple of str
        Lines and points they lie on.
    shift : (float, float)
        Easting and northing by which the file would be moved, job units.
    foot : tuple of str
        The foot it was read in and the other one, where that makes the shift; else empty.
    others : tuple of str
        Files with design of its kinds that lie apart too.
    open : bool
        Its lines fit shots that lie on those as well: which are its own, and so its shift, cannot be told.
    """

    file: str
    shots: tuple[str, ...]
    asked: int
    lines: tuple[str, ...]
    shift: tuple[float, float]
    foot: tuple[str, ...]
    others: tuple[str, ...] = ()
    open: bool = False


def files_apart(layers: Layers) -> list[FileApart]:
    """Design files that lie apart from the shots, where others do not; in the order of their names."""
    tables = [layers[name] for name in ("design_lines", "design_points") if name in layers]
    files = sorted({str(each) for table in tables for each in table["source"].dropna()})
    if len(files) < 2 or lies_apart(layers):
        return []
    found = [each for each in (_apart(layers, file) for file in files) if each is not None]
    rest = [file for file in files if file not in {each.file for each in found}]
    return sorted(found + _several_apart(layers, rest), key=lambda each: each.file)


def _apart(layers: Layers, file: str) -> FileApart | None:
    keys, beside = _asked(layers, file)
    away = ~beside
    if away.sum() < FEWEST or beside.sum() > SHARE * len(keys):
        return None
    shots = layers["shots"].iloc[rows_of(keys[away], layers["shots"]["shot_key"])]
    kinds = np.array(sorted(set(shots["kind"])), dtype=object)
    pieces, names = _pieces(layers, file, kinds)
    at, unit = shots[["easting", "northing"]].to_numpy(float), layers.frame.unit
    group = rows_of(shots["kind"], kinds)
    foot, guess = _foot(layers, file, at)
    middle = np.median(at, axis=0) - np.median(pieces.ends.reshape(-1, 2), axis=0)
    far = AROUND.to(unit)
    looked = [(guess, 0.0)] * bool(foot) + [(middle, far)]
    for start, around in looked:
        made = moved_together(
            at, shots["elevation"].to_numpy(float), group, pieces, [start], within=LIKE.to(unit), around=around
        )
        of_foot = foot if bool(foot) and np.hypot(*(made.shift - guess)) <= SAME * np.hypot(*guess) else ()
        if _holds(layers, made) and (of_foot or around):
            lines = sorted({str(each) for each in names[made.owner[made.fits]]})
            return FileApart(
                file=file, shots=tuple(sorted(shots["shot_key"][made.fits])), asked=len(keys), lines=tuple(lines),
                shift=(float(made.shift[0]), float(made.shift[1])), foot=of_foot,
            )  # fmt: skip
    return None


def _several_apart(layers: Layers, files: list[str]) -> list[FileApart]:
    """Files with design of the same kinds of which each lies apart by a shift of its own."""
    shots: dict[str, set[str]] = {}
    for file in files:
        asked, beside = _asked(layers, file)
        if (~beside).sum() >= FEWEST and beside.sum() <= SHARE * len(asked):
            shots[file] = set(asked[~beside])
    found: list[FileApart] = []
    while shots:
        first = min(shots)
        group, keys = [first], shots.pop(first)
        while near := [file for file in sorted(shots) if shots[file] & keys]:
            group += near
            keys = keys.union(*(shots.pop(file) for file in near))
        if 1 < len(group) <= MOST_FILES:
            found += _of_group(layers, group, keys)
    return found


def _of_group(layers: Layers, files: list[str], keys: set[str]) -> list[FileApart]:
    """Which shots lie on which of some files once each is moved, the file that most lie on first; all or nothing."""
    shots = layers["shots"]
    left = shots[shots["shot_key"].isin(keys)].reset_index(drop=True)
    every = left
    made: dict[str, FileApart] = {}
    while len(made) < len(files):
        fits = {
            file: _moved(layers, file, left, share=0.5 / (len(files) - len(made))) for file in files if file not in made
        }
        held = {file: each for file, each in fits.items() if each is not None}
        if not held:
            break
        file = max(sorted(held), key=lambda each: len(held[each].shots))
        made[file] = held[file]
        left = left[~left["shot_key"].isin(made[file].shots)].reset_index(drop=True)
    if len(made) < FEWEST_FILES or len(left) > (1 - MOST) * len(every):
        return []
    return [
        replace(
            each, asked=len(every), others=tuple(sorted(set(made) - {file})), open=_fits_others(layers, each, every)
        )
        for file, each in sorted(made.items())
    ]


def _moved(layers: Layers, file: str, shots: pd.DataFrame, *, share: float) -> FileApart | None:
    """The shift by which most shots lie on a file, some share of all, where they lie on several lines and alike."""
    shots = shots[shots["kind"].isin(_named_in(layers, file)[0])].reset_index(drop=True)
    if len(shots) < FEWEST:
        return None
    kinds = np.array(sorted(set(shots["kind"])), dtype=object)
    pieces, names = _pieces(layers, file, kinds)
    at, unit = shots[["easting", "northing"]].to_numpy(float), layers.frame.unit
    made = moved_together(
        at, shots["elevation"].to_numpy(float), rows_of(shots["kind"], kinds), pieces, [(0.0, 0.0)],
        within=LIKE.to(unit), around=AROUND.to(unit), share=share,
    )  # fmt: skip
    if not _holds(layers, made, most=0.0):
        return None
    lines = sorted({str(each) for each in names[made.owner[made.fits]]})
    return FileApart(
        file=file, shots=tuple(sorted(shots["shot_key"][made.fits])), asked=len(shots), lines=tuple(lines),
        shift=(float(made.shift[0]), float(made.shift[1])), foot=(),
    )  # fmt: skip


def _fits_others(layers: Layers, found: FileApart, shots: pd.DataFrame) -> bool:
    """Whether a file fits nearly as many of the shots that were said to lie on others."""
    other = _moved(layers, found.file, shots[~shots["shot_key"].isin(found.shots)], share=0.5)
    return other is not None and len(other.shots) >= MOST * len(found.shots)


def _named_in(layers: Layers, file: str) -> tuple[set[str], set[str]]:
    """Kinds, and lines and points, of a design file."""
    kinds: set[str] = set()
    own: set[str] = set()
    for table, name in (("design_lines", "line"), ("design_points", "point")):
        if table in layers:
            rows = layers[table][layers[table]["source"] == file]
            kinds, own = kinds | set(rows["kind"]), own | set(rows[name])
    return kinds, own


def _asked(layers: Layers, file: str) -> tuple[pd.Series, np.ndarray]:
    """Usable shots of the kinds of a file that lie beside no other design, and whether each lies beside this one."""
    shots, near = layers["shots"], BESIDE.to(layers.frame.unit)
    kinds, own = _named_in(layers, file)
    there = (shots["role"] == "feature") & shots["kind"].isin(kinds) & shots["use"] & ~has_flag(shots, AGAIN)
    there &= shots["easting"].add(shots["northing"]).notna()
    keys = shots.loc[there.to_numpy(bool) & ~under_blunder(layers, vertical=False), "shot_key"].reset_index(drop=True)
    beside, elsewhere = np.zeros(len(keys), bool), np.zeros(len(keys), bool)
    for name in ("line_matches", "point_matches"):
        if name in layers:
            rows = layers[name][layers[name]["distance"] <= near]
            mine = rows["design"].isin(own)
            beside |= keys.isin(rows.loc[mine, "shot_key"]).to_numpy(bool)
            elsewhere |= keys.isin(rows.loc[~mine, "shot_key"]).to_numpy(bool)
    return keys[~elsewhere], beside[~elsewhere]


def _pieces(layers: Layers, file: str, kinds: np.ndarray) -> tuple[Pieces, np.ndarray]:
    """The file's design of these kinds, and the name of each owner."""
    design = alignments(layers)
    drawn = chords(design.elements, max_sagitta=0.01)
    mine = (design.sources == file) & np.isin(design.kinds.astype(str), kinds.astype(str))
    pair = np.flatnonzero((drawn.line[1:] == drawn.line[:-1]) & mine[drawn.line[1:]])
    ends = np.stack([drawn.coordinates[pair], drawn.coordinates[pair + 1]], axis=1)
    level = np.stack([drawn.elevation[pair], drawn.elevation[pair + 1]], axis=1)
    points = layers["design_points"]
    points = points[(points["source"] == file) & points["kind"].isin(kinds)].reset_index(drop=True)
    spot = points[["easting", "northing"]].to_numpy(float)
    high = points["elevation"].to_numpy(float)
    whole = Pieces(
        ends=np.concatenate([ends, np.stack([spot, spot], axis=1)]),
        elevation=np.concatenate([level, np.column_stack([high, high])]),
        group=np.append(rows_of(design.kinds[drawn.line[pair]], kinds), rows_of(points["kind"], kinds)).astype(
            np.int64
        ),
        owner=np.append(drawn.line[pair], len(design.names) + np.arange(len(points))).astype(np.int64),
    )
    return whole, np.append(design.names, points["point"].to_numpy(dtype=object))


def _foot(layers: Layers, file: str, at: np.ndarray) -> tuple[tuple[str, ...], np.ndarray]:
    """The foot a file was read in and the other, and what they differ by there; nothing for a file in metres."""
    read = units_read(layers).get(file)
    if read is None:
        return (), np.full(2, np.nan)
    sign = 1.0 if read == FOOT.name else -1.0
    return (read, "ftUS" if read == FOOT.name else FOOT.name), sign * LONGER * np.median(at, axis=0)


def _holds(layers: Layers, made: MovedTogether, *, most: float = MOST) -> bool:
    """Whether so many of the shots lie on several lines then, alike in elevation, farther than a shot is matched."""
    unit = layers.frame.unit
    fits = made.fits
    if fits.sum() < max(FEWEST, most * len(fits)) or len(np.unique(made.owner[fits])) < FEWEST_LINES:
        return False
    rise = made.rise[fits][np.isfinite(made.rise[fits])]
    spread = 1.4826 * float(np.median(np.abs(rise - np.median(rise)))) if len(rise) else 0.0
    return spread <= LIKE.to(unit) and bool(np.hypot(*made.shift) > REACH.to(unit))


def held_apart(layers: Layers, found: FileApart) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Rows of `older_designs`, all that the file asks evidence of; and of `apart_shots`."""
    named = [(layers[table], name) for table, name in (("design_lines", "line"), ("design_points", "point"))]
    lines = [line for table, name in named for line in table.loc[table["source"] == found.file, name].tolist()]
    rows = [
        {"source": found.file, "line": line, "check": COVERAGE.name, "reason": "design-apart", "u": 0.0}
        for line in lines
    ]
    shots = pd.DataFrame({"shot_key": list(found.shots), "source": found.file})
    return conform("older_designs", pd.DataFrame(rows)), conform("apart_shots", shots)


def fact_of_file(layers: Layers, found: FileApart) -> dict[str, Any]:
    """The matter in numbers."""
    names = list(found.lines)
    more = f" and {many(len(names) - NAMES, 'more')}" if len(names) > NAMES else ""
    sources = layers["sources"]
    path = dict(zip(sources["source"], sources["path"], strict=True))
    side = SIDES[round(float(np.degrees(np.arctan2(*found.shift))) / 45.0) % 8]
    too = [str(path.get(each) or each) for each in found.others]
    read, other = found.foot or (None, listed(too) if too else None)
    return {
        "note": "design-apart", "variant": "foot" if found.foot else "files" if found.others else "file",
        "subject": str(path.get(found.file) or found.file), "count": len(found.shots), "total": found.asked,
        "number": np.nan if found.open else float(np.hypot(*found.shift)), "unit": "job",
        "place": side, "written": read, "other": other,
        "proposal": (", ".join(names[:NAMES]) if more else listed(names)) + more,
    }  # fmt: skip


def apart_from_a_file(layers: Layers) -> np.ndarray:
    """Shots that lie on a design file that lies apart, shape (n,) bool."""
    shots = layers["shots"]["shot_key"]
    if "apart_shots" not in layers or not len(layers["apart_shots"]):
        return np.zeros(len(shots), bool)
    return np.asarray(rows_of(shots, layers["apart_shots"]["shot_key"]) >= 0)


def of_files_apart(layers: Layers) -> set[str]:
    """Lines and points of design files that lie apart."""
    if "older_designs" not in layers:
        return set()
    table = layers["older_designs"]
    return set(table.loc[(table["reason"] == "design-apart") & (table["check"] == COVERAGE.name), "line"])
