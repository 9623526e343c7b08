"""The map as an output: one file, ``map.html``."""

from pathlib import Path
from typing import ClassVar

from pydantic import Field

from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.present.map.content import content
from geoqa.present.map.frame import page

FILE = "map.html"


class MapPage(Output):
    """Write the map: one HTML file that works offline, from disk, in any current browser.

    Examples
    --------
    >>> MapPage().name
    'map'
    """

    name: ClassVar[str] = "map"
    effort: ClassVar[int] = 3
    imports: ClassVar[tuple[str, ...]] = ("geoqa.present.map.job_map",)
    without: tuple[str, ...] = Field(
        (), description="Kinds that the file is not to hold, e.g. water-top; what is judged with them is left out too."
    )
    format: ClassVar[Format | None] = Format(
        title="map in one file, for a browser without a network",
        keeps="every shot, finding, gap, as-built and design line with its card",
        loses="rows of tables that are not on the map; what several shots show together within its limits is only "
        "counted; positions are packed to the print",
    )

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write ``map.html`` into `folder`.

        Parameters
        ----------
        results : Results
        folder : path
            An existing folder.

        Returns
        -------
        tuple of str
            Names of the files written.
        """
        title = results.title
        packed = content(results, without=self.without)
        text = page(
            title=" – ".join(part for part in (title.name, title.revision) if part),
            about=packed.about,
            payload=packed.payload,
            background=packed.background,
            difference=packed.difference,
        )
        with open(Path(folder) / FILE, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
        return (FILE,)
