"""Bellies and humps: shots on top of a pipe against the straight line between its ends."""

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.utilities import STRAIGHTNESS, STRAIGHTNESS_OF_DIAMETER
from geoqa.contract.utility_sentences import belly, rises
from geoqa.kernels.design.run_means import bounded_means
from geoqa.kernels.design.runs import find_runs
from geoqa.kernels.utilities.chords import FromChord, from_chord, reversals
from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.by_members import held_by_members
from geoqa.steps.judging.one_a_line import one_a_line
from geoqa.steps.judging.remedies import NOTHING_AGAIN
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import NEEDS, observed
from geoqa.steps.linework.observed import WANTS as OBSERVED_WANTS
from geoqa.steps.shots.strings import pass_words
from geoqa.steps.utilities.judged import Found, found, judged, together
from geoqa.steps.utilities.noted import noted_names
from geoqa.steps.utilities.pipes import attributes
from geoqa.steps.utilities.tops import WANTS, pipe_shots

Rise = tuple[str, str, float]
"""A leg that rises: from which shot, to which, by how much."""


class Straightness(Step):
    """Judge every shot on top of a pipe, and every belly or hump of neighbours by its mean.

    The straight line runs from the first to the last usable shot of the pipe, on a design line with bends from bend to
    bend; a session that shot three or more places between the ends of what others had shot has a line of its own, in
    which what the session shares cancels. What the ends are off by is in the uncertainty of every deviation, so a belly
    is never made surer than its ends. A leg that rises against the fall of the pipe by more than three standard
    uncertainties is told.
    """

    name = "straightness"
    needs = ("limits", *NEEDS)
    wants = ("structure_notes", *WANTS, *OBSERVED_WANTS)
    adds = ("findings", "evidence")

    reach_between: Length = Field(
        Length.parse("50 ft"), description="A longer distance between neighbours ends a belly"
    )
    shortest: int = Field(2, ge=2, description="Fewest shots of a belly")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Pipes of kinds with a tolerance."""
        limits = layers["limits"]
        mine = limits["check"].isin([STRAIGHTNESS.name, STRAIGHTNESS_OF_DIAMETER.name])
        tops = pipe_shots(layers, set(limits.loc[mine, "kind"]))
        tops = tops[tops["measured"]].reset_index(drop=True)
        if not len(tops):
            return together()
        shots = observed(layers)
        usable = (shots[["why_plan", "why_elevation"]] == 0).all(axis=1).to_numpy()[tops["row"]]
        stretch = tops["number"].astype(str) + "/" + tops["part"].astype(str)
        tops["turn"] = _turns(stretch, shots.iloc[tops["row"]].reset_index(drop=True))
        tops["line"] = pd.factorize(stretch + "/" + tops["turn"].astype(str))[0]
        counted = tops[usable].groupby("line")["row"].size()
        enough = tops["line"].isin(counted.index[counted >= 3])
        few = tops[~stretch.isin(stretch[enough])]
        few = few.assign(line=few["number"].astype(str) + "/" + few["part"].astype(str))
        rows = _along(tops[enough], shots, usable)
        asked = _limited(layers, rows)
        return together(*self._judged(layers, asked), _few(layers, few), _without_diameter(layers, tops))

    def _judged(self, layers: Layers, rows: pd.DataFrame) -> tuple[Found, ...]:
        if not len(rows):
            return ()
        shots, unit = observed(layers), layers.frame.unit
        chord, made = _deviations(layers, rows)
        rises_on = _reversals(rows, shots, chord)
        usable = (made["why"] == 0).to_numpy() & rows["usable"].to_numpy()
        inner = usable & (np.arange(len(rows)) != chord.first) & (np.arange(len(rows)) != chord.last)
        at = np.flatnonzero(inner)
        line = rows["line"].to_numpy() * (len(layers["limits"]) + 1) + rows["limit"].to_numpy()
        place = rows[["e", "n"]].to_numpy(float)
        station = chord.share * np.hypot(*(place[chord.last] - place[chord.first]).T)
        given = {
            "line": line[at], "station": station[at], "deviation": made["deviation"].to_numpy()[at],
            "u_random": made["u_random"].to_numpy()[at], "lower": rows["lower"].to_numpy()[at],
            "upper": rows["upper"].to_numpy()[at],
        }  # fmt: skip
        bellies = find_runs(
            given["line"], given["station"], given["deviation"], given["u_random"], lower=given["lower"],
            upper=given["upper"], reach_between=self.reach_between.to(unit), shortest=self.shortest,
        )  # fmt: skip
        run_of = np.full(len(rows), -1)
        runs: Found | None = None
        if len(bellies.side):
            of = shots.iloc[rows["row"].to_numpy()[at]]
            means = bounded_means(
                bellies, **given, u_common=made["u_common"].to_numpy()[at], group=of["group_v"].to_numpy(),
                minutes=of["minutes"].to_numpy(float),
            )  # fmt: skip
            run_of[at[bellies.row]] = bellies.run
            runs = _runs(layers, rows, chord, run_of, station, rises_on, np.asarray(means.u_random))
        single = _singles(layers, rows, made, inner, rises_on, run_of, None if runs is None else runs[0])
        return (single,) if runs is None else _beside(single, runs)


def _turns(stretch: pd.Series, of: pd.DataFrame) -> np.ndarray:
    """Which pass of its stretch each shot is of: sessions in order of time, what carries a pass on in that pass."""
    turn = np.zeros(len(stretch), dtype=np.int64)
    for _, mine in of.groupby(stretch.to_numpy(), sort=False):
        place = mine[["easting", "northing"]].to_numpy(float)
        main = np.linalg.svd(np.nan_to_num(place - np.nanmean(place, axis=0)), full_matrices=False)[2][0]
        table = mine[["group_v", "minutes", "shot"]].assign(along=(place - place[0]) @ main)
        sessions = sorted(table.groupby("group_v"), key=lambda each: (each[1]["minutes"].min(), each[1]["shot"].min()))
        ends: list[tuple[float, float]] = []
        for _, rows in sessions:
            low, high = rows["along"].min(), rows["along"].max()
            inside = [int(rows["along"].between(*each, inclusive="neither").sum()) for each in ends]
            inside += [0]
            own = next(nth for nth, count in enumerate(inside) if count < 3)
            ends[own : own + 1] = [(min(low, *ends[own][:1]), max(high, *ends[own][1:])) if ends[own:] else (low, high)]
            turn[rows.index] = own
    return turn


def _along(tops: pd.DataFrame, shots: pd.DataFrame, usable: np.ndarray) -> pd.DataFrame:
    """Shots of each line in order along it, the usable ones between its ends; the others stand at its end."""
    parts = []
    for _, rows in tops.groupby("line", sort=True):
        of = shots.iloc[rows["row"]]
        place = of[["easting", "northing"]].to_numpy(float)
        good = (of[["why_plan", "why_elevation"]] == 0).all(axis=1).to_numpy()
        middle = place[good].mean(axis=0)
        main = np.linalg.svd(place[good] - middle, full_matrices=False)[2][0]
        if (place[good][-1] - place[good][0]) @ main < 0:
            main = -main
        along = np.where(good, (place - middle) @ main, np.inf)
        placed = rows.assign(usable=good, along=along, e=place[:, 0], n=place[:, 1])
        parts.append(placed.sort_values("along", kind="stable"))
    if not parts:
        return tops.assign(usable=False, along=np.nan, e=np.nan, n=np.nan)
    return pd.concat(parts, ignore_index=True)


def _limited(layers: Layers, rows: pd.DataFrame) -> pd.DataFrame:
    """Rows once for each rule set, with their lower and upper limit: the lesser of a length and a share of diameter."""
    limits = layers["limits"]
    sizes = _diameters(layers)
    diameter = np.array(
        [sizes.get((kind, pipe), np.nan) for kind, pipe in zip(rows["kind"], rows["pipe"], strict=True)]
    )
    parts = []
    for (kind, _), mine in limits[limits["check"].isin([STRAIGHTNESS.name, STRAIGHTNESS_OF_DIAMETER.name])].groupby(
        ["kind", "ruleset"], sort=True
    ):
        here = (rows["kind"] == kind).to_numpy()
        places = {str(check): int(place) for check, place in zip(mine["check"], mine.index, strict=True)}
        by_length, by_share = (places.get(check.name, -1) for check in (STRAIGHTNESS, STRAIGHTNESS_OF_DIAMETER))
        length = float(limits["upper"].iloc[by_length]) if by_length >= 0 else np.inf
        share = float(limits["upper"].iloc[by_share]) * diameter[here] if by_share >= 0 else np.full(here.sum(), np.inf)
        upper = np.fmin(length, np.where(np.isnan(share), np.inf, share))
        part = rows[here].assign(limit=by_length if by_length >= 0 else by_share, lower=-upper, upper=upper)
        parts.append(part[np.isfinite(upper)])
    return pd.concat(parts, ignore_index=True) if parts else rows.assign(limit=-1, lower=np.nan, upper=np.nan)[:0]


def _deviations(layers: Layers, rows: pd.DataFrame) -> tuple[FromChord, pd.DataFrame]:
    """Shots against the chord of their line and rule set; unusable ones do not count as its ends."""
    shots, unit = observed(layers), layers.frame.unit.name
    group = pd.factorize(rows["line"].astype(str) + "/" + rows["limit"].astype(str))[0]
    usable = rows["usable"].to_numpy(bool)
    points = shots[["easting", "northing", "elevation"]].to_numpy(float)[rows["row"].to_numpy()]
    at = np.flatnonzero(usable)
    part = from_chord(group[at], points[at])
    count = len(rows)
    first, last, share, vertical = np.arange(count), np.arange(count), *np.full((2, count), np.nan)
    first[at], last[at], share[at], vertical[at] = at[part.first], at[part.last], part.share, part.vertical
    chord = FromChord(first=first, last=last, share=share, vertical=vertical)
    members = np.column_stack([rows["row"], rows["row"].to_numpy()[first], rows["row"].to_numpy()[last]])
    weight = np.column_stack([np.ones(count), np.nan_to_num(share) - 1, -np.nan_to_num(share)])
    ends = np.flatnonzero((first == np.arange(count)) | (last == np.arange(count)))
    weight[ends[usable[ends]]] = 0.0
    made = derived_rows(
        layers,
        members,
        {"elevation": weight},
        vertical,
        show=lambda value: words.usual(value, unit),
    )
    return chord, made


def _reversals(rows: pd.DataFrame, shots: pd.DataFrame, chord: FromChord) -> dict[int, Rise]:
    """Legs that rise against the fall of their pipe: row where each begins, and how much to which shot."""
    of = shots.iloc[rows["row"]]
    level, u = of["elevation"].to_numpy(float), of["u_v_random"].to_numpy(float)
    fall = level[chord.first] - level[chord.last]
    sure = np.abs(fall) > 3 * np.hypot(u[chord.first], u[chord.last])
    falls = np.where(sure, np.sign(np.nan_to_num(fall)), 0.0)
    group = np.where(rows["usable"], chord.first, -1)
    begins = np.flatnonzero(reversals(group, level, u, falls=falls) & rows["usable"].to_numpy())
    names = of["name"].to_numpy(dtype=object)
    return {int(at): (names[at], names[at + 1], abs(level[at + 1] - level[at])) for at in begins.tolist()}


def _base(layers: Layers, rows: pd.DataFrame) -> pd.DataFrame:
    shots = observed(layers)
    of = shots.iloc[rows["row"]].reset_index(drop=True)
    return rows[["kind", "source", "limit", "lower", "upper"]].reset_index(drop=True).assign(
        subject=rows["pipe"].to_numpy(dtype=object), easting=of["easting"], northing=of["northing"],
        elevation=of["elevation"],
    )  # fmt: skip


def _singles(
    layers: Layers, rows: pd.DataFrame, made: pd.DataFrame, inner: np.ndarray, rises_on: dict[int, Rise],
    run_of: np.ndarray, runs: pd.DataFrame | None,
) -> Found:  # fmt: skip
    """One finding a shot; members of a run point to it."""
    unit = layers.frame.unit.name
    names = observed(layers)["name"].to_numpy(dtype=object)[rows["row"].to_numpy()]
    table = pd.concat([_base(layers, rows), made.reset_index(drop=True)], axis=1)
    table["label"] = [f"top at shot {name}" for name in names]
    table["shot"] = taken(observed(layers)["shot"], rows["row"])
    told = pd.Series([rises(*rises_on[at], unit) if at in rises_on else None for at in range(len(rows))], dtype="str")
    table["cause"] = table["cause"].where(table["cause"].notna(), told)
    if runs is not None:
        table["run"] = taken(runs["finding"], run_of)
    shown = inner | (made["why"] != 0).to_numpy()
    table = one_a_line(
        table[shown].reset_index(drop=True), check=STRAIGHTNESS, by=("kind", "subject", "source", "limit")
    )
    return judged(layers, table, check=STRAIGHTNESS, again=NOTHING_AGAIN)


def _beside(single: Found, runs: Found) -> tuple[Found, Found]:
    """Bellies that take nothing back of what their shots prove; a shot that is out alone stands alone."""
    (findings, evidence), (means, of_means) = single, runs
    belly_of = rows_of(findings["run"], means["finding"])
    means = held_by_members(means, findings, belly_of, STRAIGHTNESS)
    alone = (findings["verdict"] == "OUT").to_numpy(bool) & (taken(means["verdict"], belly_of) != "OUT").to_numpy(bool)
    return (findings.assign(run=findings["run"].mask(alone)), evidence), (means, of_means)


def _runs(
    layers: Layers, rows: pd.DataFrame, chord: FromChord, run_of: np.ndarray, station: np.ndarray,
    rises_on: dict[int, Rise], u_chosen: np.ndarray,
) -> Found:  # fmt: skip
    """One finding a belly or hump: the mean of its shots; its uncertainty holds that of the ends and of the choice."""
    unit = layers.frame.unit.name
    groups = [np.flatnonzero(run_of == number) for number in range(int(run_of.max()) + 1)]
    widest = max(len(each) for each in groups)
    members, weight = np.full((len(groups), widest + 2), -1), np.zeros((len(groups), widest + 2))
    row = rows["row"].to_numpy()
    labels, mean = [], np.zeros(len(groups))
    for nth, at in enumerate(groups):
        share = chord.share[at]
        members[nth, : len(at)], weight[nth, : len(at)] = row[at], 1 / len(at)
        members[nth, widest:] = row[chord.first[at[0]]], row[chord.last[at[0]]]
        weight[nth, widest:] = share.mean() - 1, -share.mean()
        mean[nth] = chord.vertical[at].mean()
        far = chord.vertical[at][np.argmax(np.abs(chord.vertical[at]))]
        start, end = (words.quantity(value, "length", unit, digits=0) for value in station[at[[0, -1]]].tolist())
        told = [rises(*rises_on[each], unit) for each in (at[0] - 1, *at.tolist()) if each in rises_on]
        turn = pass_words(int(rows["turn"].iloc[at[0]]))
        labels.append(belly(len(at), start, end, float(far), told, unit) + turn)
    made = derived_rows(layers, members, {"elevation": weight}, mean, show=lambda value: words.usual(value, unit))
    made["u_unchosen"] = np.hypot(made["u_common"], made["u_random"])
    made["u_random"] = np.fmax(made["u_random"], u_chosen)
    lead = rows.iloc[[at[len(at) // 2] for at in groups]]
    table = pd.concat([_base(layers, lead), made], axis=1).assign(label=labels)
    return judged(layers, table, check=STRAIGHTNESS, again=NOTHING_AGAIN)


def _few(layers: Layers, few: pd.DataFrame) -> Found:
    one = few.drop_duplicates("line")
    keys = [observed(layers)["shot"].iloc[rows["row"]].tolist() for _, rows in few.groupby("line", sort=False)]
    said = _said(layers, one, keys, STRAIGHTNESS.why("few-tops"))
    return found(layers, said, check=STRAIGHTNESS, least=0.0, words="see straightness_of_diameter")


def _without_diameter(layers: Layers, tops: pd.DataFrame) -> Found:
    """Pipes that are held to a share of a diameter that nobody noted."""
    sizes = _diameters(layers)
    one = tops.drop_duplicates("number")
    pairs = zip(one["kind"], one["pipe"], strict=True)
    one = one[[bool(np.isnan(sizes.get(pair, np.nan))) for pair in pairs]]
    said = _said(layers, one, [[] for _ in range(len(one))], STRAIGHTNESS_OF_DIAMETER.why("no-diameter"))
    return found(layers, said, check=STRAIGHTNESS_OF_DIAMETER)


def _diameters(layers: Layers) -> dict[tuple[str, str], float]:
    """Inside diameter of every pipe that was shot, by kind and the name of its line, where it is noted."""
    if "structure_notes" not in layers:
        return {}
    limits = layers["limits"]
    checks = (STRAIGHTNESS.name, STRAIGHTNESS_OF_DIAMETER.name)
    tops = pipe_shots(layers, set(limits.loc[limits["check"].isin(checks), "kind"]))
    sizes, names = attributes(layers), noted_names(layers, tops)
    one = tops.drop_duplicates("number")
    return {
        (kind, pipe): sizes.get(names[number], {}).get("diameter", np.nan)
        for kind, pipe, number in zip(one["kind"], one["pipe"], one["number"], strict=True)
    }


def _said(layers: Layers, one: pd.DataFrame, keys: list[list[str]], why: int) -> pd.DataFrame:
    """A row a pipe that says why it is not judged."""
    table = _base(layers, one.assign(limit=-1, lower=np.nan, upper=np.nan)).drop(columns=["limit", "lower", "upper"])
    return table.assign(
        label="shots on its top", deviation=np.nan, u_common=np.nan, u_random=np.nan, why=why,
        keys=pd.Series(keys, dtype=object),
    )  # fmt: skip
