"""Each file of a job as its reader gives it, with what the job declares for it."""

from collections.abc import Collection, Iterable
from typing import Any

from geoqa.errors import GeoqaError, OrderError, SourceError
from geoqa.frames.files.reading import FileAsRead
from geoqa.frames.moving.convert import ACCURACY_LIMIT
from geoqa.frames.moving.local_origin import LocalOrigin, on_the_grid
from geoqa.job.execute import Progress, silent
from geoqa.job.inputs.column_order import Unsettled, settled
from geoqa.job.inputs.named_files import Input
from geoqa.model.frame import Frame
from geoqa.model.quantity import METRE, length_unit
from geoqa.model.source import Source


def read_one(file: Input) -> Source:
    """Read one file, with its name in every message."""
    if not file.in_memory and not file.path.exists():
        raise SourceError(
            f"{file.shown}: there is no such file (looked for {file.path.name} in "
            f"{file.path.parent.name or file.path.parent}). Paths start from the job file's folder."
        )
    if not file.in_memory and not file.path.is_file():
        raise SourceError(f"{file.shown}: is not a file; name the file itself.")
    source: Source = file.table.reader.read(file.path, source=file.source)
    return source


def read_files(
    files: Iterable[Input],
    frame: Frame | None,
    *,
    needed: Collection[str] | None = None,
    progress: Progress = silent,
) -> list[FileAsRead]:
    """Read files, with what the job declares for them; those without a header are read after the others.

    Parameters
    ----------
    files : iterable of Input
    frame : Frame or None
        The job's; None where it is not known.
    needed : collection of str, optional
        Roles whose files must be readable; any other that cannot be read is left out. All, without.
    progress : callable

    Raises
    ------
    SourceError
        A needed file cannot be read; `OrderError` where the order of its columns cannot be told.
    """
    files = list(files)
    read: dict[int, FileAsRead] = {}
    open_orders: dict[int, Unsettled] = {}
    for at, each in enumerate(files):
        progress(f"reading {each.shown}", at, len(files))
        try:
            read[at] = _declared(each, read_one(each))
        except OrderError as error:
            open_orders[at] = _unsettled(each, error)
        except GeoqaError:
            if needed is None or each.role in needed:
                raise
    others, names = list(read.values()), [one.file.name for one in open_orders.values()]
    for at, one in open_orders.items():
        try:
            (read[at],) = settled([one], others, frame, names)
        except GeoqaError:
            if needed is None or files[at].role in needed:
                raise
    return [read[at] for at in sorted(read)]


def _unsettled(file: Input, error: OrderError) -> Unsettled:
    """A file whose columns can stand in two orders."""

    def in_order(order: tuple[str, ...], because: str) -> Source:
        source: Source = file.table.reader.in_order(order, because).read(file.path, source=file.source)
        return source

    return Unsettled(_declared(file, Source(layers={})), error, in_order)


def local_origin(table: Any) -> LocalOrigin | None:
    """The origin of its own that the job states for a file."""
    stated = getattr(table, "local", None)
    return None if stated is None else LocalOrigin(**stated.model_dump())


def _declared(file: Input, source: Source) -> FileAsRead:
    """A file as it was read, with what the job declares for it; one about an origin of its own is put on the grid."""
    table = file.table
    if (local := local_origin(table)) is not None:
        source = on_the_grid(source, local)
    return FileAsRead(
        role=file.role,
        name=file.shown,
        source=source,
        key=file.source,
        declared=table.frame,
        unit=length_unit(table.unit) if table.unit else None,
        vertical=table.vertical,
        heights=getattr(table, "heights", "orthometric"),
        ground=table.ground,
        epoch=table.epoch,
        accuracy_limit=table.accuracy.to(METRE) if table.accuracy else ACCURACY_LIMIT,
        accept=table.accept,
        accept_operation=table.accept_operation,
        geoid=table.geoid,
    )
