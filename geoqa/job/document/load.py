"""Read a job file; report everything that is wrong with it at once, with addresses."""

import os
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from geoqa.errors import JobError
from geoqa.job.document.bounds import LARGEST as LARGEST_NUMBER
from geoqa.job.document.bounds import too_large, too_much
from geoqa.job.document.file import UNSTATED, Job
from geoqa.job.document.format_version import held_to_format
from geoqa.job.document.input_tables import FOLDER
from geoqa.job.document.locate import locate
from geoqa.job.document.problems import place_of, sentence
from geoqa.job.document.shared_limits import each_kind
from geoqa.job.document.tolerance import tolerance_model
from geoqa.job.document.written import as_tables

NO_FRAME = (("frame",), ("frame", "horizontal"))

IN_MEMORY = "in memory"
"""Stands in the record where the name of a job file would."""

LARGEST = 1_000_000
"""Bytes; a larger job file is somebody's data."""


class FrameMissing(JobError):
    """A job file that does not say its coordinate system.

    Attributes
    ----------
    text : str
        The job file's text: whoever may open data can ask the files it names.
    """

    def __init__(self, message: str, text: str) -> None:
        super().__init__(message)
        self.text = text


@dataclass(frozen=True)
class LoadedJob:
    """A job file that holds together by itself: no data has been opened."""

    path: Path
    text: str
    job: Job
    in_code: bool = False

    @property
    def name(self) -> str:
        """What it is called in the record."""
        return f"{self.path.name}, changed in code" if self.in_code else self.path.name

    def changed(self, **tables: Any) -> "LoadedJob":
        r"""The same job with something else said in it; the file stays as it is, and paths start from its folder.

        Parameters
        ----------
        **tables : mapping, list or None
            Tables of the job file. Keys are laid over those that stand there, table by table; a list, and
            an input, takes the place of the one before it, and None takes a table out.

        Returns
        -------
        LoadedJob

        Raises
        ------
        JobError
            As `load`.

        Examples
        --------
        >>> import tempfile
        >>> from pathlib import Path
        >>> text = '[job]\nname = "A"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     file = Path(folder) / "job.toml"
        ...     _ = file.write_text(text)
        ...     other = load(file).changed(job={"revision": "B"}, decision={"rule": "simple"})
        >>> other.job.job.name, other.job.job.revision, other.job.decision.rule, other.name
        ('A', 'B', 'simple', 'job.toml, changed in code')
        """
        whole = _laid_over(_held(self.job), tables)
        job = validated(whole, name=f"{self.path.name}, changed in code,", folder=self.folder)
        return LoadedJob(self.path, job.to_toml(), job, in_code=True)

    @property
    def folder(self) -> Path:
        """The folder relative paths start from."""
        return self.path.parent

    def resolve(self, file: str) -> Path:
        """Path of a file the job names."""
        path = self.folder / file
        if "\\" in file and not path.exists():  # written where \ stands between folders
            path = self.folder / file.replace("\\", "/")
        return resolved(path)


def resolved(path: Path) -> Path:
    """A path without links, of names that are text: the libraries below take no other.

    Raises
    ------
    JobError
        A link leads back to itself, or a name is no text to this system.
    """
    try:
        whole = path.resolve()
    except (RuntimeError, OSError):
        raise JobError(f"{path.name}: is a link that leads back to itself, or nowhere; name the file itself.") from None
    for part in whole.parts:
        if (shown := as_text(part)) != part:
            what = "its name" if part == whole.name else f"the name of the folder {shown}"
            raise JobError(
                f"{as_text(path.name)}: {what} has a sign that this system does not take for text. Rename it; "
                "or, if other programs show it as it is meant, set LC_ALL to a locale that is installed here."
            )
    return whole


def as_text(name: str) -> str:
    r"""A name of a file as it can be written down: what stands for a byte that is no text becomes its number.

    Examples
    --------
    >>> as_text("pläne"), as_text("pl\udce4ne") == "pl" + chr(92) + "udce4ne"
    ('pläne', True)
    """
    return name.encode("utf-8", "backslashreplace").decode("utf-8")


def in_memory(job: Job) -> LoadedJob:
    """A job that was made in code; paths in it start from the current folder."""
    return LoadedJob(Path.cwd() / IN_MEMORY, job.to_toml(), job)


def _held(job: Job) -> dict[str, Any]:
    """A job's tables as they are said, with inputs and plugins that are made already left as they are."""
    made = (
        "shots", "control", "codes", "screening", "check_policy", "levels", "readings", "structures", "design",
        "right_of_way", "background", "rules", "steps",
    )  # fmt: skip
    tables = as_tables(job)
    return tables | {name: getattr(job, name) for name in made if name in tables}


def _laid_over(below: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    laid = dict(below)
    for name, value in above.items():
        old = laid.get(name)
        laid[name] = _laid_over(old, value) if isinstance(old, Mapping) and isinstance(value, Mapping) else value
    return {name: value for name, value in laid.items() if value is not None}


def load(path: str | Path) -> LoadedJob:
    """Read and validate a job file; of the files that it names only those of `[[rules]]` are opened.

    Parameters
    ----------
    path : str or Path

    Raises
    ------
    JobError
        With one line for every problem: address, line, what is wrong, what is allowed; `FrameMissing` where one
        of them is that no frame is stated.
    """
    path = resolved(Path(path))
    if os.path.isdir(path):
        raise JobError(
            f"{path.name} is a folder; name the job file in it (…/job.toml), or make one: geoqa init {path.name}"
        )
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise JobError(f"There is no job file {path.name} in {path.parent}. Make one with: geoqa init FOLDER") from None
    except OSError as error:
        raise JobError(
            f"The job file {path.name} cannot be read: {error.strerror}. Name the job file itself, such as job.toml."
        ) from error
    if len(raw) > LARGEST:
        raise JobError(
            f"{path.name} has {len(raw):,} bytes; a job file is TOML text of a few pages. Is this a data file?"
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise JobError(f"{path.name} is not UTF-8 text (byte {error.start}); save it as UTF-8.") from None
    return LoadedJob(path, text, parse(text, name=path.name, folder=path.parent))


def _advice(text: str, error: tomllib.TOMLDecodeError) -> str:
    """What to do about text that is no TOML: a path with backslashes is the usual trouble, else a missing quote."""
    found = re.search(r"at line (\d+)", str(error))
    lines = text.splitlines()
    line = lines[int(found[1]) - 1] if found and int(found[1]) <= len(lines) else ""
    if "\\" in line:
        return "Write paths with / between the folders, or in single quotes: file = 'shots\\day1.csv'."
    return 'Text needs quotes, e.g. horizontal = "EPSG:6547".'


def parse(text: str, *, name: str = "job", folder: Path | None = None) -> Job:
    """Validate the text of a job file; rule files that it names start from `folder`, else from the current one.

    Raises
    ------
    JobError
        As in `load`.
    """
    if trouble := too_much(text):
        raise JobError(f"{name}, {trouble}. No job file needs that; is this a file of something else?")
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise JobError(f"{name} is not valid TOML: {error}. {_advice(text, error)}") from None
    if at := next(too_large(table), None):
        where = place_of(at, table, locate(text))
        raise JobError(f"{name}: {where}: must be a whole number of at most {LARGEST_NUMBER - 1:,}")
    return validated(table, name=name, text=text, folder=folder)


def validated(table: Mapping[str, Any], *, name: str, text: str = "", folder: Path | None = None) -> Job:
    """Validate the tables of a job; `text` is where they stand, if they stand in one, and `folder` where that stands.

    Raises
    ------
    JobError
        As in `load`.
    PluginError, CheckError
        Tolerances are given, and a check that would say what they mean cannot be loaded: told once, not once a table.
    """
    held_to_format(table, locate(text), name=name)
    table, places = each_kind(table, locate(text), name=name)
    if table.get("tolerance"):
        tolerance_model()
    try:
        return Job.model_validate(table, context={FOLDER: folder or Path()})
    except ValidationError as error:
        lines = [sentence(each, table, places) for each in error.errors(include_url=False)]
        count = "1 problem" if len(lines) == 1 else f"{len(lines)} problems"
        message = f"{name} has {count}:\n" + "\n".join(f"  {line}" for line in lines)
        if any(_of_frame(each) for each in error.errors()):
            raise FrameMissing(message, text) from None
        raise JobError(message) from None


def _of_frame(error: ErrorDetails) -> bool:
    return error["type"] == UNSTATED or (error["type"] == "missing" and error["loc"] in NO_FRAME)
