"""Every file of a folder: what it is taken for, and of those that are left out, why and what would settle it."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from geoqa import plugins
from geoqa.errors import GeoqaError, LinesAboveError
from geoqa.job.begin.comment import one_line, printable
from geoqa.job.document.quoted import quoted
from geoqa.model.source import Peek, Reader

DEEPEST = 3
"""Folders below the one that is looked at."""
_PAPER = "a document, of which nothing is read; limits and notes in it are typed into this file, tables exported as CSV"
_PACKED = "packed files, which are not opened; unpack what the job is to have"
_OWN = "a drawing in its program's own format; save it as DXF"
_IFC = "IFC is not read: no library that geoqa keeps reads its alignments; export them as LandXML"
DOCUMENTS = (
    {"ifc": _IFC, "ifczip": _IFC, "dwg": _OWN, "dgn": _OWN}
    | dict.fromkeys(("pdf", "doc", "docx", "odt", "rtf", "ppt", "pptx"), _PAPER)
    | dict.fromkeys(("zip", "gz", "7z", "rar", "tgz", "kmz"), _PACKED)
)
"""Endings of files that nothing is taken from, with why."""
MOST_FILES = 500
"""Files that are opened; a folder with more is no job's own."""
JOB_FILE = "job.toml"
HEAD = 4_096
"""Bytes by which text is told from anything else."""
ROLES_OF_TEXT = (
    "baseline", "profile", "control", "codes", "screening", "check_policy", "levels", "structures", "section",
    "readings", "design", "shots",
)  # fmt: skip
"""Roles a delimited file may have, the surest to tell first."""
NEEDED = {
    "control": {"mark"},
    "codes": {"code", "kind"},
    "screening": {"field", "worst"},
    "check_policy": {"rule", "limit"},
    "design": {"kind"},
}
"""Columns whose own names show what a file is."""
HOLDS = {
    "baseline": {"easting", "northing", "station"},
    "profile": {"station", "elevation"},
    "levels": {"backsight", "foresight"},
    "structures": {"structure", "pipe", "measure_down"},
    "section": {"line", "from_station", "to_station", "width"},
    "readings": {"place", "value"},
}
"""Our columns, by whatever words, that show what a file is."""
_OF_PLACE = re.compile(
    r"^\s*[enxy]\s*($|\()|(?<![a-z])(easting|northing|east|north|latitude|longitude)(?![a-z])", re.IGNORECASE
)
"""Headings of columns that a table of readings does not have: with them it is one of shots."""
CURVES = {
    "baseline": {"radius", "spiral", "spiral_in", "spiral_out", "length", "azimuth"},
    "profile": {"curve", "curve_in", "curve_out"},
}
"""Our columns, of which one at least shows that a table with stations is of an alignment, and not of points shot."""
LEVELLED_PER = "mile", 'or "km": the length that closure is stated for'
OF_ELEMENTS = (".xml",)
"""Endings of formats that hold points and design in one file; where its points are doubted as shots, it is design."""
_LEVEL = re.compile(r"elev|height|hgt|\bht\b|level|altitude|\bz\b|\brl\b", re.IGNORECASE)
_OF_ROD = re.compile(r"rod|pole|antenna|instrument|target|geoid|\bhi\b", re.IGNORECASE)
_AS_TEXT = (".csv", ".txt", ".tab")
_MARKS = re.compile(r"control|ctrl|(?<![a-z])ctl(?![a-z])|mark|monument|benchmark|\bbm\b", re.IGNORECASE)
_COMPANIONS = (".shx", ".dbf", ".prj", ".cpg", ".qix", ".sbn", ".sbx", ".tfw", ".pgw", ".jgw", ".gpkg-wal", ".gpkg-shm")


@dataclass(frozen=True)
class Found:
    """A file, the role it seems to have, and what its head says.

    Attributes
    ----------
    path, shown, role : Path, str, str
    peek : Peek
    use : str
        Name of its reader where its suffix does not tell; else empty.
    options : dict of str to str
        Lines of the job that this file needs to be read, as they are written, each with why.
    why : str
        What else speaks for the role.
    asks : dict of str to str
        Keys of its table that only a person can tell, each with why and what it may be.
    trouble : str
        What keeps the whole file from being read, though its head is in order.
    """

    path: Path
    shown: str
    role: str
    peek: Peek
    use: str = ""
    options: dict[str, tuple[object, str]] = field(default_factory=dict)
    why: str = ""
    asks: dict[str, str] = field(default_factory=dict)
    trouble: str = ""

    def reader(self) -> Reader:
        """The reader, with the options that are drafted."""
        name = self.use or f"{self.role}.{self.path.suffix.lower().removeprefix('.')}"
        of = plugins.load("readers", name)
        own = {key: value for key, (value, _) in self.options.items() if key in of.model_fields}
        made: Reader = of.model_validate(own)
        return made


@dataclass(frozen=True)
class LeftOut:
    """A file that is in no table of the draft: why, and the lines that would take it in.

    Attributes
    ----------
    shown, why : str
    settles : tuple of str
        Lines of a job file.
    """

    shown: str
    why: str
    settles: tuple[str, ...] = ()


@dataclass(frozen=True)
class Listing:
    """Every file of a folder, each once."""

    found: tuple[Found, ...]
    left: tuple[LeftOut, ...] = ()
    parts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Of a file that is read together with others, their names."""


def look(folder: Path) -> Listing:
    """List every file of a folder with what it is taken for; none is left out without a word."""
    found: list[Found] = []
    left: list[LeftOut] = []
    parts: dict[str, tuple[str, ...]] = {}
    names = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    for count, path in enumerate(_files(folder, left), start=1):
        shown = path.relative_to(folder).as_posix()
        if count > MOST_FILES:
            left.append(LeftOut("…", f"more than {MOST_FILES}; the rest was not looked at"))
            break
        if (other := _companion_of(shown, names)) is not None:
            parts[other] = (*parts.get(other, ()), path.name)
            continue
        taken = _taken_for(path, shown)
        (found if isinstance(taken, Found) else left).append(taken)  # type: ignore[arg-type]
    if not any(file.role == "shots" for file in found):
        found = [_shots_after_all(file) for file in found]
    return Listing(tuple(found), tuple(left), parts)


def _shots_after_all(file: Found) -> Found:
    """A list without a header that only its name calls control, in a folder that has no other shots."""
    if file.role != "control" or file.peek.columns[:1] != ("1",):
        return file
    shots = _text_file(file.path, file.shown, ["shots"], use=bool(file.use))
    return shots if isinstance(shots, Found) else file


def _files(folder: Path, left: list[LeftOut]) -> Iterator[Path]:
    """Files that are looked into; what lies in a folder of results, or too deep, is told once a folder."""
    aside: dict[str, int] = {}
    for path in sorted(folder.rglob("*")):
        if not path.is_file():
            continue
        parts = path.relative_to(folder).parts
        hidden = next((at for at, part in enumerate(parts) if part.startswith(".")), None)
        if len(parts) > 1 and parts[0] == "out":
            aside["out/: results, not looked into"] = aside.get("out/: results, not looked into", 0) + 1
        elif hidden is not None:
            aside["hidden, name begins with a dot"] = aside.get("hidden, name begins with a dot", 0) + 1
        elif len(parts) > DEEPEST:
            top = "/".join(parts[:DEEPEST])
            why = f"{top}/: more than {DEEPEST} folders deep, not looked into"
            aside[why] = aside.get(why, 0) + 1
        elif parts != (JOB_FILE,):
            yield path
    for why, count in aside.items():
        left.append(LeftOut(f"{count} {'file' if count == 1 else 'files'}", why))


def _companion_of(shown: str, names: set[str]) -> str | None:
    """The file that this one is only a part of."""
    path = Path(shown)
    if path.suffix.lower() not in _COMPANIONS:
        return None
    stem = shown[: len(shown) - len(path.suffix)]
    whole = (f"{stem}{suffix}" for suffix in (".shp", ".SHP", ".gpkg", ".tif", ".png", ".jpg", ".jp2"))
    return next((each for each in whole if each in names), None)


def _taken_for(path: Path, shown: str) -> Found | LeftOut:
    if (odd := _odd_sign(path.name)) is not None:
        where, sign = odd
        why = (
            f"its name has a sign that is not plain text, U+{ord(sign):04X} at place {where}; "
            "a copy under a plain name can be named in the job"
        )
        return LeftOut(printable(shown), why)
    suffix = path.suffix.lower().removeprefix(".")
    if suffix == "toml":
        return LeftOut(shown, "a job file, or other settings")
    declared = plugins.declared("readers")
    roles = [role for role in (*ROLES_OF_TEXT, "background") if role not in CURVES]
    own = [role for role in roles if f"{role}.{suffix}" in declared]
    if "background" in own:
        return _picture(path, shown, suffix)
    if f".{suffix}" in OF_ELEMENTS:
        points = _text_file(path, shown, [role for role in ("control", "shots") if role in own])
        return points if isinstance(points, Found) else _design_file(path, shown, suffix)
    if own and own != ["design"]:
        return _text_file(path, shown, ROLES_OF_TEXT if f".{suffix}" in _AS_TEXT else own)
    if own:
        return _design_file(path, shown, suffix)
    if suffix in DOCUMENTS:
        return LeftOut(shown, f"no reader takes .{suffix}: {DOCUMENTS[suffix]}")
    if (reason := not_text(path)) is not None:
        return LeftOut(shown, f"no reader takes {'.' + suffix if suffix else 'a file without ending'}: {reason}")
    taken = _text_file(path, shown, ROLES_OF_TEXT, use=True)
    if isinstance(taken, LeftOut):
        return replace(taken, why=f"no reader takes .{suffix}, and read as delimited text: {taken.why}")
    return taken


def _picture(path: Path, shown: str, suffix: str) -> LeftOut:
    """A picture, or a raster of numbers that are no colours: it may be a design surface."""
    declared = plugins.declared("readers")
    if f"design.{suffix}" in declared:
        try:
            evidence = plugins.load("readers", f"background.{suffix}")().peek(path).evidence
        except Exception:  # whatever a format library raises over a strange file, it is the file
            evidence = ()
        if any("values float" in str(each) for each in evidence):
            why = "a raster of numbers; elevations of a design surface, which a kind with surface = is compared with?"
            return LeftOut(shown, why, ("[[design]]", f"file = {quoted(shown)}", 'unit = "…"'))
    why = "a picture; nothing is measured on it, and it lies under the map only where a table names it"
    return LeftOut(shown, why, ("[background]", f"file = {quoted(shown)}", 'caption = "…"'))


def _odd_sign(name: str) -> tuple[int, str] | None:
    return next(((at, sign) for at, sign in enumerate(name, start=1) if not sign.isprintable()), None)


def not_text(path: Path) -> str | None:
    """Why a file of unknown ending is no text; None where it is."""
    try:
        with path.open("rb") as file:
            head = file.read(HEAD)
    except OSError as error:
        return f"it cannot be opened ({error.strerror})"
    if not head.strip():
        return "it is empty"
    if b"\0" in head:
        return "it is not plain text"
    return (
        None
        if any(mark in head for mark in b",;\t| ") and any(48 <= each < 58 for each in head)
        else "it holds no table"
    )


def _text_file(path: Path, shown: str, roles: tuple[str, ...] | list[str], *, use: bool = False) -> Found | LeftOut:
    """The first role whose own columns a delimited file has; else what keeps it from being shots."""
    troubles: dict[str, str] = {}
    declared = plugins.declared("readers")
    for role in roles:
        suffix = path.suffix.lower().removeprefix(".")
        named = f"{role}.{suffix}"
        name = (
            named
            if named in declared
            else next((f"{role}{each}" for each in _AS_TEXT if f"{role}{each}" in declared), "")
        )
        if not name:
            continue
        try:
            peek, skipped = _below_titles(name, path)
        except GeoqaError as error:
            troubles[role] = one_line(error)
            continue
        except (OSError, ValueError) as error:
            troubles[role] = f"cannot be read: {one_line(error)}"
            continue
        if peek.doubt and path.suffix.lower() in OF_ELEMENTS:
            troubles[role] = one_line(peek.doubt)
            continue
        if role == "shots" and peek.doubt:
            return LeftOut(shown, one_line(peek.doubt), ("[[shots]]", f"file = {quoted(shown)}"))
        known = NEEDED.get(role, set()) <= {each.casefold() for each in peek.columns}
        known = known and HOLDS.get(role, set()) <= set(peek.holds) and _curved(role, peek)
        known = known and not (role == "readings" and any(map(_OF_PLACE.search, peek.columns)))
        if known or named_as_control(role, shown, peek):
            use_said = name if use or name != named else ""
            return Found(
                path, shown, role, peek, use=use_said, asks=_asks(role, peek), options=_stated(role) | skipped,
                why=_no_elevation(role, peek),
            )  # fmt: skip
    meant = _meant(shown, troubles)
    settles = ("[[shots]]",) if meant == "shots" else (f"[{meant}]",)
    asked = (*settles, f"file = {quoted(shown)}", *((f'use = "{meant}.txt"',) if use else ()))
    why = troubles.get(meant, "its columns are those of no role")
    return LeftOut(shown, why, asked)


def _curved(role: str, peek: Peek) -> bool:
    """Whether a table with stations is of an alignment or a profile; shots have codes, and bear no curves."""
    return role not in CURVES or (bool(CURVES[role] & set(peek.holds)) and "code" not in _words_of(peek))


def _words_of(peek: Peek) -> set[str]:
    return {each.strip().casefold() for each in peek.columns}


def _asks(role: str, peek: Peek) -> dict[str, str]:
    """What only a person can tell: of level notes what they may miss, of readings what they are of and how sure."""
    if role == "readings":
        return _of_readings(peek)
    if role != "levels":
        return {}
    asks = {
        "closure": 'misclosure that is allowed over one per, e.g. "0.05 ft"; it grows with the root of the length',
        "reference": "where the allowed misclosure is written",
    }
    if "distance" not in peek.holds:
        asks["setup_length"] = 'the notes have no distance: length between turning points, both sights, e.g. "200 ft"'
    return asks


def _below_titles(name: str, path: Path) -> tuple[Peek, dict[str, tuple[object, str]]]:
    """The head of a table, and the lines of a job that leave out what stands above its header."""
    reader = plugins.load("readers", name)
    try:
        return reader().peek(path), {}
    except LinesAboveError as error:
        options: dict[str, tuple[object, str]] = {"skip": (error.skip, "lines above the header, blank ones counted")}
        if error.sheet:
            options["sheet"] = (error.sheet, "the sheet whose header stands below titles")
    return reader.model_validate({key: value for key, (value, _) in options.items()}).peek(path), options


def _stated(role: str) -> dict[str, tuple[object, str]]:
    """Lines of the job that are usual, open to see."""
    return {"per": LEVELLED_PER} if role == "levels" else {}


def _no_elevation(role: str, peek: Peek) -> str:
    """A question where no column of shots is known as elevation, and the heading of one says that it may be it."""
    if role != "shots" or "elevation" in peek.holds or not peek.places:
        return ""
    free = [name for at, name in enumerate(peek.columns) if at not in peek.places]
    may_be = next((name for name in free if _LEVEL.search(name) and not _OF_ROD.search(name)), "")
    if not may_be:
        return ""
    stated = f"columns = {{ elevation = {quoted(may_be)} }}"
    return f"QUESTION: no column is known as elevation; is it {quoted(may_be)}? Then: {stated}"


def _of_readings(peek: Peek) -> dict[str, str]:
    at = peek.places[peek.holds.index("value")]
    written = [row[at] for row in peek.rows if row[at]]
    heading = peek.columns[at]
    said = next((each.answer for each in peek.evidence if each.what == "unit of value"), "")
    slopes = said == "%" or "slope" in heading.casefold()
    slopes = slopes or sum("%" in each or ":" in each for each in written) * 2 > len(written)
    what = ("cross-slope", "running-slope, ramp-slope, counter-slope") if slopes else ("clear-width", "turning-space")
    if slopes and re.search(r"run|long", heading, re.IGNORECASE):
        what = ("running-slope", "cross-slope, ramp-slope, counter-slope")
    example = written[0] if written else "-"
    bare = written and not said and all(re.fullmatch(r"[+-]?[\d.]+", each) for each in written)
    asked = {"number_unit": f'the unit of {quoted(heading)}: "%", "in", "ft" …; neither it nor {example} says one'}
    said_what = f"or {what[1]} …: the check that the readings are of, e.g. {example}"
    return {
        **(asked if bare else {}),
        "what": f'"{what[0]}"? {said_what}',
        "u": f"1 sigma of one reading, e.g. {quoted('0.1 %' if slopes else '1/8 in')}",
    }


def _meant(shown: str, troubles: dict[str, str]) -> str:
    """The role whose trouble is worth telling: the one its name says, else shots."""
    stem = Path(shown).stem.casefold()
    if "control" in troubles and _MARKS.search(stem):
        return "control"
    if "codes" in troubles and "code" in stem:
        return "codes"
    return "shots"


def named_as_control(role: str, shown: str, peek: Peek) -> bool:
    """A list of marks looks like one of shots, so there the file's name decides; the draft says so."""
    there = {"mark", "easting", "northing"} <= set(peek.holds)
    return role == "control" and there and _MARKS.search(Path(shown).stem) is not None


def _design_file(path: Path, shown: str, suffix: str) -> Found | LeftOut:
    try:
        peek = plugins.load("readers", f"design.{suffix}")().peek(path)
    except GeoqaError as error:
        return LeftOut(shown, one_line(error), ("[[design]]", f"file = {quoted(shown)}"))
    except Exception as error:  # whatever a format library raises over a strange file, it is the file
        said = one_line(error) or type(error).__name__
        return LeftOut(shown, f"cannot be read as design: {said}", ("[[design]]", f"file = {quoted(shown)}"))
    return Found(path, shown, "design", peek)
