"""Draft a job file from the files in a folder; every guess is a comment with its evidence."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from geoqa import plugins
from geoqa.errors import GeoqaError, JobError
from geoqa.model.source import Peek

FILE = "job.toml"
DEEPEST = 3
_ORDER = ("control", "codes", "screening", "check_policy", "shots")
_NEEDED = {"control": {"mark"}, "codes": {"code", "kind"}, "screening": {"field", "worst"}}
_NEEDED["check_policy"] = {"rule", "limit"}


@dataclass(frozen=True)
class Found:
    """A file, the role it seems to have, and what its head says."""

    path: Path
    role: str
    peek: Peek


def begin(folder: Path, *, frame: str | None = None, name: str | None = None, force: bool = False) -> Path:
    """Write a commented job file into `folder`.

    Raises
    ------
    JobError
        One is there already, or nothing in the folder can be read as shots.
    """
    path = folder / FILE
    if path.exists() and not force:
        raise JobError(f"{FILE} is already in {folder.name or 'this folder'}; use --force to replace it.")
    found = look(folder)
    if not any(each.role == "shots" for each in found):
        raise JobError(
            f"No file in {folder.name or 'this folder'} reads as collected points; put a delimited text file "
            "(.csv or .txt) with point, easting, northing, elevation and code there."
        )
    path.write_text(draft(found, folder, frame=frame, name=name), encoding="utf-8", newline="\n")
    return path


def look(folder: Path) -> list[Found]:
    """Find the files of a folder that some reader can read, and their likely role."""
    found = []
    for path in sorted(folder.rglob("*")):
        inside = path.relative_to(folder).parts
        if not path.is_file() or len(inside) > DEEPEST or any(part.startswith(".") or part == "out" for part in inside):
            continue
        if (each := _role(path)) is not None:
            found.append(each)
    return found


def _role(path: Path) -> Found | None:
    suffix = path.suffix.lower().removeprefix(".")
    declared = plugins.declared("readers")
    for role in (*_ORDER, "design"):
        reader = f"{role}.{suffix}"
        if reader not in declared:
            continue
        try:
            peek = plugins.load("readers", reader)().peek(path)
        except GeoqaError:
            continue
        if _NEEDED.get(role, set()) <= set(peek.columns):
            return Found(path, role, peek)
    return None


def draft(found: list[Found], folder: Path, *, frame: str | None, name: str | None) -> str:
    """The text of the job file."""
    title = (name or folder.resolve().name.replace("_", " ").title()).replace('"', "'")
    parts = [
        "# A geoqa job. Lines that start with # are comments; REQUIRED marks what only you can know.",
        f'[job]\nname = "{title}"\nrevision = ""          # design revision and date, as the drawing says it',
        "# [review]            # recorded by the licensee in responsible charge; until then pages say PRELIMINARY\n"
        '# by = "…"\n# on = 2026-01-31',
        _frame(found, frame),
    ]
    parts += [_table(each, folder) for each in sorted(found, key=lambda each: each.role != "shots")]
    parts += [_tolerances(found), _UNCERTAINTY, _OUTPUTS]
    return "\n\n".join(parts) + "\n"


def _frame(found: list[Found], frame: str | None) -> str:
    declared = sorted({f"{each.path.name} says {each.peek.crs[:80]}" for each in found if each.peek.crs})
    evidence = "".join(f"# {line}\n" for line in declared).replace('"', "'")
    horizontal = (
        f'horizontal = "{frame}"'
        if frame
        else 'horizontal = "REQUIRED"   # e.g. "EPSG:6547"; it says its own foot. An unlabelled foot is a question.'
    )
    return f'[frame]\n{evidence}{horizontal}\n# vertical = "EPSG:8228"   # e.g. NAVD88 height (ft)'


def _table(each: Found, folder: Path) -> str:
    header = f"[[{each.role}]]" if each.role in ("shots", "design") else f"[{each.role}]"
    lines = [header, f'file = "{each.path.relative_to(folder).as_posix()}"']
    lines += [f"# {_one_line(item)}" for item in each.peek.evidence]
    if each.role == "shots":
        lines.append('# confidence = "1 sigma"     # of the reported precisions: "1 sigma" or "95 %"')
    return "\n".join(lines)


def _one_line(item: object) -> str:
    return " ".join(str(item).split())[:200]


def _tolerances(found: Iterable[Found]) -> str:
    kinds: list[str] = []
    for each in found:
        if each.role == "codes" and "kind" in each.peek.columns:
            column = each.peek.columns.index("kind")
            kinds += [row[column] for row in each.peek.rows if len(row) > column and row[column] not in kinds]
    lines = ["# Tolerances: one table a kind; each needs the place it is written in. Nothing is judged without one."]
    for kind in kinds or ["curb-top"]:
        safe = "".join(mark for mark in kind if mark.isalnum() or mark in "-_")
        lines.append(
            f'# [tolerance.{safe}]\n# horizontal = "… ft"\n# vertical   = "… ft"\n# spacing    = "… ft"\n'
            '# reference  = "drawing and note, or clause"'
        )
    return "\n".join(lines)


_UNCERTAINTY = """# What one shot of your crew is worth, 1 sigma, if you know it better than the receiver's own report.
# [uncertainty.default]
# horizontal_random = "0.02 ft"
# vertical_random   = "0.02 ft"
# vertical_common   = "0.02 ft"
# reference = "repeats of …" """

_OUTPUTS = """[outputs]
folder = "out"
layers = ["gpkg", "geojson", "csv", "summary"]
pages  = ["map"]"""
