"""Numbers that people cite: what is out at one place is one item, what is open is one item a kind and check."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.chapters import CHAPTERS, in_chapters
from geoqa.contract.shown_by import cause_of_checks
from geoqa.contract.spoken import spoken
from geoqa.contract.survey import SESSION_SHIFT
from geoqa.kernels.listing.one_place import one_place, unbroken
from geoqa.model.quantity import Length
from geoqa.model.reasons import OF_THE_DESIGN
from geoqa.model.signs import ranks
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform
from geoqa.model.tables.in_rows import in_rows
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.order import worst_first
from geoqa.model.tables.seen import ROW, hashed, judgements, measurements
from geoqa.steps.listing.register import numbered
from geoqa.steps.shots.strings import without_pass

NEARER = 3
"""Share of `near` within which an item that was shot anew is the one it was."""
OF_A_RAMP = ("ramp-slope", "ramp-cross-slope", "turning-space", "turning-slope", "flare-slope", "counter-slope")
"""Checks whose kind is that of ramps."""


class Items(Step):
    """Give every finding that is not within tolerance the number of its item.

    What is out of the work at one place is one item: findings that share a shot, those of one line, point or structure
    no farther apart than `near`, and neighbouring numbers of one line and check that are out to one side, where no
    other number of that check lies between them and they are no farther apart than `unbroken`. Control checks stand
    under the survey blunder that explains them, or under the one that says nothing does; a session that is shifted as
    a whole is one item, along whatever axes. What cannot be decided, or is not judged, is one item a kind, check and
    reason; what waits for a matter of its design file is one a file. Numbers run in the order of the list: the work by
    what a defect spoils, then what was not measured, then the survey. A number that an earlier run gave is kept, also
    that of an item which is gone: it is not given again.
    """

    name = "items"
    needs = ("findings", "evidence")
    wants = ("cause_shots", "survey_doubt", "earlier_items", "findings.baseline_place")
    gives = ("items",)
    extends = ("findings.item",)

    near: Length = Field(Length.parse("30 ft"), description="Findings of one line no farther apart are one item")
    unbroken: Length = Field(
        Length.parse("110 ft"),
        description="Neighbours of one line that are out alike, with nothing else between them, are one item up to "
        "this distance: a full station and what shots stray from it",
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """The register, and the number of every finding."""
        findings = layers["findings"]
        listed = findings[findings["run"].isna() & (findings["verdict"] != "IN")]
        listed = listed.take(worst_first(listed["excess"], listed["finding"], ranks(listed["verdict"])))
        parts = [
            _grouped(
                layers, chapter.subject, rows, *(each.to(layers.frame.unit) for each in (self.near, self.unbroken))
            )
            for chapter, rows in in_chapters(listed)
        ]
        rows = pd.concat(parts) if parts else listed.assign(chapter="", key="")
        groups = rows.groupby("key", sort=False)
        first = groups.head(1)
        items = pd.DataFrame(
            {
                "chapter": first["chapter"].to_numpy(),
                "verdict": first["verdict"].to_numpy(),
                "finding": first["finding"].to_numpy(),
                "check": first["check"].to_numpy(),
                "kind": first["kind"].to_numpy(),
                "subject": first["subject"].to_numpy(),
                "findings": groups.size().to_numpy(np.int64),
                "easting": first["easting"].to_numpy(float),
                "northing": first["northing"].to_numpy(float),
                "why": first["why"].to_numpy(),
                "members": _members(groups, first),
                "told": [spoken(row, layers.frame.unit.name) for row in in_rows(first)],
                **_hashes(layers, rows, first),
            }
        )
        earlier = layers["earlier_items"] if "earlier_items" in layers else None  # noqa: SIM401 - layers have no default
        items = numbered(items, earlier, near=self.near.to(layers.frame.unit) / NEARER)
        of_key = dict(zip(first["key"], items["item"].head(len(first)), strict=True))
        item = pd.Series(rows["key"].map(of_key), dtype="str").reindex(findings.index)
        members = findings["run"].notna() & (findings["verdict"] != "IN")
        runs = findings["finding"].isin(findings.loc[members, "run"].unique())
        by_run = dict(zip(findings.loc[runs, "finding"], item[runs], strict=True))
        item[members] = findings.loc[members, "run"].map(by_run).astype("str")
        return {"items": conform("items", items), "findings": pd.DataFrame({"item": item.astype("str")})}


def _members(groups: Any, first: pd.DataFrame) -> np.ndarray:
    """Ids of the findings of each item that is out; the others are known by what they ask."""
    joined = groups["finding"].agg(";".join)
    return np.where(first["verdict"].to_numpy() == "OUT", joined.to_numpy(dtype=object), "")


def _hashes(layers: Layers, rows: pd.DataFrame, first: pd.DataFrame) -> dict[str, list[str]]:
    """What is judged of each item, and the rows it was judged from: by these a decision on it, or a round, is held."""
    evidence, shots = layers["evidence"], layers["shots"]
    mine = (evidence["layer"] == "shots") & evidence["finding"].isin(rows["finding"])
    behind: dict[str, list[str]] = {name: [] for name in rows["finding"].to_numpy(object).tolist()}
    for finding, key in zip(
        *(evidence[name][mine].to_numpy(object).tolist() for name in ("finding", "key")), strict=True
    ):
        behind[finding].append(key)
    asked = {*rows["shot"].dropna().to_numpy(object).tolist()}.union(*behind.values())
    there = shots["shot_key"].isin(list(asked)).to_numpy(bool)  # of a season's shots a few, and of each a few columns
    shots = pd.DataFrame({name: shots[name][there] for name in ("shot_key", *ROW) if name in shots})
    shots = shots.drop_duplicates("shot_key")
    measured = dict(zip(shots["shot_key"].to_numpy(object).tolist(), measurements(shots), strict=True))
    judged: dict[str, list[str]] = {key: [] for key in first["key"]}
    keys: dict[str, set[str]] = {key: set() for key in first["key"]}
    told = judgements(rows, layers.frame.unit.name)
    named = (rows[name].to_numpy(object).tolist() for name in ("key", "finding", "shot"))
    for key, finding, shot, text in zip(*named, told, strict=True):
        judged[key].append(text)
        keys[key].update(behind.get(finding, ()))
        if shot == shot and shot is not None:
            keys[key].add(shot)
    known = [[measured[each] for each in mine if each in measured] for mine in keys.values()]
    return {
        "seen": [hashed(each) for each in judged.values()],
        "rows": [hashed(each) if each else "" for each in known],
    }


def _grouped(layers: Layers, chapter: str, rows: pd.DataFrame, near: float, reach: float) -> pd.DataFrame:
    """Rows of a chapter with the key of their item: what is out by place or cause, the rest by what it asks."""
    out = (rows["verdict"] == "OUT").to_numpy(bool)
    kinds = rows["verdict"] + " " + rows["check"] + " " + rows["kind"].fillna("-") + " " + rows["why"]
    kinds = kinds.where(~rows["why"].isin(OF_THE_DESIGN), rows["why"] + " " + rows["against"])
    key = kinds.where(~out, rows["finding"])
    if chapter == CHAPTERS[0].subject:
        key[out] = _by_place(layers, rows[out], near, reach)
    elif chapter == "survey":
        shifted = out & (rows["check"] == SESSION_SHIFT.name).to_numpy(bool)
        key[shifted] = rows.loc[shifted, "finding"].groupby(rows["subject"]).transform("first")
        cause = cause_of_checks(layers, rows)
        explained = out & cause.isin(rows["finding"]).to_numpy(bool)
        key[explained] = cause[explained]
    return rows.assign(chapter=chapter, key=chapter + " " + key)


def _by_place(layers: Layers, rows: pd.DataFrame, near: float, reach: float) -> np.ndarray:
    """First finding of the place of each."""
    evidence = layers["evidence"]
    family = _families(rows["kind"].fillna("-"))
    mine = evidence[(evidence["layer"] == "shots") & evidence["finding"].isin(rows["finding"])]
    at = pd.Series(np.arange(len(rows)), index=rows["finding"].to_numpy())
    own = rows["shot"].notna().to_numpy(bool)
    finding = np.concatenate([at.reindex(mine["finding"]).to_numpy(np.int64), np.flatnonzero(own)])
    shot = np.concatenate([mine["key"].to_numpy(object), rows["shot"][own].to_numpy(object)])
    # a rim whose shot also tells the slope of a pipe is another thing than the pipe
    shared = pd.Series(shot, dtype="str") + " " + family[finding]
    group = one_place(
        pd.factorize(family + " " + _subjects(layers, rows))[0].astype(np.int64),
        rows["station"].to_numpy(float),
        rows["station_end"].fillna(rows["station"]).to_numpy(float),
        rows[["easting", "northing"]].to_numpy(float),
        finding.astype(np.int64),
        pd.factorize(shared)[0].astype(np.int64),
        near=near,
        pairs=_neighbours(layers["findings"], rows, reach),
    )
    firsts = rows["finding"].to_numpy()[np.unique(group, return_index=True)[1]]
    return firsts[group]


def _neighbours(findings: pd.DataFrame, rows: pd.DataFrame, reach: float) -> np.ndarray:
    """Places of pairs of rows that are neighbours among all numbers of their line and check, out to one side."""
    about = ["subject", "check", "against"]
    asked = ["finding", "station", "station_end", "deviation", "lower", "upper"]
    mine = findings[[*about, *asked]][
        findings["run"].isna()
        & findings["station"].notna()
        & findings["subject"].isin(rows["subject"])
        & findings["check"].isin(rows["check"])
    ]
    side = np.select([mine["deviation"] > mine["upper"], mine["deviation"] < mine["lower"]], [1, 2], 0)
    pairs = unbroken(
        mine.groupby(about, dropna=False).ngroup().to_numpy().astype(np.int64),
        mine["station"].to_numpy(float),
        mine["station_end"].to_numpy(float),
        np.where(mine["finding"].isin(rows["finding"]), side, 0).astype(np.int64),
        reach=reach,
    )
    place = pd.Series(np.arange(len(rows)), index=rows["finding"].to_numpy())
    return place[mine["finding"].to_numpy()[pairs].ravel()].to_numpy(np.int64).reshape(-1, 2)


def _families(kinds: pd.Series) -> np.ndarray:
    """Kind of each, or the one whose name it goes on with, if that is there: the front of a walk is of the walk."""
    there = set(kinds)
    first = kinds.str.split("-").str[0]
    return first.where(first.isin(there), kinds).to_numpy(object)


def _subjects(layers: Layers, rows: pd.DataFrame) -> np.ndarray:
    """What each is about; corners and edges of a ramp are about the ramp, passes of a line about the line."""
    ramps = set(layers["findings"].loc[layers["findings"]["check"].isin(OF_A_RAMP), "kind"].dropna())
    whole = rows["subject"].str.extract(r"^([^ ,]+)")[0].fillna(rows["subject"])
    return rows["subject"].map(without_pass).where(~rows["kind"].isin(ramps), whole).to_numpy(object)
