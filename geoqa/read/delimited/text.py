"""Bytes of a text file to UTF-8 with one kind of line end, and how the encoding was told."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass
from os import PathLike
from pathlib import Path

from geoqa.errors import SourceError
from geoqa.model.source import Evidence

LONGEST_LINE = 1_000_000
"""Bytes; a longer line is no table."""

_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_SIGNATURES = (
    (b"PK\x03\x04", "a zip archive, or a spreadsheet workbook; a workbook is read where its name ends in .xlsx"),
    (b"%PDF", "a PDF document; a table in it must be exported as CSV first"),
    (b"SQLite format 3\x00", "a database file, perhaps a GeoPackage; name it as [[design]]"),
    (b"\x1f\x8b", "compressed; unpack it first"),
)


@dataclass(frozen=True, kw_only=True)
class Text:
    """A text file, decoded.

    Attributes
    ----------
    data : bytes
        UTF-8, every line ended by one line feed; a line keeps its number.
    encoding : str
        What the file was written in.
    evidence : tuple of Evidence
    """

    data: bytes
    encoding: str
    evidence: tuple[Evidence, ...]


def existing(path: str | PathLike[str]) -> Path:
    """Give the path of a file that is there.

    Raises
    ------
    SourceError
        There is no such file, or it is a folder.
    """
    path = Path(path)
    if path.is_dir():
        raise SourceError(f"'{path.name}' is a folder; name the file in it.")
    if not path.exists():
        raise SourceError(
            f"There is no file '{path.name}' in {path.parent}; check its name, paths count from the job file."
        )
    return path


def read_text(path: str | PathLike[str], *, encoding: str | None = None, at_most: int | None = None) -> Text:
    """Read a text file as UTF-8 with line feeds.

    A byte order mark decides; else strict UTF-8; else Windows-1252, and the evidence quotes the
    first place that is not UTF-8. A stated `encoding` is used as it is.

    Parameters
    ----------
    path : path-like
    encoding : str, optional
    at_most : int, optional
        Look at so many bytes only, cut at a line end.

    Raises
    ------
    SourceError
        Missing, empty or binary file, unknown encoding, or bytes that do not fit it.
    """
    path = existing(path)
    try:
        with path.open("rb") as file:
            data = file.read() if at_most is None else file.read(at_most)
    except OSError as error:
        raise SourceError(f"'{path.name}' cannot be opened: {error.strerror}; is another program holding it?") from None
    for mark, what in _SIGNATURES:
        if data.startswith(mark):
            raise SourceError(f"'{path.name}' is no text: it is {what}.")
    whole = at_most is None or len(data) < at_most
    wide = encoding is not None or any(data.startswith(mark) for mark, code in _MARKS if code != "utf-8")
    if not wide:
        _refuse_nul(path.name, data)
    data, used, why = _decoded(path.name, data, encoding, whole)
    _refuse_nul(path.name, data)
    data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").rstrip(b"\x1a")
    if not re.search(rb"\S", data):
        raise SourceError(f"'{path.name}' is empty; export it again.")
    evidence = [Evidence(what="encoding", answer=used, because=why)]
    if whole and not data.endswith(b"\n"):
        evidence.append(
            Evidence(what="end of file", answer="no line end", because="if the file was cut, its last row may be short")
        )
    if not data.endswith(b"\n"):
        data += b"\n"
    if not whole:
        data = data[: data[:-1].rfind(b"\n") + 1] or data
    return Text(data=data, encoding=used, evidence=tuple(evidence))


def _refuse_nul(name: str, data: bytes) -> None:
    if b"\x00" in data:
        line = data.count(b"\n", 0, data.index(b"\x00")) + 1
        raise SourceError(
            f"'{name}' has a NUL byte in line {line}, so it is binary or UTF-16 without its mark; "
            'export it as text, or set encoding = "utf-16-le".'
        )


def _decoded(name: str, data: bytes, stated: str | None, whole: bool) -> tuple[bytes, str, str]:
    marked = next(((mark, code) for mark, code in _MARKS if data.startswith(mark)), None)
    if stated is not None:
        try:
            "".encode(stated)
            used = codecs.lookup(stated).name
        except (LookupError, UnicodeError):
            raise SourceError(
                f"No encoding named '{stated}'; use for example utf-8, cp1252, latin-1 or utf-16."
            ) from None
        if marked is not None and (used == marked[1] or marked[1].startswith(used)):
            data, used = data[len(marked[0]) :], marked[1]
        return _recoded(name, data, used, whole), used, "stated in the job"
    if marked is not None:
        mark, used = marked
        return _recoded(name, data[len(mark) :], used, whole), used, "byte order mark"
    if data.isascii():
        return data, "utf-8", "plain ASCII"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        if not whole and error.start > len(data) - 4:
            return data[: error.start], "utf-8", "every byte fits"
        place = _quoted(data, error.start)
        return _recoded(name, data, "cp1252", whole), "cp1252", f"not UTF-8 at {place}"
    return data, "utf-8", "every byte fits"


def _recoded(name: str, data: bytes, encoding: str, whole: bool) -> bytes:
    try:
        text = codecs.getincrementaldecoder(encoding)("strict").decode(data, final=whole)
    except UnicodeDecodeError as error:
        raise SourceError(
            f"'{name}' is not {encoding} at {_quoted(data, error.start)}; set encoding = to what it was written in."
        ) from None
    return text.encode("utf-8")


def _quoted(data: bytes, place: int) -> str:
    line = data.count(b"\n", 0, place) + 1
    return f"line {line}, bytes {data[max(0, place - 12) : place + 4]!r}"
