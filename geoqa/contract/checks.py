"""Every declared check by its name, through the plugin door; no step is imported for it."""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from geoqa import plugins
from geoqa.errors import CheckError, PluginError
from geoqa.model.check import Check, ToleranceKey, undeclared
from geoqa.model.reasons import SHARED


@cache
def every_check() -> Mapping[str, Check]:
    """All checks, in the order in which they are listed.

    Raises
    ------
    PluginError
        A check cannot be imported, or what is declared is none.
    CheckError
        It is declared under another name than its own, or two checks give one tolerance key two meanings.

    Examples
    --------
    >>> every_check()["offset"].directions
    ('left', 'right')
    """
    checks = []
    for name in plugins.declared("checks"):
        check = plugins.load("checks", name)
        if not isinstance(check, Check):
            raise PluginError(f"What {plugins.owner('checks', name)} declares as the check '{name}' is no Check.")
        if check.name != name:
            raise CheckError(
                f"The check '{check.name}' is declared as '{name}' by {plugins.owner('checks', name)}; "
                "the two names must be the same."
            )
        checks.append(check)
    found = {check.name: check for check in sorted(checks, key=lambda check: (check.order, check.name))}
    _refuse_two_meanings(found)
    return MappingProxyType(found)


def check_named(name: str) -> Check:
    """The check of that name; one that nobody declares is known by its name alone.

    Examples
    --------
    >>> check_named("elevation").title
    'Elevation against design'
    """
    return every_check().get(name) or undeclared(name)


@cache
def tolerance_keys() -> Mapping[str, ToleranceKey]:
    """Keys that may stand in ``[tolerance.KIND]``, each with its meaning.

    Examples
    --------
    >>> tolerance_keys()["vertical"].sides
    ('low', 'high')
    """
    return MappingProxyType({key.name: key for check in every_check().values() if (key := check.tolerance) is not None})


def readers_of(key: str) -> tuple[Check, ...]:
    """Checks whose limits come from a tolerance key.

    Examples
    --------
    >>> [check.name for check in readers_of("vertical")]
    ['elevation', 'invert', 'control-elevation']
    """
    return tuple(
        check for check in every_check().values() if check.tolerance is not None and check.tolerance.name == key
    )


@cache
def reason_texts() -> Mapping[str, str]:
    """Every reason in words, whichever check gives it.

    Examples
    --------
    >>> reason_texts()["no-elevation"]
    'the shot has no elevation'
    """
    own = [reason for check in every_check().values() for reason in check.reasons]
    return MappingProxyType({reason.name: reason.text for reason in (*SHARED, *own)})


def _refuse_two_meanings(checks: Mapping[str, Check]) -> None:
    first: dict[str, Check] = {}
    for check in checks.values():
        key = check.tolerance
        if key is None:
            continue
        rival = first.setdefault(key.name, check)
        if rival.tolerance != key or (rival.bound == "range") != (check.bound == "range"):
            raise CheckError(
                f"The checks '{rival.name}' ({plugins.owner('checks', rival.name)}) and '{check.name}' "
                f"({plugins.owner('checks', check.name)}) give the tolerance key '{key.name}' two meanings; "
                "one of them needs a key of another name."
            )
