"""The one door for readers, steps, checks, words, writers and pages, ours and a stranger's.

A plugin is an entry point in one of six groups. Listing them imports nothing;
loading one imports that one. Two owners of one name are an error, because which
of them won would otherwise depend on the order in which packages were installed.
"""

import importlib
from contextlib import suppress
from difflib import get_close_matches
from functools import cache
from importlib.metadata import Distribution, EntryPoint, entry_points
from typing import Any

from geoqa.errors import GeoqaError, PluginError

GROUPS = ("readers", "steps", "checks", "words", "writers", "pages", "rounds")


@cache
def declared(group: str) -> dict[str, EntryPoint]:
    """List the plugins of one group without importing any.

    Parameters
    ----------
    group : {"readers", "steps", "checks", "words", "writers", "pages"}

    Returns
    -------
    dict of str to EntryPoint
        Sorted by name.

    Raises
    ------
    PluginError
        Two packages claim one name.

    Examples
    --------
    >>> "offsets" in declared("steps")
    True
    """
    if group not in GROUPS:
        raise PluginError(f"No plugin group '{group}'; the groups are {', '.join(GROUPS)}.")
    found: dict[str, EntryPoint] = {}
    for entry in sorted(entry_points(group=f"geoqa.{group}"), key=lambda each: (each.name, each.value)):
        rival = found.get(entry.name)
        if rival is not None and rival.value != entry.value:
            raise PluginError(
                f"Two packages provide the {group[:-1]} '{entry.name}': {_owner(rival)} ({rival.value}) and "
                f"{_owner(entry)} ({entry.value}). Uninstall one of them."
            )
        found[entry.name] = entry
    return found


def load(group: str, name: str) -> Any:
    """Import one plugin, by the name a job file uses.

    Raises
    ------
    PluginError
        No plugin has that name, or it cannot be imported; the message names its owner.
    """
    known = declared(group)
    if name not in known:
        close = get_close_matches(name, known, 1, cutoff=0.75)
        guess = f" Did you mean {close[0]}?" if close else ""
        raise PluginError(f"No {group[:-1]} named '{name}'.{guess} Installed: {', '.join(known) or 'none'}.")
    entry = known[name]
    try:
        made: Any = imported(entry.module, entry.attr)
    except Exception as error:
        trouble = str(error).rstrip(".") if isinstance(error, GeoqaError) else repr(error)
        raise PluginError(
            f"The {group[:-1]} '{name}' ({entry.value}, from {_owner(entry)}) cannot be imported: {trouble}. "
            "Report this to the package that provides it."
        ) from error
    return made


def imported(module: str, attribute: str) -> Any:
    """Import a module by name and take something from it: the only place where that is done."""
    made: Any = importlib.import_module(module)
    for part in attribute.split("."):
        made = getattr(made, part)
    return made


def import_early(*modules: str) -> None:
    """Import modules before they are needed; what cannot be imported is told where it is used."""
    for name in modules:
        with suppress(ImportError):
            importlib.import_module(name)


def owner(group: str, name: str) -> str:
    """Name the package, with its version, that provides a plugin."""
    return _owner(declared(group)[name])


def _owner(entry: EntryPoint) -> str:
    return "an unknown package" if entry.dist is None else _package(entry.dist)


@cache
def _package(package: Distribution) -> str:
    """Name and version; a package's metadata is parsed anew whenever it is asked for either."""
    return f"{package.name} {package.version}"
