"""How a command ends: every error becomes a message and an exit code, in one place."""

import errno
import sys
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

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
