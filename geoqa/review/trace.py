"""Where a judged number comes from: its shots with file and line as read, its design, its limit, its settings."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from geoqa.contract.utilities import (
    INVERT,
    INVERT_READING,
    PIPE_NETWORK,
    PIPE_SLOPE,
    STRAIGHTNESS,
    STRUCTURE_DROP,
    STRUCTURE_RECORD,
)
from geoqa.errors import JobError
from geoqa.model.results import Results
from geoqa.model.tables.finding import is_beginning

if TYPE_CHECKING:
    import pandas as pd

MOST = 40
"""Shots of one number that are listed; the count is always complete."""
FROM_NOTES = frozenset(
    each.name
    for each in (INVERT, INVERT_READING, STRUCTURE_DROP, STRUCTURE_RECORD, PIPE_NETWORK, PIPE_SLOPE, STRAIGHTNESS)
)
"""Checks whose numbers rest on the notes of structures."""
AS_READ = ("raw_easting", "raw_northing", "raw_elevation")
"""Columns of a shot that hold the text of its file."""


@dataclass(frozen=True, kw_only=True)
class TracedShot:
    """One shot behind a number.

    Attributes
    ----------
    shot : mapping
        Its row among the shots.
    role : str
        What it is to the number: "shot", or its role among the evidence.
    weight : float
        Share of its coordinate in a mean; NaN where the number is no mean.
    path, sha256 : str
        File it was read from, and the hash of that file.
    causes : tuple of str
        Survey blunders that act on it.
    """

    shot: Mapping[str, Any]
    role: str
    weight: float
    path: str
    sha256: str
    causes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Traced:
    """One finding, and everything it was made of.

    Attributes
    ----------
    finding : mapping
        Its row among the findings.
    shots : tuple of TracedShot
        At most `MOST`, in the order of evidence.
    of : int
        How many there are.
    sources : tuple of mapping
        Files besides shots that took part, by role: design, control, levels.
    members : int
        Findings of single shots that the finding stands for.
    """

    finding: Mapping[str, Any]
    shots: tuple[TracedShot, ...]
    of: int
    sources: tuple[Mapping[str, Any], ...]
    members: int


def trace(results: Results, name: str) -> tuple[Traced, ...]:
    """Trace findings back to the rows they were made of.

    Parameters
    ----------
    results : Results
    name : str
        An item's number, a finding's id, the name or key of a shot, or a design line, structure or mark: what a finding
        is about. Else the beginning of one finding's id, as an earlier geoqa wrote it or somebody copied it.

    Returns
    -------
    tuple of Traced
        In the order of the findings, worst first.

    Raises
    ------
    JobError
        Nothing has that name, or ids of several findings begin so.
    """
    findings = results.findings
    rows = findings[_named(results, name).to_numpy(bool)]
    if not len(rows) and (gone := _gone(results, name)):
        raise JobError(gone)
    if not len(rows):
        raise JobError(
            f"No finding is called '{name}', and none is about a shot, line, structure or mark of that name. "
            "Take the id from the column finding of findings.csv, or the name of a shot as its file writes it."
        )
    return tuple(_traced(results, dict(row)) for row in rows.drop(columns="geometry").to_dict("records"))


def _gone(results: Results, name: str) -> str:
    """What is said of an item that an earlier run listed; empty where there is none of that number."""
    if "items" not in results.layers:
        return ""
    items = results.layers["items"]
    mine = items[(items["item"] == name) & (items["state"] == "gone")]
    if not len(mine):
        return ""
    check, subject = mine["check"].iloc[0], mine["subject"].iloc[0]
    return f"Item {name} is not listed any more: {check} of {subject} was, in an earlier run of this job."


def _named(results: Results, name: str) -> "pd.Series":
    findings = results.findings
    exact = findings["finding"] == name
    if "item" in findings:
        exact |= findings["item"] == name
    if exact.any():
        return exact
    shots = results.shots
    keys = set(shots.loc[(shots["shot"] == name) | (shots["shot_key"] == name), "shot_key"])
    evidence = results.layers["evidence"]
    of_shot = set(evidence.loc[(evidence["layer"] == "shots") & evidence["key"].isin(keys), "finding"])
    mine = findings["shot"].isin(keys) | findings["finding"].isin(of_shot)
    mine = mine if mine.any() else findings["subject"] == name
    return mine if mine.any() or not is_beginning(name) else _beginning(findings, name)


def _beginning(findings: "pd.DataFrame", name: str) -> "pd.Series":
    """The finding whose id begins so: nobody types all of it, and an earlier geoqa wrote a shorter one."""
    begins = findings["finding"].str.startswith(name)
    if begins.sum() > 1:
        raise JobError(f"The ids of several findings ({begins.sum():,}) begin with '{name}': write more of it.")
    return begins


def _traced(results: Results, finding: dict[Any, Any]) -> Traced:
    evidence = results.layers["evidence"]
    mine = evidence[(evidence["finding"] == finding["finding"]) & (evidence["layer"] == "shots")]
    behind = {str(row["key"]): (str(row["role"]), float(row["weight"])) for row in mine.to_dict("records")}
    if isinstance(finding["shot"], str) and finding["shot"] not in behind:
        behind = {finding["shot"]: ("shot", float("nan")), **behind}
    shots = results.shots
    kept = list(behind)[:MOST]
    rows = shots[shots["shot_key"].isin(kept)].drop(columns="geometry").set_index("shot_key", drop=False)
    sources = results.layers["sources"].set_index("source")
    traced = tuple(
        _shot(rows.loc[key].to_dict(), *behind[key], sources, _causes(results, key))
        for key in kept
        if key in rows.index
    )
    runs = results.findings["run"] == finding["finding"]
    return Traced(
        finding=finding, shots=traced, of=len(behind), sources=_other_sources(results, finding), members=int(runs.sum())
    )


def _shot(
    row: dict[Any, Any], role: str, weight: float, sources: "pd.DataFrame", causes: tuple[str, ...]
) -> TracedShot:
    source = row["source"]
    known = source in sources.index
    path, digest = (str(sources.loc[source, name]) for name in ("path", "sha256")) if known else (str(source), "")
    return TracedShot(shot=row, role=role, weight=weight, path=path, sha256=digest, causes=causes)


def _causes(results: Results, key: str) -> tuple[str, ...]:
    if "cause_shots" not in results.layers:
        return ()
    moved = results.layers["cause_shots"]
    mine = moved[(moved["shot_key"] == key) & moved["holds"].astype(bool)]
    return tuple(
        f"{cause}: {subject}" for cause, subject in zip(mine["cause"], mine["subject"].fillna(""), strict=True)
    )


def _other_sources(results: Results, finding: Mapping[Any, Any]) -> tuple[Mapping[str, Any], ...]:
    """Files of what the number was held against: by the name of the design in `against`, or the control."""
    sources = results.layers["sources"]
    against = str(finding["against"]).split("; ")
    roles = {"control"} if "control" in (finding["kind"], *against) else set()
    if finding["check"] in FROM_NOTES:
        roles.add("structures")
    mine = sources[sources["source"].isin(against) | sources["role"].isin(roles)]
    return tuple(
        {name: row[name] for name in ("role", "path", "sha256", "sheet", "revision")} for row in mine.to_dict("records")
    )
