"""How a command ends: every error becomes a message and an exit code, in one place."""

import errno
import sys
import traceback
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NoReturn

import click

from geoqa import errors

FINDINGS, USAGE, REFUSED, OURS = 1, 2, 3, 4
STOPPED = 130
"""Of a command that was stopped by hand, as shells count it: 1 would say that there are findings."""

_CODES: tuple[tuple[type[errors.GeoqaError], int], ...] = (
    (errors.JobError, USAGE),
    (errors.PluginError, USAGE),
    (errors.CheckError, USAGE),
    (errors.PlanError, USAGE),
    (errors.QuantityError, USAGE),
    (errors.SourceError, REFUSED),
    (errors.FrameError, REFUSED),
    (errors.GeometryInputError, REFUSED),
    (errors.OutputError, REFUSED),
)


_OUTSIDE = {errno.ENOSPC, errno.EDQUOT, errno.EACCES, errno.EPERM, errno.EROFS, errno.EIO, errno.EMFILE,
            errno.ENAMETOOLONG, errno.ELOOP}  # fmt: skip
"""Troubles of disk and rights, which are nobody's mistake here."""


def code_of(kind: str) -> int:
    """Exit code of an error by the name of its class; that of our own fault where it is none of geoqa's.

    Examples
    --------
    >>> code_of("JobError"), code_of("AreaError"), code_of("KeyError")
    (2, 3, 4)
    """
    found = getattr(errors, kind, None)
    if not (isinstance(found, type) and issubclass(found, errors.GeoqaError)):
        return OURS
    return next((code for known, code in _CODES if issubclass(found, known)), OURS)


def code_of_counts(counts: Mapping[Any, Any], rows_left_out: int, allow_undecided: bool) -> int:
    """Exit code of a job that was judged; one in which nothing was has not passed.

    Examples
    --------
    >>> judged = {"OUT": 0, "UNDECIDED": 1, "NO_DATA": 0, "IN": 5}
    >>> code_of_counts(judged, 0, False), code_of_counts(judged, 0, True), code_of_counts({**judged, "IN": 0}, 2, True)
    (1, 0, 1)
    """
    bad = counts["OUT"] + counts["NO_DATA"] + (0 if allow_undecided else counts["UNDECIDED"]) + rows_left_out
    bad += not any(counts[verdict] for verdict in ("OUT", "UNDECIDED", "NO_DATA", "IN"))
    return FINDINGS if bad else 0


@contextmanager
def ending(*, debug: bool) -> Iterator[None]:
    """Turn errors into a message on standard error and an exit code."""
    try:
        yield
    except errors.GeoqaError as error:
        if debug:
            traceback.print_exc()
        code = next((code for kind, code in _CODES if isinstance(error, kind)), OURS)
        click.echo(f"geoqa: {error}", err=True)
        if code == OURS:
            click.echo("This is geoqa's fault, not yours. Please report it with the output of --debug.", err=True)
        sys.exit(code)
    except (KeyboardInterrupt, click.Abort):
        click.echo("\ngeoqa: stopped. What was written before stands whole.", err=True)
        sys.exit(STOPPED)
    except (click.ClickException, click.exceptions.Exit):
        raise
    except BrokenPipeError:
        sys.exit(0)
    except OSError as error:
        if debug:
            traceback.print_exc()
        if error.errno not in _OUTSIDE:
            _ours(error)
        place = f" ({Path(str(error.filename)).name})" if error.filename else ""
        click.echo(
            f"geoqa: the system refused: {error.strerror}{place}. "
            "Make room, give leave or take a shorter path, and run again.",
            err=True,
        )
        sys.exit(REFUSED)
    except Exception as error:
        if debug:
            traceback.print_exc()
        _ours(error)


def _ours(error: Exception) -> NoReturn:
    click.echo(f"geoqa: {type(error).__name__}: {error}", err=True)
    click.echo("This is geoqa's fault, not yours. Please report it with the output of --debug.", err=True)
    sys.exit(OURS)
