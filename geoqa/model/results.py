"""What a run hands to writers, pages and people."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from html import escape
from typing import TYPE_CHECKING, Any

from geoqa.model.background import Background
from geoqa.model.photos import Photos
from geoqa.model.signs import SIGNS
from geoqa.model.tables.layer import Layers

if TYPE_CHECKING:
    import geopandas as gpd


@dataclass(frozen=True, kw_only=True)
class Title:
    """The title block: which project, which design, which day, who reviewed it."""

    name: str
    revision: str = ""
    date: str = ""
    client: str = ""
    reviewed_by: str = ""
    reviewed_on: str = ""
    notes: tuple[str, ...] = ()

    @property
    def preliminary(self) -> bool:
        """True until the job file records a review by a licensee."""
        return not (self.reviewed_by and self.reviewed_on)


@dataclass(frozen=True, kw_only=True)
class Results:
    """Judged layers, with the summary and the record of how they were made.

    Attributes
    ----------
    title : Title
    layers : Layers
    summary : mapping
        Counts and the headline; plain numbers and text, JSON-ready.
    record : mapping
        Inputs with hashes, settings, steps and versions; JSON-ready, no clock, host, user or path.
    notes : tuple of str
        What a reader must know first, worst first: what could not be checked and why.
    background : Background or None
        A picture under the map.
    photos : Photos or None
        Where the photos are that shots name.
    """

    title: Title
    layers: Layers
    summary: Mapping[str, Any]
    record: Mapping[str, Any]
    notes: tuple[str, ...] = field(default_factory=tuple)
    background: Background | None = None
    photos: Photos | None = None

    @property
    def findings(self) -> "gpd.GeoDataFrame":
        """Every judged number, worst first."""
        return self.layers["findings"]

    @property
    def reported(self) -> "gpd.GeoDataFrame":
        """Findings at the level they are reported: runs, elements and shots outside runs."""
        findings = self.findings
        made = self.layers.derived("reported findings", ("findings",), lambda: findings[findings["run"].isna()])
        return made.copy(deep=False)

    @property
    def shots(self) -> "gpd.GeoDataFrame":
        """Every shot of every file, judged or not."""
        return self.layers["shots"]

    def one_line(self) -> str:
        """Counts by verdict, worst first."""
        counts = self.summary["reported"]
        return ", ".join(f"{counts.get(verdict, 0)} {sign.short}" for verdict, sign in SIGNS.items())

    def _repr_html_(self) -> str:
        signs = self.summary.get("shots_by_sign", {})
        rows = "".join(
            f"<tr><td style='color:{sign.colour}'>{sign.mark}</td><td>{escape(sign.text)}</td>"
            f"<td style='text-align:right'>{self.summary['reported'].get(verdict, 0)}</td>"
            f"<td style='text-align:right'>{signs.get(verdict, '')}</td></tr>"
            for verdict, sign in SIGNS.items()
        )
        rows = f"<tr><th></th><th></th><th>findings</th><th>{'shots' if signs else ''}</th></tr>{rows}"
        made = f"<b>{escape(self.title.name)}</b><table>{rows}</table>"
        if not self.notes:
            return made
        notes = "".join(f"<li>{escape(note)}</li>" for note in self.notes[:5])
        more = f", the first 5 of {len(self.notes)}" if len(self.notes) > 5 else ""
        return f"{made}<p><b>Read first{more}</b></p><ul>{notes}</ul>"
