"""Walks with known slope and width, shot at both edges, for tests of the checks on walks."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from geoqa import testing
from geoqa.model.tables.columns import conform

CODES = conform(
    "codes",
    pd.DataFrame(
        [
            {"code": "WKF", "kind": "walk-front", "geometry": "line", "role": "feature", "pairs_with": "WKB"},
            {"code": "WKB", "kind": "walk-back", "geometry": "line", "role": "feature", "pairs_with": "WKF"},
            {"code": "OBS", "kind": "obstruction", "geometry": "point", "role": "other", "meaning": "obstruction"},
            {"code": "RMP", "kind": "ramp", "geometry": "point", "role": "feature"},
            {"code": "DWS", "kind": "detectable-warning", "geometry": "point", "role": "feature"},
            {"code": "GUT", "kind": "gutter", "geometry": "point", "role": "feature"},
            {"code": "FLR", "kind": "flare", "geometry": "point", "role": "feature"},
        ]
    ).assign(meaning=lambda rows: rows["meaning"].fillna("")),
)
KIND = dict(zip(CODES["code"], CODES["kind"], strict=True))


def walk_rows(
    stations: Sequence[float],
    *,
    slope: float | np.ndarray = 0.015,
    width: float = 5.0,
    grade: float = 0.01,
    line: str = "1",
    errors: tuple[np.ndarray, np.ndarray] | None = None,
    plan: tuple[np.ndarray, np.ndarray] | None = None,
    session: str = "A",
    aside: float = 0.0,
) -> list[dict[str, object]]:
    """Rows of both edges: the front at offset 0, the back higher by slope times width.

    Parameters
    ----------
    stations : sequence of float
    slope : float or (k,) array
        Rise from front to back over the width.
    width, grade : float
    line : str
    errors : pair of (k,) arrays, optional
        In elevation, of front and back.
    plan : pair of (k, 2) arrays, optional
        In offset and station, of front and back.
    session : str
    aside : float
        Offset of the front edge.
    """
    at = np.asarray(stations, float)
    slope = np.broadcast_to(slope, at.shape)
    zero = np.zeros(len(at))
    up = errors or (zero, zero)
    off = plan or (np.zeros((len(at), 2)), np.zeros((len(at), 2)))
    rows = []
    for code, number in (("WKF", 0), ("WKB", 1)):
        level = 100 + grade * at + number * slope * width + up[number]
        place = np.column_stack([np.full(len(at), aside + number * width), at]) + off[number]
        # up along the front, down along the back, a minute a shot
        order = range(len(at)) if number == 0 else range(len(at) - 1, -1, -1)
        for step, shot in enumerate(order):
            minutes = number * len(at) + step
            rows.append(
                {"code": code, "line_id": line, "sequence": step, "session": session, "initialization": session + "1",
                 "offset": place[shot, 0], "station": place[shot, 1], "elevation": level[shot],
                 "time": pd.Timestamp("2026-03-14 14:00", tz="UTC") + pd.Timedelta(minutes=minutes)}
            )  # fmt: skip
    return rows


def layers_of(rows: list[dict[str, object]], *limits: tuple[object, ...], **columns: object) -> object:
    """Layers of shots with their kinds, and limits as `testing.limits` takes them."""
    table = testing.shots([{key: value for key, value in row.items() if key != "use"} for row in rows])
    use = [row.get("use", True) for row in rows]
    shots = testing.prepared(table, kind=table["code"].map(KIND), use=use, **columns)
    return testing.layers(shots=shots, codes=CODES, limits=testing.limits(*limits))


def readings(*rows: tuple[str, str, str, float], u: float = 0.001) -> dict[str, pd.DataFrame]:
    """The tables of readings as (check, quantity, place, value): rise over run, or metres."""
    table = [
        {"source": check, "line": number, "place": place, "quantity": quantity, "text": str(value), "value": value}
        for number, (check, quantity, place, value) in enumerate(rows, start=2)
    ]
    checks = sorted({row[0] for row in rows})
    rules = [{"source": check, "reference": "level", "what": check, "u": u} for check in checks]
    return {
        "readings": conform("readings", pd.DataFrame(table)),
        "reading_rules": conform("reading_rules", pd.DataFrame(rules)),
    }
