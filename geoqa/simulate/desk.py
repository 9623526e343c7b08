"""What the office hands over beside the shots: control, codes, design, limits, precision, screening, sources."""

from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.contract.checks import every_check
from geoqa.model.quantity import FOOT, Length, Slope
from geoqa.model.tables.columns import COORDINATES, conform
from geoqa.simulate.site import alignment, scenario
from geoqa.simulate.site.design import element_rows, lines, points
from geoqa.simulate.site.finished_surface import SURFACE, points_and_faces

if TYPE_CHECKING:
    import pandas as pd

RULESET = "job"
RULE = "guarded"


def desk_tables(zone: scenario.Zone) -> "dict[str, pd.DataFrame]":
    """Every table but the shots, in the zone's coordinates."""
    return {
        "control": control(zone),
        "codes": codes(),
        **design(zone),
        "limits": limits(),
        "precision": precision(),
        "screening": screening(),
    }


def control(zone: scenario.Zone) -> "pd.DataFrame":
    """Published values of the marks, to 0.001 ft."""
    import pandas as pd

    rows = []
    for mark, (station, offset, elevation) in scenario.CONTROL.items():
        east, north = alignment.place(station, offset)
        rows.append(
            {
                "mark": mark,
                "easting": round(zone.easting + float(east), 3),
                "northing": round(zone.northing + float(north), 3),
                "elevation": elevation,
                "u_h": scenario.CONTROL_U[0],
                "u_v": scenario.CONTROL_U[1],
                "held": False,
                "independent": mark in scenario.INDEPENDENT,
                "reference": "Larkmere control sheet 2 (invented)",
            }
        )
    return conform("control", pd.DataFrame(rows))


def codes() -> "pd.DataFrame":
    """The crew's code list."""
    import pandas as pd

    names = ["code", "kind", "geometry", "role", "pairs_with", "meaning"]
    return conform("codes", pd.DataFrame(scenario.CODES, columns=names))


def design(zone: scenario.Zone) -> "dict[str, pd.DataFrame]":
    """Lines, elements and points of design revision B."""
    import pandas as pd

    made = {
        "design_lines": pd.DataFrame({"line": list(lines()), "kind": [each.kind for each in lines().values()]}),
        "design_elements": pd.DataFrame([row for each in lines().values() for row in element_rows(each)]),
        "design_points": pd.DataFrame(list(points().values())).rename(columns={"name": "point"}),
    }
    for table, frame in made.items():
        for easting, northing, _ in COORDINATES.get(table, ()):
            frame[easting] += zone.easting
            frame[northing] += zone.northing
    return {
        table: conform(table, frame.assign(source="design") if table != "design_elements" else frame)
        for table, frame in made.items()
    }


def surface_tables(zone: scenario.Zone) -> "dict[str, pd.DataFrame]":
    """The finished surface: its points and faces."""
    import pandas as pd

    points, faces = points_and_faces(zone)
    named = {"surface": SURFACE, "source": "finished_surface"}
    places = pd.DataFrame(points, columns=["easting", "northing", "elevation"]).assign(point=np.arange(len(points)))
    corners = pd.DataFrame(faces, columns=["first", "second", "third"])
    return {
        "surface_points": conform("surface_points", places.assign(**named)),
        "surface_faces": conform("surface_faces", corners.assign(**named)),
    }


def limits() -> "pd.DataFrame":
    """One row per kind and check, as a job makes them from its tolerances."""
    import pandas as pd

    rows: list[dict[str, Any]] = []
    for kind, (horizontal, vertical, spacing) in sorted(scenario.TOLERANCES.items()):
        for check, lower, upper in _checks(kind, horizontal, vertical, spacing):
            rows.append({"kind": kind, "check": check, "quantity": "length", "lower": lower, "upper": upper})
    rows += [row for kind, keys in scenario.FINISHED.items() for row in _finished(kind, keys)]
    order = {name: at for at, name in enumerate(every_check())}
    rows.sort(key=lambda row: (row["kind"], order[row["check"]]))
    frame = pd.DataFrame(rows).assign(
        ruleset=RULESET,
        rule=RULE,
        reference=scenario.TOLERANCE_REFERENCE,
        edition=None,
        verified=False,
    )
    return conform("limits", frame)


def _checks(
    kind: str, horizontal: float | None, vertical: float | None, spacing: float | None
) -> list[tuple[str, float, float]]:
    control = kind == "control"
    made = []
    if horizontal is not None and control:
        made.append(("control-position", -np.inf, horizontal))
    elif horizontal is not None:
        made += [("offset", -horizontal, horizontal), ("position", -np.inf, horizontal)]
    if vertical is not None:
        made.append(("control-elevation" if control else "elevation", -vertical, vertical))
    if kind == "invert" and vertical is not None:
        made.append(("invert", -vertical, vertical))
    if spacing is not None:
        made.append(("coverage", -np.inf, spacing))
    return made


def _finished(kind: str, keys: dict[str, str | tuple[str, str]]) -> list[dict[str, Any]]:
    """Limits of numbers that several shots tell together."""
    rows = []
    for check in every_check().values():
        if check.tolerance is None or check.tolerance.name not in keys or check.of_kind not in (None, kind):
            continue
        written = keys[check.tolerance.name]
        if isinstance(written, tuple):
            lower, upper = (_size(each, check.quantity, side) for each, side in zip(written, (-1, 1), strict=True))
        else:
            size = _size(written, check.quantity, 1)
            lower, upper = {"most": (-np.inf, size), "least": (size, np.inf)}.get(check.bound, (-size, size))
        rows.append({"kind": kind, "check": check.name, "quantity": check.quantity, "lower": lower, "upper": upper})
    return rows


def _size(written: str, quantity: str, side: int) -> float:
    """A limit as a number; infinite where that side is open."""
    if not written:
        return side * float("inf")
    return float(Slope.parse(written)) if quantity == "slope" else Length.parse(written).to(FOOT)


def precision() -> "pd.DataFrame":
    """Standard uncertainties as the job declares them."""
    import pandas as pd

    names = ["h_random", "v_random", "h_common", "v_common"]
    frame = pd.DataFrame.from_dict(scenario.PRECISION, orient="index", columns=names).rename_axis("kind").reset_index()
    return conform("precision", frame.assign(reference=scenario.PRECISION_REFERENCE))


def screening() -> "pd.DataFrame":
    """What a shot must satisfy to be judged."""
    import pandas as pd

    rules = pd.DataFrame(scenario.SCREENING, columns=["kind", "field", "worst", "action", "reference"])
    return conform("screening", rules.assign(source="screening"))


def sources(files: dict[str, str]) -> "pd.DataFrame":
    """What was handed over; `files` is name of the source to its role."""
    import pandas as pd

    rows = [
        {
            "source": name,
            "role": role,
            "path": "in memory",
            "sha256": "",
            "reader": "simulate",
            "version": "",
            "unit": "ft" if role in ("shots", "control", "design") else None,
            "confidence": "1 sigma" if role == "shots" else None,
        }
        for name, role in files.items()
    ]
    return conform("sources", pd.DataFrame(rows))
