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
from geoqa.errors import JobError, OutputError
from geoqa.job.deliver import deliver
from geoqa.job.document.file import Outputs
from geoqa.job.document.load import LoadedJob
from geoqa.job.document.problems import trouble
from geoqa.library.layers import Layers
from geoqa.model.results import Results

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

LARGEST_PAGE = 5_000_000
"""Characters of a map that is shown with the results; a larger one is shown where it is asked for."""
MOST_ROWS = 100_000
"""Shots and findings of results whose map is tried at all where it was not asked for: beyond, it is larger."""


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
    """Results of a job, be it from memory or from its file.

    Attributes
    ----------
    text : str
        The job as the text of a job file; where a table stood, the file has its name.
    originals : tuple of Path
        Files that were read; none is ever written to.
    outputs : Outputs
        What the job names to be written.

    Notes
    -----
    Its tables are ordinary GeoDataFrames. ``explore`` of theirs puts texts of the files into its page as they are
    written there, markup and all; `to_folium` and `map` do not.
    """

    index: pd.Index[Any] | None = field(default=None)
    text: str = ""
    originals: tuple[Path, ...] = ()
    outputs: Outputs = field(default_factory=Outputs)

    @property
    def shots(self) -> gpd.GeoDataFrame:
        """Every row of the shots that were given, judged or not, in their order and on their index.

        Of several tables the index has two levels: the name of the table, and its own index. An index that has the
        name of a column, as after ``set_index("shot")``, comes back without a name: one name stands for one thing.
        """
        shots = self.layers["shots"]
        if self.index is None:
            return shots
        names = [None if name in shots.columns else name for name in self.index.names]
        return shots.set_axis(self.index.set_names(names))

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

    def to_folium(self, *, tiles: Any = None, attr: str | None = None, kinds: Sequence[str] | None = None) -> Any:
        """Draw these results on an ordinary folium map, by longitude and latitude: to look at, never to measure.

        There is a group of layers for each verdict and kind of shots, one for each check of findings that rest on no
        one shot, and one for each kind of design lines. A click tells every number about a shot.

        Parameters
        ----------
        tiles : str, xyzservices.TileProvider or folium.TileLayer, optional
            What lies underneath, as folium takes it. Without, nothing is fetched for it; add layers of your own.
        attr : str, optional
            Whose tiles they are, where `tiles` is an address.
        kinds : sequence of str, optional
            Only lines, shots and findings of these kinds.

        Returns
        -------
        folium.Map

        Raises
        ------
        FrameError
            No known operation leads from the job's frame to longitude and latitude.
        LayerError
            No such kind, or nothing that has a place.

        Notes
        -----
        Places go through one operation, which the map names with its accuracy: often metres, since web maps say WGS 84
        and nothing more. When it is shown, the page that folium makes loads its scripts from other hosts;
        `map` is the page that works offline, in the job's own grid.
        """
        from geoqa.present.notebook.web_map import web_map

        return web_map(self, tiles=tiles, attr=attr, kinds=kinds)

    def plot(self, *, line: str | None = None, check: str | None = None) -> Any:
        """Draw a plan of these results, and one design line along its stations.

        Parameters
        ----------
        line : str, optional
            Name of a design line. Without, the one with the worst finding.
        check : str, optional
            Which deviation is drawn along it, such as ``"offset"`` or ``"elevation"``. Without, that of its worst
            finding.

        Returns
        -------
        matplotlib.figure.Figure
            A notebook shows it where it stands; ``savefig`` writes it.

        Raises
        ------
        LayerError
            No such line, or no finding of that check along it.
        OutputError
            matplotlib is not installed.
        """
        from geoqa.present.plot.figure import figure

        try:
            return figure(self, line=line, check=check)
        except ModuleNotFoundError as error:
            if error.name is None or error.name.partition(".")[0] != "matplotlib":
                raise
            raise OutputError(
                "A plot needs matplotlib, which is not installed: pip install 'geoqa-survey[plot]'."
            ) from None

    def write(
        self, folder: str | Path, *, layers: Sequence[Any] | None = None, pages: Sequence[Any] | None = None
    ) -> tuple[Path, ...]:
        """Write files for a CAD or GIS desk, pages, and the record with the hash of each.

        Parameters
        ----------
        folder : str or Path
            Made where it is missing; files of the same name are replaced whole, others are left alone.
        layers, pages : sequence of str or of tables, optional
            Names of writers and pages, or ``{"use": name, …}`` with their options. Neither: those of the job, or of
            one that says nothing; only one of them: nothing of the other.

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
        for name, wanted in (("layers", layers), ("pages", pages)):
            if isinstance(wanted, str):
                raise JobError(f'{name}: must be a sequence of names, for example ["{wanted}"].')
        folder = Path(folder)
        outputs = self.outputs if layers is None and pages is None else _outputs(list(layers or ()), list(pages or ()))
        return deliver(self, folder, [*outputs.layers, *outputs.pages], originals=self.originals)

    def _repr_html_(self) -> str:
        from geoqa.present.notebook.listed import listed

        return super()._repr_html_() + listed(self.work, self.layers.frame.unit.name) + self._map_beside()

    def _map_beside(self) -> str:
        """The map, while it is small enough to be kept with every showing of the results."""
        if len(self.layers["shots"]) + len(self.layers["findings"]) <= MOST_ROWS:
            page = self.map()
            if len(page.html) <= LARGEST_PAGE:
                return page._repr_html_()
        return "<p>The map is too large to be shown with every list: <code>results.map().save('map.html')</code>.</p>"

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self.title.name}: {self.one_line()})"


def assessed(
    results: Results, loaded: LoadedJob, *, originals: tuple[Path, ...], index: pd.Index[Any] | None = None
) -> Assessed:
    """Put the results of a job together with what is needed to look at them and to write them.

    Parameters
    ----------
    results : Results
    loaded : LoadedJob
    originals : tuple of Path
        Files that were read.
    index : Index, optional
        Of the shots, as the caller had them.
    """
    return Assessed(
        title=results.title,
        layers=Layers(results.layers, frame=results.layers.frame),
        summary=results.summary,
        record=results.record,
        notes=results.notes,
        background=results.background,
        photos=results.photos,
        index=index,
        text=loaded.text,
        originals=originals,
        outputs=loaded.job.outputs,
    )


def _outputs(layers: list[Any], pages: list[Any]) -> Outputs:
    wanted = {"layers": layers, "pages": pages}
    try:
        return Outputs.model_validate(wanted)
    except ValidationError as error:
        lines = [f"{each['loc'][0]}: {trouble(each, wanted)}" for each in error.errors(include_url=False)]
        raise JobError("; ".join(lines)) from None
