"""A small season of several streets, a file each, with faults of the work, of the log and of the survey in it.

Two of the faults lie between files: a name is used in two of them, and a code that nobody knows in each.
"""

from pathlib import Path

import numpy as np
import pandas as pd

from bench import season

LINE, SESSION = 80, 200
"""Shots of a line, and of a session: a street is of eight hundred shots and four sessions."""
CHECKS_OF_STREET = 4 * 2 * season.CHECKS


def write_streets(folder, streets, *, monkeypatch, seed=1):
    """Write the job, one file a street; its job file."""
    for name, value in (("SHOTS_OF_LINE", LINE), ("SHOTS_OF_SESSION", SESSION),
                        ("SHOTS_OF_STREET", LINE * len(season.SECTION)),
                        ("SHOTS_OF_FILE", LINE * len(season.SECTION) + CHECKS_OF_STREET)):  # fmt: skip
        monkeypatch.setattr(season, name, value)
    job = season.write_season(folder, streets * LINE * len(season.SECTION), seed=seed)
    for number in range(streets):
        path = Path(folder, "shots", f"week{number + 1:02d}.csv")
        table = pd.read_csv(path, dtype=str, keep_default_na=False)
        _spoiled(table, number, streets).to_csv(path, index=False, lineterminator="\n")
    return job


def _spoiled(table, number, streets):
    """The log of one street with its faults."""
    feature = np.flatnonzero((table["code"] != "CP").to_numpy())
    if number == 1:
        _raised(table, np.flatnonzero((table["session"] == table["session"].iloc[0]).to_numpy()), 0.40)
    if number == 2:
        _raised(table, feature[50:60], -0.13)
    if number == 0:
        table = table.drop(index=table.index[feature[10:25]]).reset_index(drop=True)
        again = table.iloc[[30, 31]].assign(point=["901", "902"], time_utc="2026-05-30T10:00:00Z")
        table = pd.concat([table, again, table.iloc[[40]]], ignore_index=True)
    if number in (0, streets - 1):
        table.loc[feature[5], "point"] = "777"
    table.loc[feature[7], "code"] = "QQ"
    if number == streets - 1:
        table.loc[feature[100], "code"] = table.loc[feature[0], "code"]
        far = pd.to_numeric(table.loc[feature[200:204], "northing"]) + 70.0
        table.loc[feature[200:204], "northing"] = far.map("{:.3f}".format)
        table.loc[feature[300:340], ["satellites", "pdop", "reported_h"]] = ["6", "3.9", "0.090"]
    return table


def _raised(table, rows, rise):
    raised = pd.to_numeric(table["elevation"].iloc[rows]) + rise
    table.loc[table.index[rows], "elevation"] = raised.map("{:.3f}".format)
