"""Which tables of a job in parts are written with each part, and which once."""

from geoqa.batch.cut.gathered import Pieces
from geoqa.batch.cut.kept import columns_of
from geoqa.batch.cut.work import WHOLE, folder_of

OF_SHOTS = ("shots", "findings", "evidence", "flags")


def told_whole(pieces: Pieces) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names of the tables of the whole job, and of those of each part; rows of some are in both."""
    whole, parts = ["findings", "evidence", "notes"], list(OF_SHOTS)
    for number, step in enumerate(pieces.steps):
        for name in step.gives:
            if number in pieces.alone:
                parts.append(name)
                continue
            columns = columns_of(folder_of(pieces.work / WHOLE, number, step), name)
            whole.append(name)  # also of a table of shots: rows that are of none
            if "shot_key" in columns:
                parts.append(name)
    return tuple(dict.fromkeys(whole)), tuple(dict.fromkeys(parts))
