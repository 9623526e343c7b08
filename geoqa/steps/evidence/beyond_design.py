"""As-built work without design."""

import math

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.work import EXTRA
from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.reasons import WHY
from geoqa.model.step import Step
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import AGAIN, has_flag
from geoqa.steps.causes.open_blunders import rejected_otherwise, under_blunder
from geoqa.steps.design.alignments import alignments
from geoqa.steps.design.design_apart import apart_as_a_whole, lies_apart
from geoqa.steps.design.file_apart import apart_from_a_file
from geoqa.steps.judging.findings import evidence_of, findings_of
from geoqa.steps.judging.text_columns import codes_of, rows_of
from geoqa.steps.shots.flags import noted


class BeyondDesign(Step):
    """Report shots of judged kinds that lie beyond reach of all design of their kind.

    Neighbours of one string (same code and line ID) make one finding that counts them. How far the next design of the
    kind lies is told beside the count, and is no deviation: nothing there is what they were built by. Kinds with
    neither design nor a tolerance against one are not judged. Where a kind has such a tolerance and no design at all,
    nothing can be counted, and the finding says so. Shots under an open blunder and rejected shots are grouped apart,
    each with its reason, and not judged.
    Shots that lie on one design file once all of it is moved are not called undesigned either.
    Where nearly all shots have no design within reach, one note says that design and shots lie apart as a whole,
    and none of them is called undesigned.
    """

    name = "beyond-design"
    needs = ("shots.kind", "shots.role", "shots.use", "shots.u_h_random", "limits")
    wants = ("line_matches", "point_matches", "design_lines", "design_elements", "design_points", "cause_shots",
             "apart_shots")  # fmt: skip
    adds = ("findings", "evidence", "notes")

    reach: Length = Field(Length.parse("10 ft"), description="As in match-lines and match-points")
    together: Length = Field(
        Length.parse("100 ft"), description="A longer distance between shots parts a string in two"
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Pick the shots nobody matched, group them, measure."""
        shots, unit = layers["shots"], layers.frame.unit
        rows = _unmatched(layers)
        if not len(rows):
            return {"findings": empty("findings"), "evidence": empty("evidence"), "notes": empty("notes")}
        distance = _distances(layers, rows)
        notes = noted(self.name, apart_as_a_whole(layers, rows, distance))
        why = _reasons(layers)[rows]
        order, group = _strings(shots, rows, why, self.together.to(unit))
        rows, distance, why = rows[order], distance[order], why[order]
        first = np.flatnonzero(np.append(True, np.diff(group) > 0))
        nearest = np.minimum.reduceat(distance, first)
        # the shot nearest to the design stands for its string
        at_nearest = np.flatnonzero(distance == nearest[group])
        stands = at_nearest[np.unique(group[at_nearest], return_index=True)[1]]
        lead = shots.iloc[rows[stands]].assign(why=why[stands]).reset_index(drop=True)
        count = np.diff(np.append(first, len(rows)))
        keys = [list(each) for each in np.split(shots["shot_key"].to_numpy(dtype=object)[rows], first[1:])]
        table = self._rows(lead, nearest, count, unit.name)
        findings = findings_of(table, check=EXTRA, limits=layers["limits"], unit=unit.name, keys=keys)
        names = findings["finding"].to_numpy(dtype=object)
        evidence = evidence_of(names[group], shots["shot_key"].iloc[rows], role="member", layer="shots")
        return {"findings": findings, "evidence": evidence, "notes": notes}

    def _rows(self, lead: pd.DataFrame, distance: np.ndarray, count: np.ndarray, unit: str) -> pd.DataFrame:
        measured = np.where(np.isfinite(distance), count, np.nan)
        name = lead["line_id"].where(lead["line_id"].notna(), lead["code"])
        shots = pd.Series([f"{each} shot{'s' if each > 1 else ''}" for each in count], dtype="str")
        beyond = (lead["why"] == WHY["no-design"]).to_numpy(bool)
        return lead[["kind", "easting", "northing", "elevation"]].assign(
            subject="-",
            source="design",
            shot=lead["shot_key"],
            label=shots + " of " + name,
            limit=-1,
            lower=-np.inf,
            upper=0.0,
            rule="guarded",
            reference=f"the reach of a match, {self.reach}",
            measured=measured,
            deviation=measured,
            u_common=0.0,
            u_random=0.0,
            why=lead["why"],
            remedy=pd.Series([_shown(each, unit) for each in distance.tolist()], dtype="str").where(beyond),
        )


FAR = 100.0
"""From here on nobody asks for the tenths of how far other work is."""


def _shown(distance: float, unit: str) -> str:
    """What settles it, with the way to the next design of the kind where there is any.

    Examples
    --------
    >>> _shown(834.5076, "ft")
    'show the design of it, or have it recorded as an addition; the nearest design of its kind is 835 ft away'
    >>> _shown(math.inf, "ft")
    'show the design of it, or have it recorded as an addition'
    """
    asked = "show the design of it, or have it recorded as an addition"
    if not math.isfinite(distance):
        return asked
    away = words.quantity(distance, "length", unit, digits=0 if distance >= FAR else 1)
    return f"{asked}; the nearest design of its kind is {away} away"


def _reasons(layers: Layers) -> np.ndarray:
    """What is said of each shot that lies beyond all design: that it does, or first what keeps it from being judged."""
    shots = layers["shots"]
    return np.select(
        [
            has_flag(shots, "identical-to-design"),
            rejected_otherwise(layers),
            under_blunder(layers, vertical=True),
            ~shots["use"].to_numpy(bool),
            apart_from_a_file(layers),
        ],
        [WHY["identical-to-design"], WHY["screened"], WHY["open-blunder"], WHY["screened"], WHY["design-apart"]],
        WHY["design-apart"] if lies_apart(layers) else WHY["no-design"],
    )


_BY_DESIGN = ("offset", "position", "elevation")
"""Checks that hold a shot against a design: a ramp or a walk is judged by its own shots, and lacks none."""


def _unmatched(layers: Layers) -> np.ndarray:
    """Places of shots of judged kinds that no design of their kind has within reach."""
    shots = layers["shots"]
    limits = layers["limits"]
    judged = set(limits.loc[limits["check"].isin(_BY_DESIGN), "kind"])
    for name in ("design_lines", "design_points"):
        judged |= set(layers[name]["kind"]) if name in layers else set()
    wanted = (shots["role"] == "feature") & shots["kind"].isin(judged)
    wanted &= shots["easting"].add(shots["northing"]).notna() & ~has_flag(shots, AGAIN)
    for name in ("line_matches", "point_matches"):
        if name in layers:
            wanted &= ~_matched(shots["shot_key"], layers[name])
    return np.flatnonzero(wanted)


def _matched(keys: pd.Series, matches: pd.DataFrame) -> np.ndarray:
    there = np.zeros(len(keys), dtype=bool)
    there[rows_of(matches["shot_key"], keys)] = True
    return there


def _distances(layers: Layers, rows: np.ndarray) -> np.ndarray:
    """Distance to the nearest design of the kind; infinite where there is none."""
    import shapely

    from geoqa.kernels.design.along_elements import chords

    shots = layers["shots"].iloc[rows]
    at = shots[["easting", "northing"]].to_numpy(float)
    kind = shots["kind"].to_numpy(dtype=object)
    shapes, kinds = [np.zeros(0, dtype=object)], [np.zeros(0, dtype=object)]
    if "design_lines" in layers and len(layers["design_elements"]):
        design = alignments(layers)
        drawn = chords(design.elements, max_sagitta=0.001)
        pair = np.flatnonzero(drawn.line[1:] == drawn.line[:-1])
        ends = np.stack([drawn.coordinates[pair], drawn.coordinates[pair + 1]], axis=1)
        shapes.append(shapely.linestrings(ends))
        kinds.append(design.kinds[drawn.line[pair]])
    if "design_points" in layers:
        shapes.append(shapely.points(layers["design_points"][["easting", "northing"]].to_numpy(float)))
        kinds.append(layers["design_points"]["kind"].to_numpy(dtype=object))
    shape, of = np.concatenate(shapes), np.concatenate(kinds)
    distance = np.full(len(rows), np.inf)
    for each in sorted(set(kind)):
        mine, theirs = np.flatnonzero(kind == each), np.flatnonzero(of == each)
        if len(theirs):
            tree = shapely.STRtree(shape[theirs])
            (one, _), far = tree.query_nearest(shapely.points(at[mine]), return_distance=True, all_matches=False)
            distance[mine[one]] = far
    return distance


def _strings(shots: pd.DataFrame, rows: np.ndarray, why: np.ndarray, together: float) -> tuple[np.ndarray, np.ndarray]:
    """Order of the rows by string and place in it, and number of the neighbourhood of each."""
    mine = shots.iloc[rows]
    string, _ = codes_of(
        mine["kind"], mine["code"], mine["line_id"].fillna(""), mine["source"], pd.Series(why).astype("str")
    )
    sequence = mine["sequence"].to_numpy(float, na_value=np.inf)
    time = mine["time"].astype("int64").to_numpy()
    key = np.argsort(np.argsort(mine["shot_key"].to_numpy(dtype=object)))
    order = np.lexsort((key, time, sequence, string))
    at = mine[["easting", "northing"]].to_numpy(float)[order]
    step = np.hypot(*np.diff(at, axis=0).T)
    new = (np.diff(string[order]) > 0) | (step > together)
    return order, np.cumsum(np.append(False, new))
