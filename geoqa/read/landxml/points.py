"""Shots and control marks from the points of LandXML."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from pydantic import Field

from geoqa.errors import SourceError
from geoqa.model.format import Format
from geoqa.model.source import Evidence, Peek, Reader, Source
from geoqa.read.delimited.keys import shot_keys
from geoqa.read.landxml.contents import FIRST, Contents, contents
from geoqa.read.landxml.stream import Node

if TYPE_CHECKING:
    import pandas as pd

_HEADS = ("point", "northing", "easting", "elevation", "code", "description", "state")


class _PointsOfLandXML(Reader):
    """What shots and control have in common."""

    only: tuple[str, ...] = Field(
        (), description="first letters of the names of the points to take; all of them without it"
    )

    def peek(self, path: Path) -> Peek:
        """Look at the first points, the unit and the system."""
        held = contents(path, at_most=FIRST)
        nodes = _taken(held, self.only)
        if not nodes:
            raise SourceError(
                f"'{held.path.name}' holds {held.words()}, and no CgPoint; as design it is [[design]] file =."
            )
        rows = []
        for node in nodes[:5]:
            easting, northing, elevation = held.places.place(node)
            place = (repr(each) if math.isfinite(each) else "" for each in (northing, easting, elevation))
            rows.append((node.get("name"), *place, node.get("code"), node.get("desc"), node.get("state")))
        return Peek(
            columns=_HEADS,
            holds=("shot", "mark", "northing", "easting", "elevation", "code"),
            rows=tuple(rows),
            crs=held.crs,
            evidence=tuple(held.evidence),
            doubt=self._doubt(held),
        )

    def _doubt(self, held: Contents) -> str:
        """A file that holds lines or surfaces is design first; whoever names it all the same, means its points."""
        lines = held.listed or any(held.of(name) for name in ("Alignment", "PlanFeature", "PipeNetwork"))
        if self.only or not lines:
            return ""
        return (
            f"holds {held.words()}; it looks like design: [[design]] "
            'file = …; its points as control marks are [control] file = …, only = ["CP"].'
        )

    def _columns(self, held: Contents) -> dict[str, pd.Series | np.ndarray]:
        import pandas as pd

        nodes = _taken(held, self.only)
        if not nodes:
            named = f" whose name begins with {' or '.join(self.only)}" if self.only else ""
            mend = "mend only =, or leave it out" if self.only else "as design it is [[design]] file ="
            raise SourceError(f"'{held.path.name}' holds {held.words()}, and no CgPoint{named}; {mend}.")
        place = np.array([held.places.place(each) for each in nodes], dtype=np.float64)

        def texts(key: str) -> pd.Series:
            return pd.Series([each.get(key) or None for each in nodes], dtype="str")

        return {
            "name": texts("name"),
            "code": texts("code"),
            "desc": texts("desc"),
            "state": texts("state"),
            "line": np.array([each.line for each in nodes], dtype=np.int64),
            "easting": place[:, 0],
            "northing": place[:, 1],
            "elevation": place[:, 2],
        }

    def _source(self, held: Contents, layer: str, table: pd.DataFrame) -> Source:
        count = len(held.of("CgPoint")) - len(table)
        evidence = list(held.evidence)
        if count:
            because = f"only = {list(self.only)} in the job"
            evidence.append(Evidence(what="CgPoint", answer=f"{count} left out", because=because))
        rest = held.words()
        facts = {"holds": rest, "points": str(len(table))}
        return Source(layers={layer: table}, unit=held.unit, crs=held.crs, facts=facts, evidence=tuple(evidence))


class ShotsLandXML(_PointsOfLandXML):
    """Shots from the CgPoint elements of LandXML: name, code, description, place; nothing is known of their fixes."""

    format: ClassVar[Format | None] = Format(
        title="points of LandXML 1.0, 1.1 or 1.2",
        keeps="name, code, description, place, unit, coordinate system",
        loses="how a point was measured: time, fix, rod and precision are not in it",
    )
    role: ClassVar[str] = "shots"

    session: str | None = Field(
        None, min_length=1, max_length=100, description="session of the shots: files that state the same one are one"
    )
    setup: str | None = Field(
        None, min_length=1, max_length=100, description="base or instrument setup of the shots, within their session"
    )

    def read(self, path: Path, *, source: str) -> Source:
        """Read every point.

        Raises
        ------
        SourceError
            The file is no sound LandXML, or has no such point.
        """
        import pandas as pd

        from geoqa.model.tables.columns import conform

        held = contents(path)
        columns = self._columns(held)
        frame = pd.DataFrame(
            {
                "source": pd.Series(source, index=range(len(columns["line"])), dtype="str"),
                "line": columns["line"],
                "shot": columns["name"],
                **{each: columns[each] for each in ("easting", "northing", "elevation")},
                **{f"raw_{each}": _text(columns[each]) for each in ("easting", "northing", "elevation")},
                "code": columns["code"],
                "note": columns["desc"],
                "session": pd.Series(self.session, index=range(len(columns["line"])), dtype="str"),
                "initialization": pd.Series(self.setup, index=range(len(columns["line"])), dtype="str"),
            }
        )
        frame.insert(0, "shot_key", shot_keys(frame, source))
        return self._source(held, "shots", conform("shots", frame, made_by=""))


class ControlLandXML(_PointsOfLandXML):
    """Control marks from the CgPoint elements of LandXML; what is known of their uncertainty is not in such a file."""

    format: ClassVar[Format | None] = Format(
        title="control points of LandXML 1.0, 1.1 or 1.2",
        keeps="name, place, unit, coordinate system",
        loses="the uncertainty of the marks is not in it",
    )
    role: ClassVar[str] = "control"

    def read(self, path: Path, *, source: str) -> Source:
        """Read every point.

        Raises
        ------
        SourceError
            The file is no sound LandXML, has no such point, or two marks have one name.
        """
        import pandas as pd

        from geoqa.model.tables.columns import conform

        held = contents(path)
        columns = self._columns(held)
        seen: dict[str, int] = {}
        for name, line in zip(columns["name"], columns["line"].tolist(), strict=True):
            if not isinstance(name, str):
                raise SourceError(f"'{held.path.name}', line {line}: a CgPoint has no name; a mark needs one.")
            if name in seen:
                raise SourceError(
                    f"'{held.path.name}' has the mark '{name}' twice, in lines {seen[name]} and {line}; "
                    "keep the right one."
                )
            seen[name] = line
        frame = pd.DataFrame(
            {
                "mark": columns["name"],
                **{each: columns[each] for each in ("easting", "northing", "elevation")},
                "held": False,
                "independent": False,
                "reference": columns["desc"],
            }
        )
        return self._source(held, "control", conform("control", frame))


def _taken(held: Contents, only: tuple[str, ...]) -> list[Node]:
    return [each for each in held.of("CgPoint") if not only or each.get("name").startswith(only)]


def _text(values: pd.Series | np.ndarray) -> pd.Series:
    import pandas as pd

    return pd.Series([repr(each) if math.isfinite(each) else None for each in values.tolist()], dtype="str")
