"""Several shots of one place, judged as one value."""

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.work import ELEVATION, OFFSET, POSITION
from geoqa.model import words
from geoqa.model.check import Check
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.model.words import number, station
from geoqa.steps.design.applied_shifts import applied_in_plan
from geoqa.steps.design.deviations import along_lines, at_points
from geoqa.steps.design.differing_passes import BETWEEN, differing_passes
from geoqa.steps.design.less_shift import first_named
from geoqa.steps.design.repeated_shots import PLACE, Places, places_of, reported_at
from geoqa.steps.design.runs import run_of
from geoqa.steps.judging.findings import asked, evidence_of, findings_of, with_limits
from geoqa.steps.judging.remedies import level_ties
from geoqa.steps.judging.text_columns import rows_of, taken


class OnePlace(Step):
    """Judge several shots of one place as one value: their mean, weighed by what is independent in them.

    Of one place are shots of one kind that stand against one design point, or against one design line within `apart`
    along it. How far they lie apart across the line, or in elevation, is not asked first: what differs is not left
    out. But passes of a line whose numbers differ show different work, as before and after a rework: each is judged by
    its own shots, as in runs. Shots of one session share its common part, and shots close in time share the part of
    their random error that the crew's repeats say at most, or all of it where these say nothing; the share falls to a
    twentieth in four hours. Three shots a minute apart so count as one. The findings of the shots are kept and point to
    that of the place. Where the shots differ by more than their uncertainties allow, the uncertainty of the mean is
    taken as much larger, and the finding says so; and it names the one shot that all others, of two sessions or more,
    contradict.
    """

    name = "one-place"
    needs = ("limits", "shots.use", "shots.flags", "shots.u_h_random", "shots.u_v_random")
    wants = (
        *("control", "line_matches", "design_lines", "design_elements", "point_matches", "design_points"),
        *(
            "crew_precision",
            "run_members",
            "runs",
            "session_shifts",
            "believed_parts",
            "older_designs",
            "apart_shots",
            "loose_sessions",
            "loose_shots",
        ),
    )
    gives = ("places", "place_members")
    adds = ("findings", "evidence")

    apart: Length = Field(PLACE, description="Stretch of a line within which shots are of one place")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One finding a place and check."""
        sources = []
        if "line_matches" in layers and "design_lines" in layers:
            sources += [(check, along_lines(layers, check.name), False) for check in (OFFSET, ELEVATION)]
        if "point_matches" in layers and "design_points" in layers:
            sources += [(check, at_points(layers, check.name), True) for check in (POSITION, ELEVATION)]
        made = [self._of(layers, *each) for each in sources]
        tables = zip(*made, strict=True) if made else ([], [], [], [])
        names = ("places", "place_members", "findings", "evidence")
        return {
            name: pd.concat(kept, ignore_index=True) if (kept := [part for part in parts if len(part)]) else empty(name)
            for name, parts in zip(names, tables, strict=True)
        }

    def _of(self, layers: Layers, check: Check, rows: pd.DataFrame, points: bool) -> tuple[pd.DataFrame, ...]:
        nothing = tuple(empty(name) for name in ("places", "place_members", "findings", "evidence"))
        free = rows[rows["why"] == 0].reset_index(drop=True)
        values = free[["deviation"]].to_numpy(float)
        if check.radial:
            values = free[["easting", "northing"]].to_numpy(float) - _design_at(layers, free)
            values = values - applied_in_plan(layers, free)
        reach = self.apart.to(layers.frame.unit)
        work = None if points else differing_passes(layers, free, gap=BETWEEN.to(layers.frame.unit))
        found = places_of(layers, free, values, reach=reach, at_points=points, vertical=check is ELEVATION, work=work)
        if found is None:
            return nothing
        limited = asked(
            with_limits(_rows(check, free, found, points, layers.frame.unit.name), layers["limits"], check=check)
        )
        if not len(limited):
            return nothing
        keys = limited["keys"].tolist()
        told = limited.drop(columns=["keys", "weights", "shots", "independent", "enlarged"])
        findings = findings_of(
            told, check=check, limits=layers["limits"], unit=layers.frame.unit.name, keys=keys,
            u_tied=level_ties(layers) if check is ELEVATION else 0.0,
        )  # fmt: skip
        joined = limited.assign(finding=findings["finding"], against=findings["against"], check=check.name)
        members = joined[["finding", "check", "against", "keys", "weights"]].explode(["keys", "weights"])
        members = members.rename(columns={"keys": "shot_key", "weights": "weight"}).reset_index(drop=True)
        members = conform("place_members", members.astype({"weight": float, "shot_key": "str"}))
        findings["run"] = _run_of_place(findings, members, layers)
        places = joined.assign(verdict=findings["verdict"], mean=joined["deviation"], place=joined["finding"])
        proof = evidence_of(
            members["finding"], members["shot_key"], role="member", layer="shots", weights=members["weight"]
        )
        return conform("places", places), members, findings, proof


def _rows(check: Check, rows: pd.DataFrame, found: Places, points: bool, unit: str) -> pd.DataFrame:
    """Row that is judged for each place."""
    made = rows[["kind", "subject", "source"]].iloc[found.first].reset_index(drop=True)
    made = made.assign(**{name: found.mean(rows[name]) for name in _MEANS})
    if "second" in rows:
        made = made.assign(**_second(rows, found))
    if "of_session" in rows:
        shift = found.mean(rows["of_session"].fillna(0.0))
        made = made.assign(of_session=shift, hangs_on=first_named(rows, found.row, found.begin))
    deviation = np.hypot(*found.value.T) if check.radial else found.value[:, 0]
    measured = found.mean(rows["measured"]) if check is ELEVATION else deviation
    whole = np.hypot(rows["u_random"].to_numpy(float), rows["u_common"].to_numpy(float))
    where = made["subject"].map("of {}".format) if points else made["station"].map(lambda each: f"at {station(each)}")
    told = zip(found.shots.tolist(), where, found.independent.tolist(), strict=True)
    differ = found.enlarged > 1
    return made.assign(
        label=[f"{count} shots {place}, as good as {number(good, 1)} independent" for count, place, good in told],
        shot=taken([], np.full(len(made), -1)), deviation=deviation, measured=measured, design=measured - deviation,
        u_common=found.u_common, u_random=found.u_random,
        u_more=[float(np.median(each)) for each in found.lists(whole[found.row])],
        why=np.where(differ, check.why("shots-differ"), 0),
        remedy=pd.Series([_differing(check, rows, found, at, unit) for at in range(len(made))], dtype="str"),
        keys=pd.Series(found.lists(rows["shot"].to_numpy(dtype=object)[found.row]), dtype=object),
        weights=pd.Series(found.lists(found.weight), dtype=object),
        shots=found.shots, independent=found.independent, enlarged=found.enlarged,
    )  # fmt: skip


def _differing(check: Check, rows: pd.DataFrame, found: Places, place: int, unit: str) -> str | None:
    """What to do at a place whose shots differ: settle the one that the others contradict, else shoot it again."""
    others, odd = found.others[place], int(found.odd[place])
    if not found.enlarged[place] > 1:
        return None
    if others is None:
        return DIFFER
    value = float(np.hypot(*others.value)) if check.radial else float(others.value[0])
    number = words.deviation(value, check, check.quantity, unit)
    u = words.quantity(float(np.hypot(others.u_random, others.u_common)), check.quantity, unit)
    return ODD.format(rows["label"].iloc[odd], len(others.weight), number, u)


def _second(rows: pd.DataFrame, found: Places) -> dict[str, pd.Series | np.ndarray]:
    """Second reading of each place: the mean over its shots, each read in the second way where it has one."""
    there = rows["second"].notna().to_numpy()[found.row].astype(float)
    some = np.add.reduceat(there, found.begin) > 0
    number = found.mean(rows["second"].where(rows["second"].notna(), rows["deviation"]))
    code = np.maximum.reduceat(rows["second_why"].to_numpy()[found.row], found.begin)
    first = rows.iloc[found.first].reset_index(drop=True)
    return {"second": np.where(some, number, np.nan), "second_why": np.where(some, code, 0),
            "second_for": first["second_for"], "second_cause": first["second_cause"]}  # fmt: skip


_MEANS = ("easting", "northing", "elevation", "station", "offset")

DIFFER = (
    "find out which of them is wrong: shoot the place again in another checked session, 4 h or more later; if it was "
    "built anew between them, leave the older ones out"
)
ODD = (
    "{} lies apart from the other {}, which agree: {} with u of {}; find out what is wrong with it, or was built anew "
    "between them, leave out what does not stand and run again"
)


def reported_by(findings: pd.DataFrame, layers: Layers) -> pd.Series:
    """Finding of the run, else of the place, that reports each finding of a single shot; null for none."""
    run = run_of(findings, layers)
    return run.where(run.notna(), reported_at(findings, layers))


def _design_at(layers: Layers, rows: pd.DataFrame) -> np.ndarray:
    points = layers["design_points"]
    place = rows_of(rows["subject"], points["point"])
    return np.asarray(points[["easting", "northing"]].to_numpy(float)[place])


def _run_of_place(findings: pd.DataFrame, members: pd.DataFrame, layers: Layers) -> pd.Series:
    """Run that reports each place: the one that its first shot is in."""
    first = members.drop_duplicates("finding").set_index("finding")["shot_key"]
    shots = findings["finding"].map(first).astype("str")
    return run_of(findings.assign(shot=shots), layers)
