"""Surfaces of LandXML as arrays: the points and faces of each TIN, as the designer gave them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from geoqa.errors import SourceError
from geoqa.read.delimited.values import LARGEST
from geoqa.read.landxml.stream import Handlers, refusal

_END = " -nan "
"""Stands after the numbers of each point, so that a block of them shows whether each has three."""
_LAST = " -987654321 "
_LONGEST = 1 << 20


@dataclass(frozen=True, kw_only=True, eq=False)
class Surface:
    """One triangulated surface, in the file's unit.

    Attributes
    ----------
    name, state : str
        State as the file has it: proposed, existing, or empty.
    points : (n, 3) float64
        Easting, northing, elevation.
    faces : (m, 3) int64
        Rows of `points`; invisible faces are left out.
    invisible : int
        How many those were.
    line : int
        Where it begins in the file.
    notes : tuple of str
        What of it was not read.
    """

    name: str
    state: str
    points: np.ndarray
    faces: np.ndarray
    invisible: int
    line: int
    notes: tuple[str, ...] = ()


class Surfaces:
    """Collects the surfaces of a stream; those that are not wanted are listed only.

    Parameters
    ----------
    path : Path
        For messages.
    names : collection of str or None
        Surfaces to take; None takes all.
    """

    def __init__(self, path: Path, names: Collection[str] | None) -> None:
        self.path, self.names = path, names
        self.taken: list[Surface] = []
        self.listed: list[tuple[str, str, int]] = []
        self.kind = ""
        self._now: _Numbers | None = None
        self._clear()

    def _clear(self) -> None:
        self.name, self.state, self.line, self.wanted = "", "", 0, False
        self.points: _Numbers | None = None
        self.faces: _Numbers | None = None
        self.aside: dict[str, int] = {}
        self.kind = "TIN"

    def begin(self, name: str, attributes: Mapping[str, str], line: int) -> Handlers | None:
        """Take up a surface, its points or its faces."""
        if name == "Surface":
            self._clear()
            self.name, self.state, self.line = attributes.get("name", "").strip(), attributes.get("state", ""), line
            twin = next((at for called, _, at in self.listed if called == self.name), None)
            if twin is not None:
                raise refusal(self.path, line, f"a second surface '{self.name[:60]}'; the first is in line {twin}. "
                              "Surfaces are chosen by name, so give each its own.")  # fmt: skip
            self.listed.append((self.name, self.state, line))
            self.wanted = self.names is None or self.name in self.names
        elif name == "Definition":
            self.kind = attributes.get("surfType", "TIN").strip()
        elif name in ("Breakline", "Contour", "Boundary", "Watershed", "DataPoints"):
            self.aside[name] = self.aside.get(name, 0) + 1
        elif name in ("Pnts", "Faces") and self.wanted and self.kind == "TIN":
            held = self.points if name == "Pnts" else self.faces
            if held is not None:
                raise refusal(self.path, line, f"a second {name} in surface '{self.name[:60]}'; one is allowed.")
            self._now = _Numbers(self.path, self.name, line, points=name == "Pnts")
            if name == "Pnts":
                self.points = self._now
            else:
                self.faces = self._now
            return self._now.handlers()
        elif name in ("Pnts", "Faces"):
            return _nothing, _nothing, _nothing
        return None

    def block(self) -> None:
        """Make numbers of what has come."""
        if self._now is not None:
            self._now.settle()

    def end(self, name: str) -> None:
        """Close points or faces, or the whole surface."""
        if name in ("Pnts", "Faces") and self._now is not None:
            self._now.settle(whole=True)
            self._now = None
        elif name == "Surface" and self.wanted:
            self._finish()

    def _finish(self) -> None:
        if self.kind != "TIN":
            text = f"surface '{self.name[:60]}' is of surfType '{self.kind[:20]}'; only TIN is read. Leave it out."
            raise refusal(self.path, self.line, text)
        if self.points is None or self.faces is None:
            lacking = "Pnts" if self.points is None else "Faces"
            text = f"surface '{self.name[:60]}' has no {lacking} in a Definition; a TIN needs Pnts and Faces. "
            raise refusal(self.path, self.line, text + "Export the surface with its triangles, or leave it out.")
        values, ids = self.points.numbers(), self.points.keys()
        faces = self.faces.numbers()
        hidden = self.faces.invisible
        rows = _rows(ids, faces, where=self.faces)
        seen = np.ones(len(faces), dtype=bool)
        seen[hidden] = False
        self.taken.append(
            Surface(
                name=self.name,
                state=self.state,
                points=values[:, [1, 0, 2]],
                faces=rows[seen],
                invisible=len(hidden),
                line=self.line,
                notes=tuple(f"{count} {what} not read" for what, count in sorted(self.aside.items())),
            )
        )
        self.points = self.faces = None


def _nothing(*_: object) -> None:
    pass


class _Numbers:
    """Three numbers of each point or face, block by block."""

    def __init__(self, path: Path, surface: str, line: int, *, points: bool) -> None:
        self.path, self.surface, self.line, self.is_points = path, surface, line, points
        self.child, self.mark = ("P", _END) if points else ("F", _LAST)
        self.pieces: list[str] = []
        self.ids: list[str] = []
        self.invisible: list[int] = []
        self.done: list[np.ndarray] = []
        self.done_ids: list[np.ndarray] = []
        self.count = 0

    def handlers(self) -> Handlers:
        """What the parser calls; kept bare, for it is called millions of times."""
        mark, put, put_id, child = self.mark, self.pieces.append, self.ids.append, self.child

        def point(name: str, attributes: Mapping[str, str]) -> None:
            if name != child:
                raise self._refused(f"'{name[:60]}' stands among the points; only P is allowed")
            if "id" not in attributes:
                raise self._refused(f"point no. {self._total() + 1} has no id; each P needs one")
            put_id(attributes["id"])

        def face(name: str, attributes: Mapping[str, str]) -> None:
            if name != child:
                raise self._refused(f"'{name[:60]}' stands among the faces; only F is allowed")
            if attributes.get("i", "0").strip() not in ("0", "", "false"):
                self.invisible.append(self.count)
            self.count += 1

        def end(_: str) -> None:
            put(mark)

        return (point if self.is_points else face), put, end

    def _total(self) -> int:
        return sum(map(len, self.done)) + len(self.ids)

    def _refused(self, what: str) -> SourceError:
        kind = "Pnts" if self.is_points else "Faces"
        return refusal(self.path, self.line, f"surface '{self.surface[:60]}', {kind}: {what}.")

    def settle(self, *, whole: bool = False) -> None:
        """Numbers of every child that has ended."""
        last = len(self.pieces)
        while last and self.pieces[last - 1] is not self.mark:
            last -= 1
        rest = [] if whole else self.pieces[last:]
        if sum(map(len, rest)) > _LONGEST:
            raise self._refused(f"one {self.child} is longer than a million characters")
        if last:
            text = "".join(self.pieces[:last])
            self.done.append(self._parsed(text))
            started = len(self.done[-1])
            if self.is_points:
                self.done_ids.append(self._whole(self.ids[:started]))
                del self.ids[:started]
        self.pieces[:] = rest

    def _parsed(self, text: str) -> np.ndarray:
        """Rows of three; anything else is found and named."""
        kind = np.float64 if self.is_points else np.int64
        cells = text.split()
        try:
            flat = np.array(list(map(float if self.is_points else int, cells)), dtype=kind)
        except (ValueError, OverflowError):
            raise self._first_wrong(text) from None
        if len(flat) % 4:
            raise self._first_wrong(text)
        rows = flat.reshape(-1, 4)
        ends = np.isnan(rows[:, 3]) if self.is_points else rows[:, 3] == int(_LAST)
        good = np.abs(rows[:, :3]) < LARGEST if self.is_points else rows[:, :3] >= 0
        if not ends.all() or not good.all() or "_" in text:
            raise self._first_wrong(text)
        return np.ascontiguousarray(rows[:, :3])

    def _first_wrong(self, text: str) -> SourceError:
        before = sum(map(len, self.done))
        children = enumerate(text.split(self.mark))
        at, child = next(each for each in children if not self._is_sound(each[1]))
        number = before + at + 1
        which = f"point no. {number}"
        if self.is_points and at < len(self.ids):
            which += f" (id {self.ids[at][:20]})"
        allowed = "three numbers: northing, easting, elevation" if self.is_points else "three ids of points"
        told = f"{which if self.is_points else f'face no. {number}'} reads '{child.strip()[:60]}'; {allowed} are needed"
        return self._refused(told)

    def _is_sound(self, child: str) -> bool:
        return len(cells := child.split()) == 3 and all(map(self._is_good, cells))

    def _is_good(self, cell: str) -> bool:
        try:
            return "_" not in cell and (abs(float(cell)) < LARGEST if self.is_points else int(cell) >= 0)
        except ValueError:
            return False

    def _whole(self, ids: list[str]) -> np.ndarray:
        try:
            return np.array(list(map(int, ids)), dtype=np.int64)
        except (ValueError, OverflowError):
            bad = next(each for each in ids if not each.strip().isdecimal() or len(each) > 18)
            raise self._refused(f"a point has the id '{bad[:40]}'; ids of points are whole numbers") from None

    def numbers(self) -> np.ndarray:
        """All rows; a block is given up once it is in."""
        whole = np.concatenate(self.done) if self.done else np.zeros((0, 3), np.float64 if self.is_points else np.int64)
        self.done = []
        return whole

    def keys(self) -> np.ndarray:
        """Ids of the points."""
        whole = np.concatenate(self.done_ids) if self.done_ids else np.zeros(0, np.int64)
        self.done_ids = []
        return whole

    def face_refused(self, number: int, what: str) -> SourceError:
        """Say what is wrong with a face."""
        return self._refused(f"face no. {number} {what}")


def _rows(ids: np.ndarray, faces: np.ndarray, *, where: _Numbers) -> np.ndarray:
    """Rows of the points that each face names."""
    order = np.argsort(ids, kind="stable")
    ranked = ids[order]
    again = np.flatnonzero(ranked[1:] == ranked[:-1])
    if len(again):
        raise where._refused(f"two points have the id {ranked[again[0]]}; each needs its own")
    if not len(ids) or not len(faces):
        raise where._refused(f"{len(ids)} points and {len(faces)} faces; a surface has at least three and one")
    if len(ids) and ranked[-1] - ranked[0] < 4 * len(ids) + 1000:
        table = np.full(ranked[-1] - ranked[0] + 1, -1, dtype=np.int64)
        table[ids - ranked[0]] = np.arange(len(ids))
        inside = (faces >= ranked[0]) & (faces <= ranked[-1])
        rows = np.where(inside, table[np.where(inside, faces - ranked[0], 0)], -1)
    else:
        at = np.minimum(np.searchsorted(ranked, faces), len(ranked) - 1)
        rows = np.where(ranked[at] == faces, order[at], -1)
    strange = np.argwhere(rows < 0)
    if len(strange):
        face, corner = strange[0]
        there = f"ids from {ranked[0]} to {ranked[-1]} are there"
        raise where.face_refused(int(face) + 1, f"names point {faces[face, corner]}, which is not there; {there}")
    flat = (rows[:, 0] == rows[:, 1]) | (rows[:, 1] == rows[:, 2]) | (rows[:, 0] == rows[:, 2])
    if flat.any():
        raise where.face_refused(int(np.argmax(flat)) + 1, "names one point twice; a face has three corners")
    return rows
