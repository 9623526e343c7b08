"""What a writer and a page are: frozen options and one method, `write`."""

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, ClassVar

from pydantic import BaseModel, ConfigDict

from geoqa.model.format import Format
from geoqa.model.results import Results


class Output(BaseModel):
    """Base of every writer and page.

    It writes into the folder it is given and nowhere else; the job moves the files to their
    place when all of them are whole. It decides nothing: every number comes from a layer.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")
    name: ClassVar[str] = ""
    format: ClassVar[Format | None] = None
    """What its files keep and lose, for a person who chooses."""
    files: ClassVar[Mapping[str, str]] = MappingProxyType({})
    """What each file is that it may write, in a few words; a file that is not named is called as the format is."""
    steps: ClassVar[tuple[str, ...]] = ()
    """Steps beyond the default ones that make what it shows; a job that names the output runs them too."""
    effort: ClassVar[int] = 1
    """Tenths of a second it takes for a thousand shots: of several processes that write, the longest begins first."""
    imports: ClassVar[tuple[str, ...]] = ()
    """Modules that it imports when it writes: another process has them before it is asked to."""

    def says_of(self, file: str) -> str:
        """What one of its files is, in a few words."""
        title = self.format.title if self.format is not None else self.name
        return self.files.get(file, title)

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write `results` into `folder` (a path that exists); return the names of the files written."""
        raise NotImplementedError

    def read_back(self, results: Results, folder: Path) -> Mapping[str, Any]:
        """Open what `write` made and compare it with `results`; say what was compared, for the record.

        Raises
        ------
        OutputError
            A file gives back something else than was written.
        """
        return {}
