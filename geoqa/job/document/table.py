"""What every table of a job file shares."""

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict

from geoqa.job.document.bounds import usable_path

FilePath = Annotated[str, AfterValidator(usable_path)]


class Table(BaseModel):
    """A table of the job file: frozen, and without keys nobody knows."""

    model_config = ConfigDict(frozen=True, extra="forbid")
