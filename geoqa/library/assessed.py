"""What a call gives back: judged tables by what they are about, the map, and files where they are wanted."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from geoqa import plugins
from geoqa.contract.checks import check_named
from geoqa.errors import JobError
from geoqa.job.deliver import deliver
from geoqa.job.document.file import Outputs
from geoqa.job.document.problems import trouble
from geoqa.model.results import Results

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd


@dataclass(frozen=True)
class Map:
    """The offline page: one HTML text with all that it shows inside; a notebook shows it where it stands.

    Attributes
    ----------
    html : str
    """

    html: str

    def save(self, path: str | Path) -> Path:
        """Write the page to a file, which any current browser opens from disk.

        Returns
        -------
        Path
            Of the file.
        """
        path = Path(path)
        path.write_text(self.html, encoding="utf-8", newline="\n")
        return path

    def _repr_html_(self) -> str:
        return (
            f'<iframe srcdoc="{escape(self.html)}" title="Map" '
            'style="width:100%;height:640px;border:1px solid #999"></iframe>'
        )

    def __repr__(self) -> str:
        return f"Map({len(self.html):,} characters; save it with .save('map.html'))"


@dataclass(frozen=True, kw_only=True, repr=False)
class Assessed(Results):
    """Results of a job from memory.

    Attributes
    ----------
    text : str
        The job as the text of a job file; where a table stood, the file has its name.
    originals : tuple of Path
        Files that were read, where paths were given instead of tables; none is ever written to.
    """

    index: pd.Index[Any] | None = field(default=None)
    text: str = ""
    originals: tuple[Path, ...] = ()

    @property
    def shots(self) -> gpd.GeoDataFrame:
        """Every row of the shots that were given, judged or not, in their order and on their index.

        Of several tables the index has two levels: the name of the table, and its own index.
        """
        shots = self.layers["shots"]
        return shots if self.index is None else shots.set_axis(self.index)

    @property
    def work(self) -> gpd.GeoDataFrame:
        """Findings of the work, worst first: whether it was built so."""
        return self._about("work")

    @property
    def survey(self) -> gpd.GeoDataFrame:
        """Findings of the survey, worst first: whether the measurement may be trusted."""
        return self._about("survey")

    @property
    def evidence(self) -> gpd.GeoDataFrame:
        """Findings of the evidence, worst first: what was not measured."""
        return self._about("evidence")

    def _about(self, subject: str) -> gpd.GeoDataFrame:
        """Findings whose check asks about a subject, at the level they are reported: a run stands for its shots."""
        reported = self.reported
        names = [name for name in reported["check"].unique() if check_named(name).subject == subject]
        return reported[reported["check"].isin(names)].reset_index(drop=True)

    def map(self) -> Map:
        """The offline page of these results."""
        with tempfile.TemporaryDirectory() as folder:
            (name,) = plugins.load("pages", "map")().write(self, Path(folder))
            return Map((Path(folder) / name).read_text(encoding="utf-8"))

    def write(
        self, folder: str | Path, *, layers: Sequence[Any] | None = None, pages: Sequence[Any] | None = None
    ) -> tuple[Path, ...]:
        """Write files for a CAD or GIS desk, pages, and the record with the hash of each.

        Parameters
        ----------
        folder : str or Path
            Made where it is missing; files of the same name are replaced whole, others are left alone.
        layers, pages : sequence of str or of tables, optional
            Names of writers and pages, or ``{"use": name, …}`` with their options. Neither: those of a job file
            that says nothing; only one of them: nothing of the other.

        Returns
        -------
        tuple of Path
            Files written, the record last.

        Raises
        ------
        JobError
            No writer or page has that name.
        OutputError
            Something could not be written; what stood in the folder before is still whole.
        """
        folder = Path(folder)
        wanted: dict[str, Any] = {"folder": str(folder)}
        if layers is not None or pages is not None:
            wanted |= {"layers": list(layers or ()), "pages": list(pages or ())}
        try:
            outputs = Outputs.model_validate(wanted)
        except ValidationError as error:
            lines = [f"{each['loc'][0]}: {trouble(each, wanted)}" for each in error.errors(include_url=False)]
            raise JobError("; ".join(lines)) from None
        return deliver(self, folder, [*outputs.layers, *outputs.pages], originals=self.originals)

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self.title.name}: {self.one_line()})"
