"""Every format that is read or written, found through the plugins: what it keeps, and what it loses."""

from collections.abc import Iterable
from dataclasses import dataclass

from geoqa import plugins
from geoqa.model.format import Format

DOORS = {"readers": "read", "writers": "written", "pages": "written"}
"""Group of plugins to what is done with such files."""
UNSAID = "its package does not say"


@dataclass(frozen=True, kw_only=True)
class InstalledFormat:
    """One reader, writer or page.

    Attributes
    ----------
    done : {"read", "written"}
    names : tuple of str
        As a job file calls it: of a reader its role with each ending, of a writer its name.
    title, keeps, loses : str
    package : str
        Who brings it, with its version.
    """

    done: str
    names: tuple[str, ...]
    title: str
    keeps: str
    loses: str
    package: str


def every_format() -> tuple[InstalledFormat, ...]:
    """All of them, ours first, readers before writers; tables in memory are no format.

    Raises
    ------
    PluginError
        A package cannot be loaded.
    """
    found = []
    for group, done in DOORS.items():
        names: dict[type, list[str]] = {}
        for name in plugins.declared(group):
            made = plugins.load(group, name)
            if not getattr(made, "in_memory", False):
                names.setdefault(made, []).append(name)
        found += [_installed(made, group, done, mine) for made, mine in names.items()]
    return tuple(found)


def _installed(made: type, group: str, done: str, names: Iterable[str]) -> InstalledFormat:
    mine = tuple(sorted(names))
    said: Format | None = getattr(made, "format", None)
    does = (made.__doc__ or "").strip().split("\n")[0].rstrip(".")
    if said is None:
        said = Format(title=does or made.__name__, keeps=UNSAID, loses=UNSAID)
    return InstalledFormat(
        done=done,
        names=mine,
        title=said.title if "format" in vars(made) or not does else does,  # a record may be inherited
        keeps=said.keeps,
        loses=said.loses,
        package=plugins.owner(group, mine[0]),
    )


def format_page(formats: Iterable[InstalledFormat]) -> str:
    """The formats as a page of the documentation."""
    rows = list(formats)
    parts = [
        "# Formats\n\nMade from the record `format` beside each reader, writer and page; `geoqa formats` prints the "
        "same, with those that other packages bring.\n"
    ]
    for done, head in (("read", "Read"), ("written", "Written")):
        parts.append(f"## {head}\n\n| name in the job | what it is | keeps | loses |\n|---|---|---|---|")
        for each in rows:
            if each.done == done:
                names = ", ".join(f"`{name}`" for name in each.names)
                parts.append(f"| {names} | {each.title} | {each.keeps} | {each.loses} |")
        parts.append("")
    return "\n".join(parts)
