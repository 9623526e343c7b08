"""Surfaces of LandXML as arrays: the points and faces of each TIN, as the designer gave them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from geoqa.errors import SourceError
from geoqa.model.words import many
from geoqa.read.delimited.values import LARGEST
from geoqa.read.landxml.stream import Handlers, refusal

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
    faces : (m, 3) int32
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
        self.points: _Points | None = None
        self.faces: _Faces | None = None
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
            if name == "Pnts":
                self._now = self.points = _Points(self.path, self.name, line)
            elif self.points is None:
                text = f"surface '{self.name[:60]}' has its Faces before, or without, its Pnts; the points come first."
                raise refusal(self.path, line, text)
            else:
                self._now = self.faces = _Faces(self.path, self.name, line, self.points.keys())
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
        points, faces = self.points.whole(), self.faces.whole()
        if not len(faces) and not self.faces.hidden:
            raise self.faces.refused("there is none; a surface has at least one")
        self.taken.append(
            Surface(
                name=self.name,
                state=self.state,
                points=points,
                faces=faces,
                invisible=self.faces.hidden,
                line=self.line,
                notes=tuple(f"{count} {what} not read" for what, count in sorted(self.aside.items())),
            )
        )
        self.points = self.faces = None


def _nothing(*_: object) -> None:
    pass


class _Numbers:
    """Three numbers of each child, block by block."""

    what, child, mark = "", "", ""
    """Name of the collection; of a child; and what is put after the numbers of each, so that three are seen to be."""

    def __init__(self, path: Path, surface: str, line: int) -> None:
        self.path, self.surface, self.line = path, surface, line
        self.pieces: list[str] = []
        self.done: list[np.ndarray] = []
        self.count = 0
        """Children whose numbers are in `done`, or were left out of it."""

    def handlers(self) -> Handlers:
        """What the parser calls; kept bare, for it is called millions of times."""
        mark, put = self.mark, self.pieces.append

        def end(_: str) -> None:
            put(mark)

        return self.start(), put, end

    def start(self) -> Callable[[str, Mapping[str, str]], None]:
        """What is called as a child begins."""
        raise NotImplementedError

    def refused(self, what: str) -> SourceError:
        """Say what is wrong, and where."""
        return refusal(self.path, self.line, f"surface '{self.surface[:60]}', {self.what}: {what}.")

    def settle(self, *, whole: bool = False) -> None:
        """Numbers of every child that has ended."""
        last = len(self.pieces)
        while last and self.pieces[last - 1] is not self.mark:
            last -= 1
        rest = [] if whole else self.pieces[last:]
        if sum(map(len, rest)) > _LONGEST:
            raise self.refused(f"one {self.child} is longer than a million characters")
        if last:
            self.take(self._parsed("".join(self.pieces[:last])))
        self.pieces[:] = rest

    def take(self, rows: np.ndarray) -> None:
        """Keep a block of rows."""
        raise NotImplementedError

    def number(self, cell: str) -> float:
        """One number; a ValueError where it is none that is allowed."""
        raise NotImplementedError

    def _parsed(self, text: str) -> np.ndarray:
        """Rows of three, as they are written; anything else is found and named."""
        try:
            flat = np.array(list(map(self.plain, text.split())))
            rows = flat.reshape(-1, 4)
        except (ValueError, OverflowError):
            raise self._first_wrong(text) from None
        if not self.are_good(rows) or "_" in text:
            raise self._first_wrong(text)
        return rows[:, :3]

    plain: Callable[[str], float]

    def are_good(self, rows: np.ndarray) -> bool:
        """Whether each row is three numbers that are allowed, and the mark."""
        raise NotImplementedError

    def _first_wrong(self, text: str) -> SourceError:
        children = enumerate(text.split(self.mark))
        at, child = next(each for each in children if not self._is_sound(each[1]))
        return self.refused(f"{self.which(at)} reads '{child.strip()[:60]}'; {self.allowed} are needed")

    allowed = ""

    def which(self, at: int) -> str:
        """Words for the child of a block that is not settled yet."""
        return f"{self.child} no. {self.count + at + 1}"

    def _is_sound(self, child: str) -> bool:
        cells = child.split()
        try:
            return len(cells) == 3 and "_" not in child and all(self.is_allowed(self.plain(each)) for each in cells)
        except ValueError:
            return False

    def is_allowed(self, value: float) -> bool:
        """Whether one number is in bounds."""
        raise NotImplementedError

    def whole(self) -> np.ndarray:
        """All rows; the blocks are given up."""
        done, self.done = self.done, []
        return np.concatenate(done) if done else np.zeros((0, 3), dtype=np.int32)


class _Points(_Numbers):
    """Points, with their ids."""

    what, child, mark = "Pnts", "P", " -nan "
    allowed = "three numbers: northing, easting, elevation"

    def __init__(self, path: Path, surface: str, line: int) -> None:
        super().__init__(path, surface, line)
        self.ids: list[str] = []
        self.done_ids: list[np.ndarray] = []

    plain = staticmethod(float)

    def start(self) -> Callable[[str, Mapping[str, str]], None]:
        """Keep the id."""
        put = self.ids.append

        def point(name: str, attributes: Mapping[str, str]) -> None:
            if name != "P":
                raise self.refused(f"'{name[:60]}' stands among the points; only P is allowed")
            if "id" not in attributes:
                raise self.refused(f"point no. {self.count + len(self.ids) + 1} has no id; each P needs one")
            put(attributes["id"])

        return point

    def are_good(self, rows: np.ndarray) -> bool:
        """Whether all are finite."""
        return bool(np.isnan(rows[:, 3]).all() and (np.abs(rows[:, :3]) < LARGEST).all())

    def is_allowed(self, value: float) -> bool:
        """Whether one is."""
        return abs(value) < LARGEST

    def which(self, at: int) -> str:
        """Number and id."""
        return super().which(at) + (f" (id {self.ids[at][:20]})" if at < len(self.ids) else "")

    def take(self, rows: np.ndarray) -> None:
        """Keep them as easting, northing, elevation."""
        ids, self.ids[: len(rows)] = self.ids[: len(rows)], []
        try:
            self.done_ids.append(np.array(list(map(int, ids)), dtype=np.int64))
        except (ValueError, OverflowError):
            bad = next(each for each in ids if not each.strip().isdecimal() or len(each) > 18)
            raise self.refused(f"a point has the id '{bad[:40]}'; ids of points are whole numbers") from None
        self.done.append(rows[:, [1, 0, 2]])
        self.count += len(rows)

    def keys(self) -> np.ndarray:
        """Ids of all."""
        return np.concatenate(self.done_ids) if self.done_ids else np.zeros(0, dtype=np.int64)


class _Faces(_Numbers):
    """Faces, whose corners are looked up as they come."""

    what, child, mark = "Faces", "F", " -987654321 "
    allowed = "three ids of points"

    def __init__(self, path: Path, surface: str, line: int, ids: np.ndarray) -> None:
        super().__init__(path, surface, line)
        self.order = np.argsort(ids, kind="stable").astype(np.int32)
        self.ranked = ids[self.order]
        again = np.flatnonzero(self.ranked[1:] == self.ranked[:-1])
        if len(again):
            raise self.refused(f"two points have the id {self.ranked[again[0]]}; each needs its own")
        if len(ids) < 3:
            raise self.refused(f"they stand on {many(len(ids), 'point')}; a surface has at least three")
        self.first, self.last = int(self.ranked[0]), int(self.ranked[-1])
        self.table: np.ndarray | None = None
        if self.last - self.first < 4 * len(ids) + 1000:
            self.table = np.full(self.last - self.first + 1, -1, dtype=np.int32)
            self.table[self.ranked - self.first] = self.order
        self.begun = 0
        self.invisible: list[int] = []
        self.hidden = 0

    plain = staticmethod(int)

    def start(self) -> Callable[[str, Mapping[str, str]], None]:
        """Mind the invisible ones."""

        def face(name: str, attributes: Mapping[str, str]) -> None:
            if name != "F":
                raise self.refused(f"'{name[:60]}' stands among the faces; only F is allowed")
            if "i" in attributes and attributes["i"].strip() not in ("0", "", "false"):
                self.invisible.append(self.begun)
            self.begun += 1

        return face

    def are_good(self, rows: np.ndarray) -> bool:
        """Whether no id is negative."""
        return bool(rows.dtype.kind == "i" and (rows[:, 3] == int(self.mark)).all() and (rows[:, :3] >= 0).all())

    def is_allowed(self, value: float) -> bool:
        """Whether one is not, and can be an id at all."""
        return 0 <= value < 2**63

    def take(self, rows: np.ndarray) -> None:
        """Keep the points that those which can be seen name."""
        found = self._rows_of(rows)
        strange = np.argwhere(found < 0)
        if len(strange):
            at, corner = strange[0]
            there = f"ids from {self.first} to {self.last} are there"
            raise self.refused(f"{self.which(at)} names point {rows[at, corner]}, which is not there; {there}")
        flat = (found[:, 0] == found[:, 1]) | (found[:, 1] == found[:, 2]) | (found[:, 0] == found[:, 2])
        if flat.any():
            raise self.refused(f"{self.which(int(np.argmax(flat)))} names one point twice; a face has three corners")
        ended = self.count + len(rows)
        unseen = [each for each in self.invisible if each < ended]
        if unseen:
            found = np.delete(found, np.array(unseen) - self.count, axis=0)
            self.invisible = self.invisible[len(unseen) :]
            self.hidden += len(unseen)
        self.done.append(found)
        self.count = ended

    def _rows_of(self, ids: np.ndarray) -> np.ndarray:
        if self.table is not None:
            inside = (ids >= self.first) & (ids <= self.last)
            return np.where(inside, self.table[np.where(inside, ids - self.first, 0)], np.int32(-1))
        at = np.minimum(np.searchsorted(self.ranked, ids), len(self.ranked) - 1)
        return np.where(self.ranked[at] == ids, self.order[at], np.int32(-1))
