"""What a writer and a page are: frozen options and one method, `write`."""

from collections.abc import Mapping
from pathlib import Path
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
    steps: ClassVar[tuple[str, ...]] = ()
    """Steps beyond the default ones that make what it shows; a job that names the output runs them too."""

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
