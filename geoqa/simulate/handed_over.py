"""Tables as the files hold them that crew and office hand over."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

SHOTS_HEADER = {
    "point": "shot",
    "easting": "raw_easting",
    "northing": "raw_northing",
    "elevation": "raw_elevation",
    "code": "code",
    "line_id": "line_id",
    "sequence": "sequence",
    "note": "note",
    "photo": "photo",
    "time_utc": "time",
    "session": "session",
    "initialization": "initialization",
    "solution": "solution",
    "satellites": "satellites",
    "epochs": "epochs",
    "pdop": "pdop",
    "hdop": "hdop",
    "vdop": "vdop",
    "correction_age_s": "correction_age",
    "reported_h": "reported_h",
    "reported_v": "reported_v",
    "rod_height": "rod_height",
    "tilt_deg": "tilt",
    "tilt_azimuth_deg": "tilt_azimuth",
}
"""Column of the file: column of the table."""


def shots_file(shots: "pd.DataFrame") -> "pd.DataFrame":
    """Shots as the crew's file holds them."""
    import pandas as pd

    written = pd.DataFrame({name: shots[column] for name, column in SHOTS_HEADER.items()})
    written["time_utc"] = shots["time"].dt.strftime("%Y-%m-%dT%H:%M:%SZ")
    return written


def control_file(control: "pd.DataFrame") -> "pd.DataFrame":
    """Marks as the control sheet holds them: three decimals, yes and no."""
    written = control.drop(columns="geometry", errors="ignore").copy()
    for name in ("easting", "northing", "elevation"):
        written[name] = [f"{value:.3f}" for value in written[name]]
    for name in ("held", "independent"):
        written[name] = np.where(written[name], "yes", "no")
    return written


def codes_file(codes: "pd.DataFrame") -> "pd.DataFrame":
    """The code list as the crew keeps it: how it knows what is buried is said nowhere."""
    return codes.drop(columns="known_by")


def write_csv(table: "pd.DataFrame", path: Path) -> None:
    """Write a table as comma separated values, with the same bytes on every system."""
    table.to_csv(path, index=False, encoding="utf-8", lineterminator="\n")


def write_text(text: str, path: Path) -> None:
    """Write a text file with the same bytes on every system."""
    with path.open("w", encoding="utf-8", newline="\n") as stream:
        stream.write(text)
