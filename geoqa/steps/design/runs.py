"""Runs of neighbouring shots that agree, found before any verdict and judged by their mean."""

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.work import ELEVATION, OFFSET
from geoqa.kernels.design.along_elements import point_at
from geoqa.kernels.design.run_means import Means, bounded_means
from geoqa.kernels.design.runs import AGREEMENT, SHORTEST, THRESHOLD, find_runs
from geoqa.model import words
from geoqa.model.check import Check
from geoqa.model.quantity import Length
from geoqa.model.reasons import WHY
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers, shaped
from geoqa.model.tables.shot_flags import has_flag
from geoqa.steps.causes.open_blunders import BOTH, moved_by, place_as_read
from geoqa.steps.design.alignments import Alignments, alignments
from geoqa.steps.design.arc_offsets import of_one_mind
from geoqa.steps.design.deviations import along_lines
from geoqa.steps.design.differing_passes import BETWEEN, differing_passes
from geoqa.steps.design.less_shift import first_named
from geoqa.steps.design.older_numbers import waits_for
from geoqa.steps.design.repeated_shots import one_each, spread_out
from geoqa.steps.judging.by_members import held_by_members
from geoqa.steps.judging.findings import BOTH_WAYS, evidence_of, findings_of, judged_rows, with_limits
from geoqa.steps.judging.remedies import level_ties
from geoqa.steps.judging.text_columns import codes_of, rows_of, taken

CHECKS = (OFFSET, ELEVATION)


class Runs(Step):
    """Find neighbours along a design line that all lie to the same side, and judge their mean.

    The random part of the mean's uncertainty falls with the number of shots as far as their errors differ: what
    neighbours differ by says which share of it lasts from shot to shot, and that share does not fall while it lasts
    (1/e in 20 minutes). The common part does not fall within one session (or one file, where no session is known).
    A run is chosen among all stretches of the job; where luck is a fair explanation of it, its bounds reach back to
    sound work. Its edges are those of the data: a neighbour nearer to the design than to the level of the run is no
    member. The member that lies farthest off stands beside the mean. Several shots of one place are one member, weighed
    by what is independent in them. Passes of a line whose numbers differ show different work, and are in no run
    together.

    The findings of the members are kept and point to the run. A shot that its neighbours contradict (flag `spike`)
    agrees with nobody and is in no run: alone it would carry the mean of all beyond the limit.

    Shots under an open blunder make runs of their own, of their numbers without it. Such a run is told only where its
    mean is out as read too: as with single shots, no other verdict comes of a number under a blunder.
    """

    name = "runs"
    needs = (
        "line_matches",
        "design_lines",
        "design_elements",
        "limits",
        "shots.use",
        "shots.flags",
        "shots.u_h_random",
    )
    wants = (
        "control",
        "crew_precision",
        "session_shifts",
        "believed_parts",
        "older_designs",
        "apart_shots",
        "loose_sessions",
        "loose_shots",
    )
    gives = ("runs", "run_members")
    adds = ("findings", "evidence")

    reach_between: Length = Field(BETWEEN, description="A longer distance between neighbours ends a run")
    shortest: int = Field(SHORTEST, ge=2, description="Fewest shots in a run")
    agreement: float = Field(
        AGREEMENT, gt=0, le=1, description="Share of the limit beyond which a shot speaks for a run"
    )
    apart: Length = Field(Length.parse("0.30 ft"), description="Stretch of a line within which shots are of one place")
    threshold: float = Field(THRESHOLD, gt=0, description="Total score a run must exceed, in standard uncertainties")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Offsets first, then elevations."""
        design = alignments(layers)
        made = [self._of(layers, design, check, held=held) for check in CHECKS for held in (False, True)]
        runs, members, findings, evidence = ([part for part in parts if len(part)] for parts in zip(*made, strict=True))
        table = pd.concat(runs, ignore_index=True) if runs else empty("runs")
        table = conform("runs", table).sort_values("run", ignore_index=True)
        drawn = design.pieces(rows_of(table["line"], design.names), table["station"], table["station_end"])
        return {
            "runs": shaped(table, drawn, layers.frame),
            "run_members": pd.concat(members, ignore_index=True) if members else empty("run_members"),
            "findings": pd.concat(findings, ignore_index=True) if findings else empty("findings"),
            "evidence": pd.concat(evidence, ignore_index=True) if evidence else empty("evidence"),
        }

    def _of(self, layers: Layers, design: Alignments, check: Check, *, held: bool) -> tuple[pd.DataFrame, ...]:
        limits, unit = layers["limits"], layers.frame.unit
        rows = along_lines(layers, check.name)
        stray = has_flag(layers["shots"], "spike")[rows["row"].to_numpy()]
        rows = rows[~stray]
        rows = _without_blunder(layers, rows) if held else rows[rows["why"] == 0]
        if held and not len(rows):
            return _no_run()
        rows = self._places(layers, rows, vertical=check is ELEVATION)
        rows = with_limits(rows, limits, check=check)
        rows = rows[rows["limit"] >= 0].reset_index(drop=True)
        if "second" in rows:
            rows = rows[of_one_mind(rows, limits)].reset_index(drop=True)
        place, shots = rows["limit"].to_numpy(), layers["shots"].iloc[rows["row"]]
        lower, upper = (limits[name].to_numpy(float)[place] for name in ("lower", "upper"))
        line = (rows["part"].to_numpy() * len(design.names) + rows_of(rows["subject"], design.names)) * len(limits)
        line += place
        found = find_runs(
            line,
            rows["station"],
            rows["deviation"],
            rows["u_random"],
            lower=lower,
            upper=upper,
            reach_between=self.reach_between.to(unit),
            shortest=self.shortest,
            threshold=self.threshold,
            agreement=self.agreement,
        )
        if not len(found.side):
            return _no_run()
        means = bounded_means(
            found,
            line=line,
            station=rows["station"],
            deviation=rows["deviation"],
            u_random=rows["u_random"],
            u_common=rows["u_common"],
            group=codes_of(shots["session"].where(shots["session"].notna(), shots["source"]))[0],
            lower=lower,
            upper=upper,
            minutes=shots["time"].astype("int64").where(shots["time"].notna()).to_numpy(float) / 6e7,
        )
        return self._judged(layers, design, check, rows.iloc[found.row].reset_index(drop=True), found.run, means)

    def _places(self, layers: Layers, rows: pd.DataFrame, *, vertical: bool) -> pd.DataFrame:
        """Rows with one row a place, and in `part` the work that it shows."""
        unit = layers.frame.unit
        part = differing_passes(layers, rows, gap=self.reach_between.to(unit))
        alike = [
            one_each(layers, rows[part == each], reach=self.apart.to(unit), vertical=vertical).assign(part=each)
            for each in range(int(part.max(initial=0)) + 1)
        ]
        return pd.concat(alike, ignore_index=True) if len(alike) > 1 else alike[0]

    def _judged(
        self,
        layers: Layers,
        design: Alignments,
        check: Check,
        members: pd.DataFrame,
        run: np.ndarray,
        means: Means,
    ) -> tuple[pd.DataFrame, ...]:
        first = np.flatnonzero(np.append(True, np.diff(run) > 0))
        last = np.append(first[1:], len(run)) - 1
        one = members.iloc[first].reset_index(drop=True)
        start, end = one["station"].to_numpy(), members["station"].to_numpy()[last]
        middle = (start + end) / 2
        at = point_at(design.elements, rows_of(one["subject"], design.names), middle)
        behind = spread_out(members["shot"], members["members"], run, means.weight)
        count = behind["run"].value_counts(sort=False).sort_index().to_numpy()
        extreme = members.iloc[means.extreme].reset_index(drop=True)
        unit = layers.frame.unit.name
        farthest = [
            words.deviation(value, check, check.quantity, unit, bare=True) for value in extreme["deviation"].tolist()
        ]
        spans = zip(count.tolist(), map(words.station, start), map(words.station, end), farthest, strict=True)
        labels = [f"mean of {n} shots from {a} to {b} (farthest {far})" for n, a, b, far in spans]
        keys = np.split(behind["shot"].to_numpy(dtype=object), np.cumsum(count)[:-1])
        rows = one[["kind", "subject", "source", "limit"]].assign(
            why=0,
            label=labels,
            shot=taken([], np.full(len(one), -1)),
            station=start,
            station_end=end,
            easting=at.easting,
            northing=at.northing,
            deviation=means.mean,
            measured=means.mean if check is OFFSET else np.nan,
            design=0.0 if check is OFFSET else np.nan,
            u_common=means.u_common,
            u_random=means.u_random,
            u_unchosen=np.hypot(means.u_common, np.sqrt(np.maximum(means.u_random**2 - means.u_choice**2, 0.0))),
        )
        if "of_session" in members:
            shift = np.bincount(run, means.weight * members["of_session"].fillna(0.0).to_numpy(float))
            rows = rows.assign(of_session=shift, hangs_on=first_named(members, np.arange(len(members)), first))
        if "as_read" in members:
            rows = _as_read(rows, members, run, means, unit)
        findings = findings_of(
            rows,
            check=check,
            limits=layers["limits"],
            unit=unit,
            keys=[list(each) for each in keys],
            again="independent pass of the run",
            u_tied=level_ties(layers) if check is ELEVATION else 0.0,
        )
        alone = judged_rows(members.drop(columns=["row", "members"]), check=check, limits=layers["limits"])
        findings = held_by_members(findings, alone.assign(shot=members["shot"].to_numpy()), run, check)
        names = findings["finding"].to_numpy(dtype=object)
        of_member = pd.Series(names[behind["run"].to_numpy()], dtype="str")
        table = pd.DataFrame(
            {"run": names, "check": check.name, "line": one["subject"], "mean": means.mean, "shots": count}
            | {"station": start, "station_end": end, "u_common": means.u_common, "u_random": means.u_random}
            | {"u_choice": means.u_choice, "lasting": means.lasting}
            | {"extreme": extreme["deviation"], "extreme_shot": extreme["shot"]}
            | {"kind": one["kind"], "against": findings["against"], "verdict": findings["verdict"]}
        )
        joined = pd.DataFrame({"run": of_member, "shot_key": behind["shot"], "weight": behind["weight"]})
        proof = evidence_of(of_member, behind["shot"], role="member", layer="shots", weights=behind["weight"])
        made = (table, conform("run_members", joined), findings, proof)
        return _only_out(*made) if "as_read" in members else made


def _no_run() -> tuple[pd.DataFrame, ...]:
    """No run."""
    return (empty("runs"), empty("run_members"), empty("findings"), empty("evidence"))


def _only_out(
    runs: pd.DataFrame, members: pd.DataFrame, findings: pd.DataFrame, proof: pd.DataFrame
) -> tuple[pd.DataFrame, ...]:
    """Runs that are out, with all that is theirs."""
    names = findings.loc[findings["verdict"] == "OUT", "finding"]
    tables = ((runs, "run"), (members, "run"), (findings, "finding"), (proof, "finding"))
    return tuple(table[table[key].isin(names)].reset_index(drop=True) for table, key in tables)


def _without_blunder(layers: Layers, rows: pd.DataFrame) -> pd.DataFrame:
    """Rows under an open blunder by their numbers without it, with the u of its shift; `as_read` keeps the others."""
    if "without_own" not in rows:
        return rows.iloc[:0]
    waits = rows["why"].isin([WHY[name] for name in BOTH_WAYS])
    held = waits & rows["without"].notna() & rows["without_own"].notna()
    mine = rows[held & rows["u_without"].notna()]
    if "second" in mine:  # read as it is under the blunder
        mine = mine.assign(second=np.nan)
    moved = moved_by(layers, mine["shot"])
    return mine.assign(
        title=waits_for(mine["why"], moved),
        where=[""] * len(mine)
        if moved is None
        else [place_as_read(each, layers.frame.unit.name) for each in moved.shift],
        as_read=mine["deviation"],
        deviation=mine["without_own"],
        u_common=np.hypot(mine["u_common"], mine["u_without"]),
    )


def _as_read(rows: pd.DataFrame, members: pd.DataFrame, run: np.ndarray, means: Means, unit: str) -> pd.DataFrame:
    """Means of shots under an open blunder, both ways: out is what is out as read and out without it."""
    read = np.bincount(run, means.weight * members["as_read"].to_numpy(float))
    first = np.flatnonzero(np.append(True, np.diff(run) > 0))
    both = [
        BOTH.format(title, f"mean {words.length(one, unit, signed=True)}", words.length(two, unit, signed=True)) + where
        for title, one, two, where in zip(
            members["title"].iloc[first], read, means.mean, members["where"].iloc[first], strict=True
        )
    ]
    return rows.assign(
        why=WHY["open-blunder"], deviation=read, without=means.mean, u_without=0.0, cause=None,
        measured=np.where(rows["measured"].notna(), read, np.nan), cause_both=pd.Series(both, dtype="str"),
    ).astype({"cause": "str"})  # fmt: skip


def run_of(findings: pd.DataFrame, layers: Layers) -> pd.Series:
    """Name of the run that reports each finding of a single shot; null for none.

    A shot that is proven out by itself is never hidden behind a run whose mean is not: it keeps its own line.
    """
    if "runs" not in layers or not len(layers["runs"]) or not len(findings):
        return taken([], np.full(len(findings), -1)).set_axis(findings.index)
    runs, members = layers["runs"], layers["run_members"]
    place = rows_of(members["run"], runs["run"])
    names = ("check", "against", "verdict")
    about = pd.DataFrame({name: runs[name].take(place).reset_index(drop=True) for name in names})
    known = members["shot_key"] + "\x1f" + about["check"] + "\x1f" + about["against"]
    wanted = findings["shot"] + "\x1f" + findings["check"] + "\x1f" + findings["against"]
    member = rows_of(wanted, known)
    worse = (findings["verdict"] == "OUT").to_numpy() & (taken(about["verdict"], member) != "OUT").to_numpy()
    return taken(members["run"], np.where(worse, -1, member)).set_axis(findings.index)
