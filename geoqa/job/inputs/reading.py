"""Each file of a job as its reader gives it, with what the job declares for it."""

from geoqa.errors import SourceError
from geoqa.frames.files.reading import FileAsRead
from geoqa.frames.moving.convert import ACCURACY_LIMIT
from geoqa.job.inputs.named_files import Input
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


def read_file(file: Input) -> FileAsRead:
    """Read one file, with what the job declares for it."""
    table = file.table
    return FileAsRead(
        role=file.role,
        name=file.shown,
        source=read_one(file),
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
    )
