"""A case: a file to be read, and what may differ from the sound one without a word."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from random import Random


@dataclass(frozen=True, kw_only=True)
class Damaged:
    """A damaged file.

    Attributes
    ----------
    how : str
        Name of the damage.
    write : callable
        Puts the file into a folder under a stem; gives the path to read.
    text : str
        What the file states, where it is text.
    rows : list of int, optional
        Rows of the sound table that this one still holds, in order, where nothing else was done.
    row : int, optional
        The only row that was damaged.
    columns : frozenset of str, optional
        Columns of it whose own text was changed; what stands in any other must be as it was. None: any may be.
    other : bool
        The whole file says something else, which no reader can know: each number of it must stand in the file.
    fewer : bool
        Whether there may be fewer things without a word: one was taken out whole.
    """

    how: str
    write: Callable[[Path], Path]
    text: str = ""
    rows: list[int] | None = None
    row: int | None = None
    columns: frozenset[str] | None = frozenset()
    other: bool = False
    fewer: bool = False


def written(suffix: str, files: Mapping[str, bytes | None]) -> Callable[[Path], Path]:
    """What puts files of one stem into a folder; the one of `suffix` is read."""

    def write(folder: Path) -> Path:
        for end, data in files.items():
            path = folder / f"a.{end}"
            if data is None:
                path.unlink(missing_ok=True)
            else:
                path.write_bytes(data)
        return folder / f"a.{suffix}"

    return write


ODD = [
    b"1e300",
    b"-1e308",
    b"nan",
    b"",
    b"9" * 400,
    b"\xff\xfe",
    b"\\ud800",
    b"null",
    b"[]",
    b"0x1F",
    b"\x00",
    b"1,5",
    b'"',
    b"\n",
    b"\r",
    b"\t",
    b";",
    b"-",
    b"{}",
    b"\xc3",
    b"\xef\xbb\xbf",
    b"  ",
    b"<!--",
    b"&#0;",
]


def bytes_damaged(draw: Random, data: bytes) -> tuple[str, bytes]:
    """One of seven damages of a file that ask not what it holds."""
    at = draw.randrange(max(1, len(data)))
    how = draw.choice(
        ("cut off", "piece lost", "bytes put in", "bytes changed", "odd word", "piece twice", "blank block")
    )
    if how == "cut off":
        return how, data[:at]
    if how == "piece lost":
        return how, data[:at] + data[at + draw.choice((1, 3, 20, 200, 2000)) :]
    if how == "bytes put in":
        return how, data[:at] + draw.randbytes(draw.randrange(1, 9)) + data[at:]
    if how == "bytes changed":
        changed = bytearray(data)
        for _ in range(draw.choice((1, 1, 2, 12))):
            changed[draw.randrange(len(data))] = draw.randrange(256)
        return how, bytes(changed)
    if how == "odd word":
        return how, data[:at] + draw.choice(ODD) + data[at + draw.choice((0, 1, 5)) :]
    if how == "piece twice":
        start = draw.randrange(len(data))
        return how, data[:at] + data[start : start + draw.choice((5, 50, 300))] + data[at:]
    size = draw.choice((4, 64, 512))
    return how, data[:at] + bytes(min(size, len(data) - at)) + data[at + size :]


@dataclass
class Table:
    """Header and rows of a table that is being damaged."""

    head: list[str]
    rows: list[list[str]] = field(default_factory=list)

    @classmethod
    def of(cls, rows: tuple[tuple[str, ...], ...]) -> "Table":
        """A copy."""
        return cls(list(rows[0]), [list(each) for each in rows[1:]])

    def text(self, mark: str = ",") -> str:
        """As a delimited text."""
        return "".join(mark.join(quoted(each, mark) for each in row) + "\n" for row in (self.head, *self.rows))


def quoted(cell: str, mark: str) -> str:
    """A cell as a delimited text has it."""
    return '"' + cell.replace('"', '""') + '"' if mark in cell or '"' in cell or "\n" in cell else cell
