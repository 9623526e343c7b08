"""Lines that the shots make: strings of one code and line ID, with their arcs, and never across a gap."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import shapely
from pydantic import Field

from geoqa.kernels.design.along_elements import chords
from geoqa.kernels.design.element_making import from_bulges
from geoqa.kernels.design.elements import Elements
from geoqa.kernels.linework.path import Path, path_through
from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers, shaped
from geoqa.model.tables.shot_flags import AGAIN, has_flag
from geoqa.steps.design.alignments import alignments
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.linework.line_words import LineWords, line_words
from geoqa.steps.linework.pieces import OUTLINE, Piece, pieces_of
from geoqa.steps.shots.flags import noted
from geoqa.steps.shots.strings import places_of, strings_of

CHORD = Length.parse("0.01 ft")
"""Largest distance between an arc and the chords of its drawn line; its elements are exact."""
ADJOIN = Length.parse("2.5 ft")
"""Design lines no farther apart than this go on from one to the other. Common practice, no source."""


REPEATS = ("re-shot", "same-place")
"""Flags of shots that repeat another one."""


class AsBuiltLines(Step):
    """Join the shots that count to lines: by code, line ID and sequence, else by time.

    The crew's words in the column `line_word` start, end and close a line, and say which of its shots lie on a curve:
    three or more in a row that bear the word for it make one arc, from the first of them to the last. A leg is not
    drawn where it is longer than `gap`, or, where the job states none, than `times` the usual leg of the line (the one
    in which half of its length lies, with at least four others to know it by) and than `least`; nor where it goes from
    one design line of the kind to another that lies apart. A shot that repeats another one is no vertex of its own. A
    line that was shot again, over ground that it covers already, is a line of its own for each pass, named by it.

    An arc passes through its first and last shot and as near as it can to the others. Radius and error of the circle
    nearest to all of its shots (least squares of distances) stand beside it: where they differ by more than that error,
    the curve is no circle. What is left out is counted in a note. Coordinates are those of the shots, as read.
    """

    name = "asbuilt-lines"
    needs = ("shots.use", "shots.flags", "shots.kind", "shots.role")
    wants = ("codes", "line_matches", "design_lines", "design_elements")
    gives = ("asbuilt_lines", "asbuilt_areas", "asbuilt_elements", "asbuilt_members")
    adds = ("notes",)

    most: int = Field(20_000, ge=0, description="Shots of lines beyond which none is drawn: a season is no drawing")
    start: tuple[str, ...] = Field(("start",), description="Words of a shot that begins a line")
    arc: tuple[str, ...] = Field(("arc",), description="Words of a shot on a curve, from its beginning to its end")
    end: tuple[str, ...] = Field(("end",), description="Words of a shot that ends its line")
    close: tuple[str, ...] = Field(("close",), description="Words of a last shot that is joined to the first")
    gap: Length | None = Field(None, description="Longest leg that is drawn; worked out for each line if left out")
    times: float = Field(3.0, gt=1, description="Where no gap is stated: longest leg over the usual one")
    least: Length = Field(Length.parse("5 ft"), description="Shorter legs are no gaps, where no gap is stated")
    closed: Length = Field(Length.parse("0.10 ft"), description="A line that comes back by less is closed")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Line by line, in the order of code and line ID."""
        shots, unit = layers["shots"], layers.frame.unit
        features, counts = _of_lines(layers)
        repeats = _repeats(shots, counts, unit, self.closed.to(unit))
        counts &= ~repeats
        if counts.sum() > self.most:
            fact = {"note": "lines-not-drawn", "count": int(counts.sum()), "total": self.most}
            return self._none(layers) | {"notes": noted(self.name, [fact])}
        mine = shots.iloc[np.flatnonzero(counts)].reset_index(drop=True)
        meaning = {"start": self.start, "arc": self.arc, "end": self.end, "close": self.close}
        words = line_words(mine, meaning)
        pieces = list(
            pieces_of(
                mine, words, unit, leaves=_leaves(layers, mine["shot_key"]),
                greatest=self.gap.to(unit) if self.gap else None, least=self.least.to(unit), times=self.times,
                closes=self.closed.to(unit),
            )
        )  # fmt: skip
        lines = sorted(
            (each for each in pieces if len(each.rows) > 1),
            key=lambda each: (each.code, each.line_id, each.turn, each.part),
        )
        paths = [_path(mine, each) for each in lines]
        out = shots.iloc[np.flatnonzero(features & ~counts & ~repeats)]
        notes = noted(self.name, list(_facts(pieces, paths, words, out, lines, int(repeats.sum()))))
        if not lines:
            return self._none(layers) | {"notes": notes}
        elements, members = _elements(mine, lines, paths), _members(mine, lines, paths)
        table = _table(layers, mine, lines, paths, elements, members, out)
        drawn = chords(elements, max_sagitta=CHORD.to(unit))
        geometry = shapely.linestrings(drawn.coordinates, indices=drawn.line)
        return {
            "asbuilt_lines": shaped(conform("asbuilt_lines", table), geometry, layers.frame),
            "asbuilt_areas": _areas(layers, table, geometry),
            "asbuilt_elements": conform("asbuilt_elements", _element_table(lines, paths, elements)),
            "asbuilt_members": conform("asbuilt_members", members.drop(columns="number")),
            "notes": notes,
        }

    def _none(self, layers: Layers) -> dict[str, pd.DataFrame]:
        drawn = {name: shaped(empty(name), [], layers.frame) for name in self.gives[:2]}
        return {name: empty(name) for name in self.gives[2:]} | drawn


def _areas(layers: Layers, lines: pd.DataFrame, drawn: np.ndarray) -> pd.DataFrame:
    """What closed lines surround; one that crosses itself surrounds nothing that could be named."""
    closed = np.flatnonzero(lines["closed"].to_numpy(bool) & (shapely.get_num_points(drawn) >= OUTLINE))
    rings = {row: shapely.Polygon(shapely.get_coordinates(drawn[row])) for row in closed.tolist()}
    sound = [row for row, ring in rings.items() if ring.is_valid]
    kept = lines.iloc[sound].reset_index(drop=True)
    named = kept[["line", "kind", "code", "line_id", "shots", "elevations"]]
    areas = named.assign(area=np.array([rings[row].area for row in sound], dtype=float))
    return shaped(conform("asbuilt_areas", areas), [rings[row] for row in sound], layers.frame)


def _of_lines(layers: Layers) -> tuple[np.ndarray, np.ndarray]:
    """Shots of features whose code is that of a line, and those of them that count."""
    shots = layers["shots"]
    feature = (shots["role"] == "feature").to_numpy(bool) & ~has_flag(shots, AGAIN)
    codes = layers["codes"] if "codes" in layers else empty("codes")
    row = rows_of(shots["code"].str.strip(), codes["code"].str.strip())
    geometry = taken(codes["geometry"], row) == "line" if len(codes) else shots["line_id"].notna()
    feature = feature & geometry.to_numpy(bool)
    placed = shots[["easting", "northing"]].notna().all(axis=1).to_numpy(bool)
    return feature, feature & placed & shots["use"].to_numpy(bool) & shots["line_id"].notna().to_numpy(bool)


def _repeats(shots: pd.DataFrame, counts: np.ndarray, unit: LengthUnit, closes: float) -> np.ndarray:
    """Shots that repeat another one, but for those that bring an outline back to its first shot, and whole passes."""
    repeats = counts & has_flag(shots, *REPEATS)
    own, places = np.flatnonzero(counts), places_of(shots)
    for string in strings_of(shots.iloc[own].reset_index(drop=True), unit, again=True):
        rows = own[string.rows]
        if string.again or string.turn:
            repeats[rows] = string.again
        elif len(rows) > OUTLINE and np.hypot(*(places[rows[-1]] - places[rows[0]])) <= closes:
            repeats[rows[-1]] = False
    return repeats


def _design_of(layers: Layers, keys: pd.Series) -> tuple[np.ndarray, np.ndarray]:
    """Design line of each shot, None where none is chosen, and its station there."""
    if "line_matches" not in layers:
        return np.full(len(keys), None, dtype=object), np.full(len(keys), np.nan)
    chosen = layers["line_matches"]
    chosen = chosen[chosen["chosen"]].drop_duplicates("shot_key")
    row = rows_of(keys, chosen["shot_key"])
    names = taken(chosen["design"], row)
    station = np.append(chosen["station"].to_numpy(float), np.nan)[row]
    return names.astype(object).where(names.notna(), None).to_numpy(), station


def _leaves(layers: Layers, keys: pd.Series) -> Callable[[int, int], bool]:
    """Whether a leg goes from one design line to another that does not begin where the first ends."""
    design, _ = _design_of(layers, keys)
    near = ADJOIN.to(layers.frame.unit)
    known: dict[tuple[str, str], bool] = {}

    def apart(pair: tuple[str, str]) -> bool:
        if pair not in known:
            lines = alignments(layers)
            row = rows_of(list(pair), lines.names)
            one, other = lines.pieces(row, lines.start[row], lines.end[row])
            known[pair] = one is not None and other is not None and float(shapely.distance(one, other)) > near
        return known[pair]

    def leaves(here: int, there: int) -> bool:
        one, other = design[here], design[there]
        return one is not None and other is not None and one != other and apart((min(one, other), max(one, other)))

    return leaves


def _path(shots: pd.DataFrame, piece: Piece) -> Path:
    places = np.column_stack([shots[name].to_numpy(float)[piece.rows] for name in ("easting", "northing")])
    return path_through(places, piece.curving, closed=piece.closed)


def _levels(shots: pd.DataFrame, piece: Piece) -> np.ndarray:
    """Elevation of every vertex."""
    level = shots["elevation"].to_numpy(float)[piece.rows]
    return np.append(level, level[0]) if piece.closed else level


def _elements(shots: pd.DataFrame, lines: list[Piece], paths: list[Path]) -> Elements:
    """All lines in one; stations from 0."""
    vertices = [
        np.column_stack([path.vertices, _levels(shots, piece)]) for path, piece in zip(paths, lines, strict=True)
    ]
    number = np.repeat(np.arange(len(paths)), [len(each) for each in vertices])
    return from_bulges(np.vstack(vertices), np.concatenate([path.bulge for path in paths]), number)


def _element_table(lines: list[Piece], paths: list[Path], elements: Elements) -> pd.DataFrame:
    curve = np.concatenate([path.curve[:-1] for path in paths])
    first = np.cumsum([0, *(len(path.fits) for path in paths)])[:-1]
    fits = [fit for path in paths for fit in path.fits]
    at = np.where(curve >= 0, first[elements.line] + curve, len(fits))
    radius, error = (np.array([*(getattr(fit, name) for fit in fits), np.nan])[at] for name in ("radius", "error"))
    names = taken([piece.name for piece in lines], elements.line)
    start = np.searchsorted(elements.line, elements.line)
    made = {
        "line": names, "sequence": np.arange(len(elements)) - start,
        "shape": np.where(elements.shape == 1, "arc", "line"),
        "radius": elements.radius, "sense": elements.sense, "start_station": elements.start_station,
        "length": elements.length, "start_elevation": elements.start_elevation, "end_elevation": elements.end_elevation,
        "curve": pd.array(curve, dtype="Int64"), "fitted_radius": radius, "fit_error": error,
    }  # fmt: skip
    for name in ("start", "end", "centre"):
        made[f"{name}_easting"], made[f"{name}_northing"] = getattr(elements, name).T
    table = pd.DataFrame(made)
    table.loc[table["curve"] < 0, "curve"] = pd.NA
    return table


def _members(shots: pd.DataFrame, lines: list[Piece], paths: list[Path]) -> pd.DataFrame:
    """Shots of every line in order, with where they lie on it."""
    rows: list[dict[str, Any]] = []
    keys, level = shots["shot_key"].to_numpy(object), shots["elevation"].to_numpy(float)
    for number, (piece, path) in enumerate(zip(lines, paths, strict=True)):
        size = from_bulges(path.vertices, path.bulge, np.zeros(len(path.vertices), int)).length
        station = np.append(0.0, np.cumsum(size))
        own = [(int(row), at, float(station[at])) for at, row in enumerate(piece.rows)]
        for row, at in piece.again.items():
            back = piece.closed and at == 0
            own.append((row, len(piece.rows) if back else at, float(station[-1] if back else station[at])))
        own.sort(key=lambda each: each[1])
        for sequence, (row, at, along) in enumerate(own):
            off = float(path.off[min(at, len(path.off) - 1)])
            rows.append(
                {"number": number, "line": piece.name, "sequence": sequence, "shot_key": keys[row], "station": along}
                | {"off": off, "elevation": level[row]}
            )
    return pd.DataFrame(rows)


def _table(
    layers: Layers,
    shots: pd.DataFrame,
    lines: list[Piece],
    paths: list[Path],
    elements: Elements,
    members: pd.DataFrame,
    out: pd.DataFrame,
) -> pd.DataFrame:
    names = pd.Series([piece.name for piece in lines], dtype="str")
    last = np.searchsorted(elements.line, np.arange(len(lines)), side="right") - 1
    bears = out["code"].str.strip() + "\x1f" + out["line_id"].str.strip()
    missing = bears.value_counts()
    worst = [max((fit.error for fit in path.fits if fit.error == fit.error), default=np.nan) for path in paths]
    design, direction = _beside(layers, members, len(lines))
    kinds = [shots["kind"].iloc[piece.rows].dropna() for piece in lines]
    return pd.DataFrame(
        {
            "line": names,
            "kind": pd.Series([each.iloc[0] if len(each) else None for each in kinds], dtype="str"),
            "code": [piece.code for piece in lines],
            "line_id": [piece.line_id for piece in lines],
            "part": [piece.part for piece in lines],
            "closed": [piece.closed for piece in lines],
            "length": elements.start_station[last] + elements.length[last],
            "shots": members.groupby("number").size().to_numpy(),
            "left_out": [int(missing.get(f"{piece.code}\x1f{piece.line_id}", 0)) for piece in lines],
            "curves": [len(path.fits) for path in paths],
            "fit_error": worst,
            "ended": [piece.ended for piece in lines],
            "gap": [piece.gap for piece in lines],
            "design": design,
            "direction": direction,
            "elevations": [bool(np.isfinite(_levels(shots, piece)).all()) for piece in lines],
        }
    )


def _beside(layers: Layers, members: pd.DataFrame, count: int) -> tuple[pd.Series, pd.Series]:
    """Design line that most shots of each line lie along, and whether the line runs with it."""
    design, station = _design_of(layers, members["shot_key"])
    names: list[str | None] = [None] * count
    ways: list[str | None] = [None] * count
    table = members.assign(design=design, at=station)
    for number in range(count):
        own = table[table["number"] == number]
        known = own[own["design"].notna()]
        if not len(known):
            continue
        most = known["design"].value_counts().sort_index().idxmax()
        names[number] = str(most)
        steps = np.diff(known.loc[known["design"] == most, "at"].to_numpy(float))
        forward, back = int((steps > 0).sum()), int((steps < 0).sum())
        if forward != back:
            ways[number] = "with" if forward > back else "against"
    return pd.Series(names, dtype="str"), pd.Series(ways, dtype="str")


_LISTED = 8


def _facts(
    pieces: list[Piece],
    paths: list[Path],
    words: LineWords,
    out: pd.DataFrame,
    lines: list[Piece],
    repeats: int,
) -> list[dict[str, Any]]:
    """What is not drawn and why, for the note."""
    facts: list[dict[str, Any]] = []

    def fact(variant: str, count: int, names: list[str], **more: Any) -> None:
        if count:
            shown = ", ".join(names[:_LISTED]) + (f" and {len(names) - _LISTED} more" if len(names) > _LISTED else "")
            facts.append({"note": "linework", "variant": variant, "count": count, "written": shown, **more})

    unused = out["line_id"].notna()
    fact("unused", int(unused.sum()), [])
    fact("repeat", repeats, [])
    passes = sorted({piece.name for piece in pieces if piece.turn and piece.part == 1})
    fact("passes", len(passes), passes)
    nameless = out.loc[~unused, "code"].value_counts().sort_index()
    fact("nameless", int(nameless.sum()), [f"{code} ({count})" for code, count in nameless.items()])
    alone = sorted(each.name for each in pieces if len(each.rows) < 2)
    fact("one", len(alone), alone)
    for why in ("gap", "jump"):
        broken = sorted((each for each in pieces if each.ended == why), key=lambda each: each.name)
        longest = max((each.gap for each in broken), default=np.nan)
        fact(why, len(broken), [each.name for each in broken], number=longest, unit="job")
    refused = [piece.name for piece, path in zip(lines, paths, strict=True) for _ in path.refused]
    fact("no-curve", len(refused), list(dict.fromkeys(refused)))
    fact("strange", sum(words.strange.values()), [f"{word} ({count})" for word, count in words.strange.items()])
    return [each | {"total": len(lines)} for each in facts]
