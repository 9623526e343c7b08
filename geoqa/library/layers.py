"""Layers made of tables in memory, and steps run on them by name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Self

from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers as _Layers

if TYPE_CHECKING:
    import pandas as pd

    from geoqa.library.accepted import System
    from geoqa.model.frame import Frame

Tolerances = Mapping[str, Mapping[str, Any]]


class Layers(_Layers):
    """Read-only mapping of table name to table, all in one `frame`; steps can be run on it by name.

    Parameters
    ----------
    tables : mapping of str to DataFrame or GeoDataFrame
        With their columns complete, as those of results are. Tables of your own go through `from_tables`.
    frame : Frame

    Examples
    --------
    Shots beside a line, judged by the one step ``offsets``.

    >>> import geopandas, geoqa, shapely
    >>> shots = geopandas.GeoDataFrame(
    ...     {"kind": ["walk-front", "walk-front"]},
    ...     geometry=[shapely.Point(2228020, 444000.02, 1457.21), shapely.Point(2228070, 443999.5, 1457.69)],
    ...     index=["A", "B"],
    ...     crs="EPSG:6547",
    ... )
    >>> lines = geopandas.GeoDataFrame(
    ...     {"kind": ["walk-front"]},
    ...     geometry=[shapely.LineString([(2228000, 444000, 1457), (2228100, 444000, 1458)])],
    ...     index=["W-1"],
    ...     crs="EPSG:6547",
    ... )
    >>> layers = geoqa.Layers.from_tables(
    ...     frame="EPSG:6547",
    ...     shots=shots,
    ...     design_lines=lines,
    ...     limits={"walk-front": {"horizontal": "0.15 ft", "reference": "C-101"}},
    ...     uncertainty={"default": {"horizontal_random": "0.02 ft", "reference": "repeats"}},
    ... )
    >>> done = layers.run(["uncertainty", "usable-shots", "match-lines", "offsets"])
    >>> done["findings"][["shot", "subject", "deviation", "verdict"]].round(3).values.tolist()
    [['shots/B', 'W-1', 0.5, 'OUT'], ['shots/A', 'W-1', -0.02, 'IN']]
    """

    @classmethod
    def from_tables(
        cls,
        *,
        frame: str | System | Frame | None = None,
        vertical: str | None = None,
        limits: Tolerances | pd.DataFrame | None = None,
        uncertainty: Tolerances | None = None,
        codes: Mapping[str, str] | pd.DataFrame | None = None,
        rule: str = "guarded",
        **tables: pd.DataFrame,
    ) -> Self:
        """Make layers of tables; what can be derived is filled in, and what is missing is said in one message.

        Parameters
        ----------
        frame : str, CRS or Frame, optional
            Projected system of every table; its own factor decides the unit. That of the first table with a geometry,
            if left out.
        vertical : str, optional
            Vertical system, in the same unit.
        limits : mapping of kind to mapping, or DataFrame, optional
            As `tolerances` of `geoqa.assess`, or the table.
        uncertainty : mapping of kind to mapping, optional
            As in `geoqa.assess`; it becomes the table ``precision``.
        codes : mapping of code to kind, or DataFrame, optional
            Of shots that have codes and no kinds.
        rule : str
            Decision rule of `limits`: guarded, simple, or ``guard R``.
        **tables : DataFrame or GeoDataFrame
            By the names of layers: ``shots``, ``design_lines``, ``design_points``, ``control`` …, or those that a step
            made, or tables of your own.

        Returns
        -------
        Layers

        Raises
        ------
        LayerError
            With a line for everything that is missing, has a wrong dtype, or is not in the frame.
        FrameError
            No frame is stated, or it cannot be used.
        JobError
            A limit or an uncertainty that cannot stand.

        Notes
        -----
        Eastings, northings and elevations come from a geometry of points; keys and names from the index (of shots as
        ``shots/INDEX``); elements of the design from a geometry of LineStrings; a kind ``control`` makes a check shot.
        Where nothing is said of screening and check shots, the rules of common practice stand. No table is changed.
        """
        from geoqa.library.given_layers import given_layers

        given = {"limits": limits, "codes": codes, **tables}
        made, found = given_layers(given, frame=frame, vertical=vertical, uncertainty=uncertainty, rule=rule)
        return cls(made, frame=found)

    def run(
        self, steps: str | Step | Sequence[str | Step], /, *, limits: Tolerances | None = None, **options: Any
    ) -> Self:
        """Run one step, or several in the order in which each finds what it needs.

        Parameters
        ----------
        steps : str, Step, or sequence of those
            Names as `geoqa.steps` lists them.
        limits : mapping of kind to mapping, optional
            As `tolerances` of `geoqa.assess`, where these layers have no limits yet.
        **options
            Of the one step that is named.

        Returns
        -------
        Layers
            New ones, with what the steps made; findings worst first.

        Raises
        ------
        PluginError
            No step has that name.
        JobError
            An option or a limit that cannot stand.
        LayerError
            Something the steps need is not there: what it means, and which step makes it.

        Examples
        --------
        >>> from geoqa import testing
        >>> layers = Layers(testing.layers(shots=testing.shots([{}])), frame=testing.frame())
        >>> layers.run("offsets")
        Traceback (most recent call last):
        ...
        geoqa.errors.LayerError: The step offsets cannot run yet:
          line_matches (shot_key, design, station, offset …) is missing; the step match-lines makes it
          shots.use (true or false: false = flagged out, still listed) is missing; the step usable-shots makes it
          shots.flags (text: sorted reason codes joined by ;) is missing; the step usable-shots makes it
          shots.u_h_random (number, in the unit of the frame: 1 sigma; H per axis) is missing; the step uncertainty \
makes it
        Run these together: ['kinds', 'uncertainty', 'usable-shots', 'match-lines', 'offsets'].
        """
        from geoqa.job.execute import execute
        from geoqa.library.steps_by_name import ready, steps_named

        layers = self if limits is None else self._limited(limits)
        named = steps_named(steps, options)
        ready(named, layers)
        return execute(layers, named)

    def _limited(self, limits: Tolerances) -> Self:
        from geoqa.errors import LayerError
        from geoqa.library.given_layers import limits_of

        if len(self._tables.get("limits", ())):
            raise LayerError("limits: these layers have limits already; give them in one of the two places.")
        return type(self)({**self, "limits": limits_of(limits, self.frame)}, frame=self.frame)
