"""A long job is diagnosed in parts: whole sessions in the order of time, as many as make a usual job.

What can be told from control, and what it takes, grows with the square of the check shots and worse; and a cause
that came and went is told best among the sessions around it. So a season is taken as one job after another.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd

from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.suspects import sessions_of
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.shots.flags import all_flags

MOST_CHECKS = 120
"""Check shots weighed together; more than any job of some weeks has."""
LONGEST_SESSION = 600
"""Check shots of one session that are still weighed together: the memory goes with their square, and is 0.4 GB then."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Part:
    """Some sessions of a job, with all that the diagnosis reads.

    Attributes
    ----------
    layers : Layers
    shots : DataFrame
        Its shots in the order of time.
    name : str
        Which sessions, in words; empty where the part is the whole job.
    """

    layers: Layers
    shots: pd.DataFrame
    name: str


def measured(shots: pd.DataFrame) -> pd.DataFrame:
    """Rows that measured something: those with a place, and check shots with an elevation alone.

    No cause acts on a row that could not be read, and none is counted under one.
    """
    placed = shots[["easting", "northing"]].notna().all(axis=1)
    levelled = (shots["role"] == "check") & shots["elevation"].notna()
    kept = (placed | levelled).to_numpy(bool)
    return shots if kept.all() else shots[kept].reset_index(drop=True)


def parts_of(layers: Layers, shots: pd.DataFrame, *, most: int) -> Iterator[Part]:
    """Cut a job between sessions, so that no part has more than `most` check shots, or is one session.

    A session of more than `LONGEST_SESSION` check shots is cut into stretches of time.

    Parameters
    ----------
    layers : Layers
    shots : DataFrame
        The shots in the order of time.
    most : int
    """
    check = (shots["role"] == "check").to_numpy(bool)
    if check.sum() <= most:
        yield Part(layers=layers, shots=shots, name="")
        return
    session, names = pd.factorize(_stretches(sessions_of(shots), check, most))
    part = _numbered(np.bincount(session[check], minlength=len(names)), most)[session]
    order = np.argsort(part, kind="stable")
    ends = np.searchsorted(part[order], np.arange(part.max() + 2))
    matched = {name: layers[name] for name in ("line_matches", "point_matches") if name in layers}
    part_of = {
        name: part[rows_of(table["shot_key"], shots["shot_key"])] if len(table) else np.zeros(0, int)
        for name, table in matched.items()
    }
    for number, (first, last) in enumerate(pairwise(ends)):
        rows = order[first:last]
        tables = dict(layers) | {"shots": shots.iloc[rows].reset_index(drop=True)}
        for name, table in matched.items():
            tables[name] = table.iloc[np.flatnonzero(part_of[name] == number)].reset_index(drop=True)
        inside = names[np.unique(session[rows])]
        told = f"sessions {inside[0]} to {inside[-1]}" if len(inside) > 1 else f"session {inside[0]}"
        yield Part(layers=Layers(tables, frame=layers.frame), shots=tables["shots"], name=told)


def _stretches(session: pd.Series, check: np.ndarray, most: int) -> pd.Series:
    """Session of each shot; of one with very many check shots, which stretch of it."""
    before = pd.Series(check, index=session.index).groupby(session).cumsum().to_numpy()
    total = pd.Series(check, index=session.index).groupby(session).transform("sum").to_numpy()
    stretch = pd.Series(np.maximum(before - 1, 0) // most + 1, index=session.index).astype("str")
    return session.where(total <= max(LONGEST_SESSION, most), session + " stretch " + stretch)


def _numbered(checks: np.ndarray, most: int) -> np.ndarray:
    """Part of each session, from how many check shots each has; sessions are in the order of their first shot."""
    part, held, number = np.zeros(len(checks), dtype=int), 0, 0
    for place, count in enumerate(checks.tolist()):
        if held and held + count > most:
            number, held = number + 1, 0
        held += count
        part[place] = number
    return part


def joined(answers: Sequence[tuple[str, Mapping[str, pd.DataFrame]]]) -> dict[str, pd.DataFrame]:
    """What the parts made, as one; an answer that nothing is wrong is given only where no part says otherwise.

    Parameters
    ----------
    answers : sequence of (name of the part, tables)
    """
    if len(answers) == 1:
        return dict(answers[0][1])
    tables = {name: pd.concat([each[name] for _, each in answers], ignore_index=True) for name in answers[0][1]}
    tables["causes"] = _causes([(name, each["causes"]) for name, each in answers])
    tables["diagnosis_gaps"] = _gaps(tables["diagnosis_gaps"])
    tables["flags"] = all_flags([tables["flags"]])
    return tables


def _causes(parts: Sequence[tuple[str, pd.DataFrame]]) -> pd.DataFrame:
    """Answers of all parts, then runners-up; where nothing is wrong in any part, what the first one says."""
    told = [
        causes.assign(words=f"{name}: " + causes["words"])
        for name, causes in parts
        if (causes.loc[causes["explanation"] == 1, "status"] != "none").any()
    ]
    whole = pd.concat(told, ignore_index=True) if told else parts[0][1]
    return whole.sort_values("explanation", kind="stable", ignore_index=True)


def _gaps(gaps: pd.DataFrame) -> pd.DataFrame:
    """What is missing, once for all parts that miss it."""
    return gaps.groupby(["field", "reason"], as_index=False, sort=False)[["shots"]].sum()[list(gaps.columns)]


def epoch_of(shots: pd.DataFrame) -> float | None:
    """Decimal year in the middle of the shots; None where none has a time."""
    time = shots["time"].dropna()
    if not len(time):
        return None
    middle = time.sort_values().iloc[len(time) // 2]
    return float(middle.year + (middle.day_of_year - 0.5) / 365.25)
