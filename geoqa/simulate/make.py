"""Make a simulated job in memory: tables, frame and truth."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from geoqa.model.frame import Frame
from geoqa.model.tables.layer import Layers, placed, shaped
from geoqa.simulate.crew.crew import plan
from geoqa.simulate.crew.every_plant import DEFAULT
from geoqa.simulate.crew.plants import planted
from geoqa.simulate.crew.record import shots_table
from geoqa.simulate.crew.structure_notes import as_read, structure_notes
from geoqa.simulate.desk import desk_tables, sources, surface_tables
from geoqa.simulate.site import scenario
from geoqa.simulate.site.drawn_lines import drawn_lines
from geoqa.simulate.truth import Truth, truth_of

if TYPE_CHECKING:
    import pandas as pd
    from shapely import LineString


@dataclass(frozen=True, eq=False)
class Simulated:
    """A simulated job.

    Attributes
    ----------
    tables : mapping of str to DataFrame
        shots, control, codes, design_lines, design_elements, design_points, surface_points, surface_faces,
        structure_notes, limits, precision, screening, sources; as the job would read them from files.
    truth : Truth
    frame : Frame
    seed : int
    zone : Zone
    plants : tuple of str
        What is planted, in the order it was.
    structures : DataFrame
        Notes of structures and pipes, as the crew's file has them.
    """

    tables: "Mapping[str, pd.DataFrame]"
    truth: Truth
    frame: Frame
    seed: int
    zone: scenario.Zone
    plants: tuple[str, ...]
    structures: "pd.DataFrame"

    def layers(self) -> Layers:
        """The tables as layers, ready for the steps."""
        made: dict[str, pd.DataFrame] = {}
        for name, table in self.tables.items():
            made[name] = placed(name, table, self.frame)
        drawn = drawn_lines(self.tables["design_elements"])
        lines = self.tables["design_lines"]
        made["design_lines"] = shaped(lines, [_flat(drawn[name]) for name in lines["line"]], self.frame)
        return Layers(made, frame=self.frame)


def _flat(line: "LineString") -> "LineString":
    import shapely

    return shapely.force_2d(line)


def make(
    seed: int = 1, zone: str = "EPSG:6547", plants: Iterable[str] = DEFAULT, *, frame: Frame | None = None
) -> Simulated:
    """Simulate two days of survey on Tannery Lane.

    Parameters
    ----------
    seed : int
        Another seed gives other noise; 0 or more.
    zone : str
        ``EPSG:6547``, ``EPSG:6559`` or ``EPSG:6405``.
    plants : iterable of str
        Ids of what to plant; see `geoqa.simulate.crew.plants.PLANTS`.
    frame : Frame, optional
        The zone's frame, where it is already at hand.

    Returns
    -------
    Simulated

    Raises
    ------
    GeoqaError
        The zone or a plant is unknown.

    Examples
    --------
    >>> simulated = make(seed=1, plants=())
    >>> len(simulated.tables["shots"]), simulated.frame.unit.name
    (949, 'ft')
    """
    where = scenario.zone_named(zone)
    if frame is None:
        from geoqa.frames.systems.resolve import resolve

        frame = resolve(where.code, scenario.VERTICAL)
    sown, chosen = planted(plan(seed), plants, seed)
    shots = shots_table(sown, where)
    files = {"day1": "shots", "day2": "shots", "control": "control", "codes": "codes"}
    files |= {"screening": "screening", "structures": "structures", "design": "design"}
    files |= {"finished_surface": "design", "background": "background"}
    noted = structure_notes(sown)
    tables = {"shots": shots.drop(columns="id"), **desk_tables(where), "sources": sources(files)}
    tables |= {"structure_notes": as_read(noted), **surface_tables(where)}
    truth = truth_of(sown, shots[["id", "shot_key"]], where, tables["limits"], chosen, seed)
    return Simulated(tables, truth, frame, seed, where, tuple(chosen), noted)
