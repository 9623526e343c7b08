"""Design without as-built evidence: reaches of lines, whole lines, and points."""

import numpy as np
import pandas as pd

from geoqa.contract.evidence import COVERAGE
from geoqa.kernels.design.along_elements import point_at
from geoqa.kernels.design.reaches import gaps
from geoqa.kernels.design.spans import Spans, left_of, spans_of
from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.reasons import OF_THE_DESIGN, WHY
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers, shaped
from geoqa.steps.causes.open_blunders import places_off, places_unknown, rejected_otherwise
from geoqa.steps.design.alignments import Alignments, alignments
from geoqa.steps.design.design_apart import lies_apart
from geoqa.steps.design.deviations import along_lines
from geoqa.steps.design.file_apart import of_files_apart
from geoqa.steps.evidence.code_questions import beside_points
from geoqa.steps.evidence.open_evidence import drawn_twice, open_evidence, reason_of
from geoqa.steps.judging.findings import evidence_of, findings_of
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.shots.flags import noted

_EVERY = 1e-9  # a spacing that makes every reach between neighbours a gap
_ROUNDING = 1e-8
_THERE = [
    0,
    *(WHY[name] for name in ("open-blunder", "survey-doubt", *OF_THE_DESIGN)),
]  # something stands there, wherever exactly
_NOTHING = {"u_common": 0.0, "u_random": 0.0, "lower": np.nan, "upper": np.nan, "remedy": None}


class Coverage(Step):
    """Judge the reaches of design lines between shots, and tell what was not shot at all.

    On a line of a kind with a spacing, every reach longer than the spacing is a finding; where
    there is none, the longest reach is, so that a covered line says so. Rejected shots and shots past
    the end are no evidence; the remedy counts the rejected ones. A shot under an open blunder shows that
    something is there, unless the blunder moves places beyond reach: then nothing is said. What was shot and is no
    evidence yet keeps a reach from being judged, if it would cover it: shots without a known code or with one in
    question, rejected ones, those that may be of either of two lines, and those of another line in the same place or
    beside a line that has no shot of its own. The uncertainty is that of the shots at both ends of the reach together;
    an end of the design line adds none. A line or point of a kind with a tolerance and without any usable shot is a
    finding too: without as-built evidence, which is not the same as not built. What lies beyond the limits of work is
    asked for no evidence, and shots there are none of what lies within.
    """

    name = "coverage"
    needs = ("limits", "design_lines", "design_elements", "design_points", "shots.use", "shots.u_h_random")
    wants = (
        "line_matches",
        "point_matches",
        "cause_shots",
        "flags",
        "beyond_limits",
        "session_shifts",
        "older_designs",
        "apart_shots",
        "loose_sessions",
        "loose_shots",
        "structure_notes",
    )
    gives = ("gaps",)
    adds = ("findings", "evidence", "notes")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Lines by their spacing, lines without a spacing, then points."""
        design, limits, unit = alignments(layers), layers["limits"], layers.frame.unit.name
        shots = _line_shots(layers, design)
        other, beyond = open_evidence(layers, design, shots), _beyond(layers, design)
        lines = [
            self._reaches(design, shots, other, beyond, limits, place, unit)
            for place in np.flatnonzero(limits["check"] == "coverage").tolist()
        ]
        lengths = _joined(lines)
        counts = _joined([_short_lines(design, shots, other, beyond, limits, _noted(layers)), _points(layers, limits)])
        if places_unknown(layers, Length.parse("10 ft").to(layers.frame.unit)):
            lengths, counts = (each.assign(why=WHY["open-blunder"]) for each in (lengths, counts))
        else:
            lengths, counts = (_apart(layers, each) for each in (lengths, counts))
        found, evidence = [], empty("evidence")
        if len(lengths):
            reaches = findings_of(lengths, check=COVERAGE, limits=limits, unit=unit, keys=_own_names(lengths))
            ends = reaches[["finding", "keys"]].explode("keys").dropna()
            evidence = evidence_of(ends["finding"], ends["keys"], role="end", layer="shots")
            found.append(_as_gaps(reaches.drop(columns="keys")))
        if len(counts):
            empties: list[list[str]] = [[] for _ in range(len(counts))]
            found.append(findings_of(counts, check=COVERAGE, limits=limits, unit=unit, quantity="count", keys=empties))
        findings = pd.concat(found, ignore_index=True) if found else empty("findings").assign(reach=False)
        drawn = _drawn(layers, design, findings)
        notes = noted(self.name, drawn_twice(other, design))
        return {"findings": findings.drop(columns="reach"), "evidence": evidence, "gaps": drawn, "notes": notes}

    def _reaches(
        self,
        design: Alignments,
        shots: pd.DataFrame,
        other: pd.DataFrame,
        beyond: Spans,
        limits: pd.DataFrame,
        place: int,
        unit: str,
    ) -> pd.DataFrame:
        kind, spacing = limits["kind"].iloc[place], float(limits["upper"].iloc[place])
        mine = np.flatnonzero((design.kinds == kind) & np.isfinite(design.start))
        spans = left_of(mine, design.start[mine], design.end[mine], beyond)
        number = _span_of(shots, spans)
        beside, number = shots[(number >= 0) & shots["use"]], number[(number >= 0) & shots["use"].to_numpy(bool)]
        reaches = gaps(beside["station"], number, spans.start, spans.end, spacing=_EVERY)
        count = np.bincount(number, minlength=len(spans.line))[reaches.line]
        longest = np.zeros(len(spans.line))
        np.maximum.at(longest, reaches.line, reaches.length)
        worst = pd.Series(reaches.length).groupby(reaches.line).rank(method="first", ascending=False).to_numpy() == 1
        # a line without a shot that is shorter than the spacing is counted, not measured
        kept = ((reaches.length > spacing) | ((longest[reaches.line] <= spacing) & worst & (count > 0))).nonzero()[0]
        line, start, end = spans.line[reaches.line[kept]], reaches.start[kept], reaches.end[kept]
        ends = [_end_shots(beside, line, station) for station in (start, end)]
        u = [np.where(row >= 0, beside["u"].to_numpy()[row], 0.0) if len(beside) else 0.0 for row in ends]
        keys = beside["shot"].to_numpy(dtype=object)
        at = point_at(design.elements, line, (start + end) / 2)
        why, name = reason_of(other, line, start, end, spacing=spacing)
        why = np.where(end - start > spacing, why, 0)
        return _rows(design, line, place).assign(
            why=why,
            station=start,
            station_end=end,
            easting=at.easting,
            northing=at.northing,
            label=[words.stretch(a, b, unit) for a, b in zip(start, end, strict=True)],
            cause=_named(name, why),
            measured=reaches.length[kept],
            deviation=reaches.length[kept],
            u_random=np.hypot(u[0], u[1]),
            keys=pd.Series([[keys[row] for row in pair if row >= 0] for pair in zip(*ends, strict=True)], dtype=object),
            remedy=pd.Series(_advice(shots, kind, line, start, end), dtype="str").mask(why > 0),
            reach=True,
        )


def _apart(layers: Layers, rows: pd.DataFrame) -> pd.DataFrame:
    """Rows that wait for the place of their design; what a shot there would help is not known yet."""
    files = of_files_apart(layers)
    if not len(rows) or not (files or lies_apart(layers)):
        return rows
    held = np.ones(len(rows), bool) if lies_apart(layers) else rows["subject"].isin(files).to_numpy(bool)
    return rows.assign(why=np.where(held, WHY["design-apart"], rows["why"]), remedy=rows["remedy"].mask(held))


def _line_shots(layers: Layers, design: Alignments) -> pd.DataFrame:
    """Shots beside their lines, usable or rejected: shot, line, station, use, why, u; sorted by place."""
    if "line_matches" not in layers:
        nothing = {"line": np.zeros(0, int), "station": np.zeros(0), "use": np.zeros(0, bool), "u": np.zeros(0)}
        return pd.DataFrame(nothing | {"why": np.zeros(0, int), "shot": []})
    rows = along_lines(layers, "offset")
    rejected = rows["why"].isin([WHY[name] for name in ("screened", "own-code-question", "identical-to-design")])
    good = rows["why"].isin(_THERE)
    rows = rows[(good | rejected) & (rows["subject"] != "-")]
    table = pd.DataFrame(
        {
            "shot": rows["shot"].to_numpy(dtype=object),
            "line": rows_of(rows["subject"], design.names),
            "station": rows["station"].to_numpy(float),
            "use": rows["why"].isin(_THERE).to_numpy(bool),
            "why": rows["why"].replace(WHY["own-code-question"], WHY["screened"]).to_numpy(np.int64),
            "u": np.nan_to_num(np.hypot(rows["u_common"], rows["u_random"])) + places_off(layers, rows["shot"]),
        }
    )
    return table.sort_values(["line", "station", "shot"], ignore_index=True)


def _beyond(layers: Layers, design: Alignments) -> Spans:
    """Stretches of lines beyond the limits of work."""
    table = layers["beyond_limits"] if "beyond_limits" in layers else empty("beyond_limits")
    table = table[table["shape"] == "line"]
    line, start, end = rows_of(table["design"], design.names), table["start_station"], table["end_station"]
    return spans_of(list(zip(line.tolist(), start.tolist(), end.tolist(), strict=True)))


def _span_of(shots: pd.DataFrame, spans: Spans) -> np.ndarray:
    """Which stretch each shot lies in; -1 for none, shape (n,)."""
    line, station = shots["line"].to_numpy(), shots["station"].to_numpy(float)
    first, last = (np.searchsorted(spans.line, line, side=side) for side in ("left", "right"))
    found = np.full(len(shots), -1)
    for nth in range(int((last - first).max(initial=0))):
        at = np.where(first + nth < last, first + nth, -1)
        mine = np.flatnonzero(at >= 0)
        inside = (station[mine] >= spans.start[at[mine]] - _ROUNDING) & (
            station[mine] <= spans.end[at[mine]] + _ROUNDING
        )
        found[mine[inside]] = at[mine[inside]]
    return found


def _own_names(reaches: pd.DataFrame) -> list[list[str]]:
    """Keys that name each reach; where several of one line have the same shots at their ends, also its number."""
    ends = pd.Series([tuple(sorted(each)) for each in reaches["keys"]], index=reaches.index)
    nth = reaches.groupby([reaches["limit"], reaches["subject"], ends], sort=False).cumcount()
    return [[*keys, *([f"reach {n + 1}"] if n else [])] for keys, n in zip(reaches["keys"], nth, strict=True)]


def _end_shots(shots: pd.DataFrame, line: np.ndarray, station: np.ndarray) -> np.ndarray:
    """Place of the first shot at exactly this station of the line; -1 where it is an end of the design."""
    lines, stations = shots["line"].to_numpy(), shots["station"].to_numpy()
    found = np.full(len(line), -1)
    for nth, (number, at) in enumerate(zip(line, station, strict=True)):
        first, last = np.searchsorted(lines, [number, number + 1])
        row = first + np.searchsorted(stations[first:last], at)
        if row < last and stations[row] == at:
            found[nth] = row
    return found


def _rows(design: Alignments, line: np.ndarray, place: int | np.ndarray) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "kind": pd.Series(design.kinds[line], dtype="str"),
            "subject": pd.Series(design.names[line], dtype="str"),
            "source": pd.Series(design.sources[line], dtype="str"),
            "shot": taken([], np.full(len(line), -1)),
            "limit": place,
            "why": 0,
        }
        | _NOTHING
    ).astype({"remedy": "str"})


def _named(other: np.ndarray, why: np.ndarray) -> pd.Series:
    """The other line that a reason speaks of; null where it speaks of none."""
    there = (why > 0) & (other != "")
    return pd.Series("the other line: " + pd.Series(other, dtype="str")).where(there)


def _wanted(kind: str) -> str:
    """What would be evidence of a kind: nobody digs up a pipe to shoot it."""
    if kind in words.BURIED_KINDS:
        return "show a record of it from before it was covered, or that it was not to be built"
    return "shoot it, or show that it was not to be built"


def _advice(shots: pd.DataFrame, kind: str, line: np.ndarray, start: np.ndarray, end: np.ndarray) -> list[str]:
    """What to do about each reach, with the shots in it that were rejected."""
    rejected = shots[~shots["use"]]
    lines, stations = rejected["line"].to_numpy(), rejected["station"].to_numpy()
    said = []
    for number, one, other in zip(line, start, end, strict=True):
        first, last = np.searchsorted(lines, [number, number + 1])
        inside = stations[first:last]
        count = int(((inside >= one) & (inside <= other)).sum())
        plural = "shot lies" if count == 1 else "shots lie"
        said.append(_wanted(kind) + (f"; {count} rejected {plural} in it" * (count > 0)))
    return said


def _as_gaps(findings: pd.DataFrame) -> pd.DataFrame:
    """A reach that is too long says why; one that is not needs no advice."""
    out = findings["verdict"] == "OUT"
    findings["why"] = findings["why"].mask(out, "no-evidence")
    findings["remedy"] = findings["remedy"].mask(findings["verdict"] == "IN")
    return findings


def _short_lines(
    design: Alignments, shots: pd.DataFrame, other: pd.DataFrame, beyond: Spans, limits: pd.DataFrame, noted: set[str]
) -> pd.DataFrame:
    """Lines of judged kinds without any usable shot that no reach has told of; pipes noted at both ends have some."""
    spaced = limits["check"] == "coverage"
    spacing = limits[spaced].groupby("kind")["upper"].max().reindex(design.kinds).to_numpy(float)
    first = limits.index.to_series().groupby([~spaced, limits["kind"]]).first().reset_index(level=0, drop=True)
    place = first[~first.index.duplicated()].reindex(design.kinds).to_numpy(float)
    every = np.arange(len(design.names))
    spans, stated = left_of(every, design.start, design.end, beyond), np.isfinite(spacing)
    start, end = np.full((2, len(every)), np.nan)
    by_length = np.argsort(spans.end - spans.start, kind="stable")  # the longest stretch of a line stands for it
    start[spans.line[by_length]], end[spans.line[by_length]] = spans.start[by_length], spans.end[by_length]
    length = end - start
    within = np.bincount(spans.line, minlength=len(every)) > 0
    used = shots["use"].to_numpy(bool) & (_span_of(shots, spans) >= 0)
    covered = np.bincount(shots.loc[used, "line"], minlength=len(design.names)) > 0
    covered |= ~stated & np.isin(design.names.astype(str), sorted(noted))
    line = np.flatnonzero(within & ~covered & np.isfinite(place) & ~(length > np.where(stated, spacing, np.inf)))
    if not len(line):
        return _joined([])
    start, end = start[line], end[line]
    at = point_at(design.elements, line, (start + end) / 2)
    rows = _rows(design, line, place[line].astype(np.int64))
    rows = rows.assign(station=start, station_end=end, easting=at.easting, northing=at.northing, reach=True)
    rows = _not_shot(rows, stated=stated[line])
    why, name = reason_of(other, line, start, end, spacing=np.inf)
    named = _named(name, why)
    return rows.assign(why=np.where(why > 0, why, rows["why"]), remedy=rows["remedy"].mask(why > 0), cause=named)


def _noted(layers: Layers) -> set[str]:
    """Pipes of which both ends were noted at structures."""
    if "structure_notes" not in layers:
        return set()
    notes = layers["structure_notes"]
    count = notes.loc[notes["structure"].notna() & notes["pipe"].notna(), "pipe"].value_counts()
    return set(count.index[count > 1])


def _points(layers: Layers, limits: pd.DataFrame) -> pd.DataFrame:
    """Design points of judged kinds without any usable shot."""
    points, shots = layers["design_points"].sort_values("point", ignore_index=True), layers["shots"]
    state = np.where(beside_points(layers, points), WHY["code-question"], WHY["no-evidence"])
    if "point_matches" in layers:
        matches = layers["point_matches"]
        place = rows_of(matches["design"], points["point"])
        use = ~rejected_otherwise(layers)[rows_of(matches["shot_key"], shots["shot_key"])]
        chosen = matches["chosen"].to_numpy(bool)
        # the better reason overwrites the worse
        state[place[matches["ambiguous"].to_numpy(bool)]] = WHY["ambiguous-match"]
        state[place[chosen & ~use]] = WHY["screened"]
        state[place[chosen & use]] = 0
    if "beyond_limits" in layers:
        table = layers["beyond_limits"]
        state[points["point"].isin(table.loc[table["shape"] == "point", "design"])] = 0
    limit = rows_of(points["kind"], limits["kind"].drop_duplicates())
    first = np.append(np.flatnonzero(~limits["kind"].duplicated()), -1)[limit]
    rows = np.flatnonzero((state > 0) & (limit >= 0))
    table = points.iloc[rows].reset_index(drop=True)
    made = table[["kind", "source", "easting", "northing", "elevation"]].assign(
        subject=table["point"],
        shot=taken([], np.full(len(rows), -1)),
        limit=first[rows],
        why=0,
        reach=False,
        **_NOTHING,
    )
    made = _not_shot(made.astype({"remedy": "str"}), stated=True)
    made["why"] = state[rows]
    made["remedy"] = made["remedy"].mask(made["why"] == WHY["code-question"])
    return made


def _not_shot(rows: pd.DataFrame, *, stated: bool | np.ndarray) -> pd.DataFrame:
    """A count of 0 shots where 1 is wanted; `stated`: not to be seen is a failure, not only unknown."""
    stated = np.broadcast_to(stated, len(rows))
    wanted = rows["kind"].map(_wanted) if len(rows) else rows["kind"]
    return rows.assign(
        label="no usable shot",
        design=1.0,
        measured=0.0,
        deviation=-1.0,
        lower=np.where(stated, 0.0, np.nan),
        upper=np.where(stated, np.inf, np.nan),
        limit=np.where(stated, rows["limit"], -1),
        rule=taken(["guarded"], np.where(stated, 0, -1)),
        why=np.where(stated, WHY["no-evidence"], WHY["no-limit"]),
        remedy=wanted.where(stated, "state a spacing for this kind: " + wanted),
    ).astype({"remedy": "str", "rule": "str"})


def _joined(parts: list[pd.DataFrame]) -> pd.DataFrame:
    kept = [part for part in parts if len(part)]
    return pd.concat(kept, ignore_index=True) if kept else pd.DataFrame({"kind": []})


def _drawn(layers: Layers, design: Alignments, findings: pd.DataFrame) -> pd.DataFrame:
    """Reaches without evidence, as pieces of their design lines."""
    table = empty("gaps")
    if len(findings):
        told = findings[findings["reach"].fillna(False).astype(bool) & (findings["verdict"] != "IN")]
        told = told[["finding", "kind", "subject", "station", "station_end"]].rename(columns={"subject": "line"})
        table = conform("gaps", told.assign(length=told["station_end"] - told["station"]).reset_index(drop=True))
    pieces = design.pieces(rows_of(table["line"], design.names), table["station"], table["station_end"])
    return shaped(table, pieces, layers.frame)
