"""Blunder diagnosis: which known cause explains the residuals at control, how sure, what stays unexplained."""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.causes import LOST, PRIOR, cause_named
from geoqa.contract.control_sentences import shots_acted_on
from geoqa.contract.survey import DIAGNOSIS
from geoqa.frames.readings.signatures import signatures
from geoqa.kernels.causes.weighing import FITS, weigh
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import ASSUMED_U, mark_of
from geoqa.steps.causes.cause_rows import rows_of_answer
from geoqa.steps.causes.diagnosis_parts import MOST_CHECKS, epoch_of, joined, measured, parts_of
from geoqa.steps.causes.named_causes import Answer, Named, answer_of, mean_of, unit_as_is, which_way
from geoqa.steps.causes.older_lines import without_older_lines
from geoqa.steps.causes.open_blunders import DOUBT, FLAG, LEAN_DOUBT
from geoqa.steps.causes.round_bad_checks import with_round_checks, without_explained
from geoqa.steps.causes.sudden_stretches import sudden_stretches
from geoqa.steps.causes.survey_doubt import Doubt, doubt_of, doubt_table, notes_of_doubt, row_of_doubt
from geoqa.steps.causes.suspect_blocks import Block, Seen, leaning, looking, moved_blocks
from geoqa.steps.causes.suspects import NOTHING, UNLISTED, Checks, feet, suspects
from geoqa.steps.causes.unchecked_shots import (
    of_whole_sessions,
    unchecked,
    without_contained,
    without_denied,
    without_session_shift,
)
from geoqa.steps.causes.unlisted import too_many_blamed, unlisted
from geoqa.steps.causes.weighed import Weighed, left_open, undo
from geoqa.steps.judging.drawn_at import WANTS as DRAWN_WANTS
from geoqa.steps.judging.findings import evidence_of, findings_of
from geoqa.steps.shots.flags import all_flags, flagged, noted
from geoqa.steps.shots.listings import counted

GROSS = 500.0
"""Feet: check shots farther off than this, half of them, ask for a gross mistake first."""
TOO_FAR = 6.0
"""Feet: beyond this shift the deviations from design say nothing about blocks of shots until the file is corrected."""


class Diagnose(Step):
    """Hold known causes of blunders against residuals at control, deviations from design and the log.

    Causes act as their geometry says at this site: nothing is a stored number. Up to three at once are
    tried. An answer is a cause, or a group of causes that predict the same within three standard
    uncertainties with what would tell them apart, or that none of the known causes fits. Shots a
    named cause acts on are flagged and feed no verdict; nothing is corrected. The remedy is a
    change of the job file, or a re-shoot. A job of more check shots than some weeks give is diagnosed in parts of
    whole sessions, each by itself.

    Prior probabilities, from common practice and without a source, stand in the table `causes`.
    """

    name = "diagnosis"
    needs = ("control", "shots.kind", "shots.role", "shots.u_h_random", "shots.u_v_random")
    wants = ("line_matches", "point_matches", "sources", "design_register", "limits", *DRAWN_WANTS)
    gives = ("causes", "cause_shots", "survey_doubt", "diagnosis_gaps")
    adds = ("flags", "findings", "evidence", "notes")

    separation: Length | None = Field(
        None, description="Height of the geoid above the ellipsoid at the site, negative below it; open if left out"
    )
    fits: float = Field(
        FITS, gt=0, lt=0.5, description="Chi-square probability below which the best cause does not fit"
    )
    blocks: bool = Field(True, description="Search deviations from design for blocks that no check shot felt")
    together: int = Field(
        MOST_CHECKS,
        ge=1,
        description="Check shots weighed together; a longer job is diagnosed in parts of whole sessions",
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One usual job after another."""
        layers = counted(layers)
        shots = _in_time(measured(layers["shots"]))
        parts = parts_of(layers, shots, most=self.together)
        tables = joined([(each.name, self._diagnosed(each.layers, each.shots, each.name)) for each in parts])
        notes = [*_notes(tables["causes"]), *notes_of_doubt(tables["survey_doubt"], shots), *_assumed(layers)]
        return tables | {"notes": noted(self.name, notes)}

    def _diagnosed(self, layers: Layers, shots: pd.DataFrame, part: str) -> dict[str, pd.DataFrame]:
        """Checks, gross mistakes, weighing, blocks; then words."""
        unit = feet(layers.frame.unit.metres_float)
        checks = _checks(shots, layers["control"], unit, layers.frame.unit.name)
        gaps = _lost(shots, checks)
        found = self._weighed(layers, checks) if len(checks.row) else None
        named, gross = ([], None) if found is None else _named(found)
        blocks: list[Block] = []
        doubts = np.full((len(shots), 3), np.nan)
        if self.blocks and (found is None or found.weighed.fits):
            blocks, doubts, lost = _blocks(checks, layers, named, gross)
            gaps += lost
            named = without_explained(named, blocks)
        answer = answer_of(found, named, gross, [Named.of_block(each) for each in blocks], checks)
        answer = unit_as_is(answer, checks, _units(layers))
        doubt = _doubt(answer, found, checks)
        if part:  # a subject names shots of its part only
            proven = (replace(each, subject=f"{each.subject} ({part})") for each in answer.proven)
            answer = replace(answer, proven=tuple(proven))
        made = rows_of_answer(answer, checks, layers.frame)
        findings, evidence = _findings(layers, answer, doubt, made[0], checks)
        return {
            "causes": conform("causes", pd.DataFrame(made)),
            "cause_shots": _spoiled(answer, shots, doubts),
            "survey_doubt": doubt_table(doubt, shots),
            "diagnosis_gaps": conform("diagnosis_gaps", pd.DataFrame(gaps, columns=["field", "shots", "reason"])),
            "flags": self._flags(answer, doubt, shots, doubts),
            "findings": findings,
            "evidence": evidence,
        }

    def _weighed(self, layers: Layers, checks: Checks) -> Weighed:
        frame = layers.frame
        separation = None if self.separation is None else self.separation.to(frame.unit)
        epoch = epoch_of(checks.shots)
        residual = np.hypot(*checks.residual[:, :2].T)
        far = bool(np.nanmedian(residual) > GROSS * checks.unit) if np.isfinite(residual).any() else False
        found = signatures(frame, held=checks.marks, epoch=epoch, separation=separation, gross=far)
        undone = undo(checks, [each for each in found if each.gross]) if far else None
        if undone is not None:
            checks = replace(checks, points=undone.restored)
        listed = suspects(checks, [each for each in found if not each.gross])
        if undone is not None and undone.signature.spread.size:
            listed.append(left_open(undone, checks))
        listed = [each for each in listed if each.acts[checks.row].any()]
        listed += unlisted(checks, listed)
        weighed = weigh(
            checks.residual.ravel(),
            checks.covariance(),
            [each.as_cause(checks) for each in listed],
            nothing=NOTHING,
            fits=self.fits,
            patterns=checks.patterns(),
        )
        return Weighed(weighed=weighed, suspects=listed, checks=checks, undone=undone, epoch=epoch)

    def _flags(self, answer: Answer, doubt: Doubt, shots: pd.DataFrame, doubts: np.ndarray) -> pd.DataFrame:
        """Feature shots that a named cause acts on; check shots keep their findings, for they show the blunder."""
        parts = []
        feature = (shots["role"] != "check").to_numpy(bool)
        for each in answer.proven:
            rows = np.flatnonzero(each.spoils & feature)
            parts.append(
                flagged(shots, rows, flag=FLAG, reject=True, step=self.name, subject=each.cause, variant=each.variant)
            )
        rows = np.flatnonzero(doubt.shots & feature)
        if len(rows):
            parts.append(flagged(shots, rows, flag=DOUBT, reject=False, step=self.name))
        lean = np.flatnonzero(np.isfinite(doubts).all(axis=1))
        parts.append(
            flagged(
                shots, lean, flag=LEAN_DOUBT, reject=False, step=self.name, number=shots["tilt"].iloc[lean], unit="deg"
            )
        )
        return all_flags(parts)


def _notes(causes: pd.DataFrame) -> list[dict[str, Any]]:
    """The answer, with the change to make; nothing where no blunder shows."""
    answer = causes[(causes["explanation"] == 1) & (causes["status"] != "none")]
    return [
        {
            "note": "survey-blunder", "subject": row["cause"], "variant": row["status"], "count": row["shots"],
            "total": row["doubtful"],
            "place": which_way(row["cause"], row["variant"]), "written": row["words"], "proposal": row["remedy"],
            "other": "" if cause_named(row["cause"]).alike else row["separates"],
        }
        for row in answer.to_dict("records")
    ]  # fmt: skip


def _assumed(layers: Layers) -> list[dict[str, Any]]:
    """What was assumed of marks that state no uncertainty."""
    count = int(layers["control"][["u_h", "u_v"]].isna().any(axis=1).sum())
    assumed = ASSUMED_U * feet(layers.frame.unit.metres_float)
    return [{"note": "assumed-mark-u", "count": count, "number": assumed, "unit": "job"}] if count else []


_READ = [
    *("shot_key", "shot", "source", "line", "time", "code", "kind", "role", "line_id", "note", "solution"),
    *("easting", "northing", "elevation", "rod_height", "tilt", "tilt_azimuth", "initialization", "session"),
    *("u_h_random", "u_v_random", "u_h_common", "u_v_common"),
]
"""Columns of shots that a cause may show in; a note may name the mark of a check shot."""


def _in_time(shots: pd.DataFrame) -> pd.DataFrame:
    """In the order of time, then file and row; rows without a time follow the row before them in the file."""
    time = shots["time"].astype("int64").where(shots["time"].notna()).groupby(shots["source"]).ffill()
    order = pd.DataFrame({"time": time, "source": shots["source"], "line": shots["line"]})
    sorted_rows = order.sort_values(["time", "source", "line"], kind="stable", na_position="first").index
    return pd.DataFrame(shots[_READ]).loc[sorted_rows].reset_index(drop=True)


def _checks(shots: pd.DataFrame, control: pd.DataFrame, unit: float, job_unit: str) -> Checks:
    """Check shots with a known mark and a fixed solution, as far as the log tells."""
    control = pd.DataFrame(control.drop(columns="geometry", errors="ignore")).reset_index(drop=True)
    candidates = np.flatnonzero(shots["role"] == "check")
    mark = mark_of(shots.iloc[candidates].reset_index(drop=True), control)
    fixed = shots["solution"].fillna("fixed").iloc[candidates].eq("fixed").to_numpy(bool)
    kept = (mark >= 0) & fixed
    row, mark = candidates[kept], mark[kept]
    axes = ["easting", "northing", "elevation"]
    known = control[axes].to_numpy(float)[mark]
    return Checks(
        shots=shots,
        row=row,
        mark=mark,
        control=control,
        points=shots[axes].to_numpy(float),
        published=known,
        unit=unit,
        job_unit=job_unit,
    )


def _units(layers: Layers) -> dict[str, str]:
    """Unit that the numbers of each file of shots are taken in: as stated, else that of the job."""
    if "sources" not in layers:
        return {}
    mine = layers["sources"][layers["sources"]["role"] == "shots"]
    return dict(zip(mine["source"], mine["unit"].fillna(layers.frame.unit.name), strict=True))


def _lost(shots: pd.DataFrame, checks: Checks) -> list[dict[str, Any]]:
    """What cannot be diagnosed, and for how many shots."""
    gaps = []
    for field, reason in LOST.items():
        # a shot without a tilt entry may be plumb; only a log without any says nothing
        column = shots[field]
        missing = int(column.isna().sum()) if field != "elevation" else int(column.iloc[checks.row].isna().sum())
        if missing == (len(shots) if field != "elevation" else len(checks.row)) and missing:
            gaps.append({"field": field, "shots": missing, "reason": reason})
    if not len(checks.row):
        gaps.append(
            {"field": "line_id", "shots": len(shots), "reason": "no check shot names a mark; nothing is compared"}
        )
    elif len(np.unique(checks.mark)) < 3:
        reason = "fewer than three marks were checked; which of two is off cannot be told, nor scale or rotation"
        gaps.append({"field": "control", "shots": len(checks.row), "reason": reason})
    return gaps


def _named(weighing: Weighed) -> tuple[list[Named], Named | None]:
    """What the best explanation holds, shot by shot; and the gross mistake apart."""
    gross = None
    points = weighing.checks.points
    if weighing.undone is not None:
        signature = weighing.undone.signature
        shift = weighing.checks.shots[["easting", "northing", "elevation"]].to_numpy(float) - points
        every = np.ones(len(points), bool)
        gross = Named(
            cause=signature.cause, variant=signature.variant, subject="all shots", acts=every, doubtful=~every,
            shift=shift, size=mean_of(shift), u_size=np.zeros(3), prior=PRIOR[signature.cause],
            facts={"code": signature.code, "unit": signature.unit},
        )  # fmt: skip
    best = weighing.answer
    named = []
    for place, sizes, u_sizes in zip(best.causes, best.sizes, best.u_sizes, strict=True):
        suspect = weighing.suspects[place]
        if gross is not None and suspect.cause == gross.cause:
            more = suspect.shift(points, sizes)
            u = np.sqrt(suspect.columns(points[:1])[0] ** 2 @ u_sizes**2)
            gross = replace(gross, shift=gross.shift + more, size=gross.size + mean_of(more), u_size=u)
            continue
        named.append(Named.of_suspect(suspect, points, sizes, u_sizes, weighing.epoch))
    return named, gross


def _blocks(
    checks: Checks, layers: Layers, named: list[Named], gross: Named | None
) -> tuple[list[Block], np.ndarray, list[dict[str, Any]]]:
    """Blocks that no check shot felt; not searched where the whole file must be corrected first."""
    shots, checked, unit = checks.shots, checks.row, checks.unit
    shift, feature = np.zeros((len(shots), 3)), (shots["role"] == "feature").to_numpy(bool)
    doubts = np.full((len(shots), 3), np.nan)
    for each in named:
        shift += np.where(each.acts[:, None], np.nan_to_num(each.shift), 0.0)
    if gross is not None or np.abs(shift[feature, :2]).max(initial=0.0) > TOO_FAR * unit:
        reason = "the file must be corrected first; blocks of shots without a check shot are searched after that"
        return [], doubts, [{"field": "design", "shots": len(shots), "reason": reason}]
    layers = without_older_lines(layers, shots, shift)
    seen = looking(shots, layers, unit)
    sight = seen(shift)
    if not sight.row.size:
        reason = "neither matched design nor repeats of named points; blocks without a check shot are not searched"
        return [], doubts, [{"field": "design", "shots": len(shots), "reason": reason}]
    lean, doubts = leaning(shots, sight, unit=unit)
    beyond = seen(shift + sum((each.shift for each in lean), np.zeros_like(shift)))
    stretches = with_round_checks(shots, beyond, named, unchecked(shots, layers, beyond, checked, unit=unit))
    under = np.any([~feature & False, *(each.acts for each in [*lean, *stretches])], axis=0)
    stretches += sudden_stretches(shots, layers, beyond, checked, taken=under, unit=unit)
    if not len(checked):
        reason = "without control a shift of the whole file cannot be told from one of its blocks; none is searched"
        return [*lean, *stretches], doubts, [{"field": "control", "shots": len(shots), "reason": reason}]
    for block in lean:
        shift = shift + block.shift
    taken = {each.subject for each in named if each.cause == "initialization"}

    def look(more: np.ndarray) -> Seen:
        return seen(shift + more)

    found = without_denied(moved_blocks(shots, look, taken=taken, unit=unit), checked, checks.residual - shift[checked])
    found = without_session_shift(found, look(np.zeros_like(shift)), shots, checked, unit=unit)
    blocks = without_contained(found, stretches)
    return [*lean, *of_whole_sessions(blocks, shots, checked)], doubts, []


def _spoiled(answer: Answer, shots: pd.DataFrame, doubts: np.ndarray) -> pd.DataFrame:
    """Shots under a cause, with what it does to each; of a group it is not known what is left without it."""
    known = 1.0 if answer.shift_known else np.nan
    parts = [
        _acted(shots, each.spoils, *_both_of(each, known), cause=each.cause, subject=each.subject, holds=True)
        .assign(sure=each.acts[each.spoils])
        for each in answer.proven
        # some check shots moved, nobody knows how: nothing is known of any other shot
        if each.cause != UNLISTED or _moves_features(each, shots)
    ]  # fmt: skip
    lean = np.isfinite(doubts).all(axis=1)
    if lean.any():
        u = np.full(doubts.shape, np.nan)
        parts.append(_acted(shots, lean, doubts, u, cause="tilt-off", subject="in doubt", holds=False))
    table = pd.concat(parts, ignore_index=True) if parts else empty("cause_shots")
    return conform("cause_shots", table).sort_values(["cause", "subject", "shot_key"], ignore_index=True)


def _both_of(cause: Named, known: float) -> tuple[np.ndarray, np.ndarray]:
    """Shift and its u for every shot; a shot of which it is not known whether it moved is shown as if it had."""
    moved = cause.acts[:, None] & np.isfinite(cause.shift)
    u = np.broadcast_to(cause.u_size, cause.shift.shape) if cause.u_shift is None else cause.u_shift
    return np.where(moved, cause.shift, cause.size), u * known


def _acted(
    shots: pd.DataFrame, acts: np.ndarray, shift: np.ndarray, u: np.ndarray, *, cause: str, subject: str, holds: bool
) -> pd.DataFrame:
    rows = np.flatnonzero(acts)
    axes = list(enumerate(("easting", "northing", "elevation")))
    return pd.DataFrame(
        {"cause": cause, "subject": subject, "shot_key": shots["shot_key"].iloc[rows].to_numpy(dtype=object)}
        | {"sure": False, "holds": holds}
        | {f"shift_{name}": shift[rows, axis] for axis, name in axes}
        | {f"u_{name}": u[rows, axis] for axis, name in axes}
    )


def _doubt(answer: Answer, weighing: Weighed | None, checks: Checks) -> Doubt:
    """Sessions that the answer leaves in doubt."""
    if weighing is None:
        return Doubt.none(len(checks.shots))
    fits = answer.status not in ("none-fits", "two-disagree")
    back = np.zeros((len(checks.shots), 3))
    for each in answer.proven:
        if each.cause == UNLISTED and not _moves_features(each, checks.shots):
            back[each.acts] += each.shift[each.acts]  # check shots moved, and their session with them or not
    explained = weighing.answer if fits or answer.proven else None
    if explained is None:  # what acts on check shots alone says nothing of the others
        back -= _of_marks(weighing, checks)
    return doubt_of(weighing, explained, checks, back=back, fits=fits)


def _of_marks(weighing: Weighed, checks: Checks) -> np.ndarray:
    """What the best explanation, though it does not fit, lays to single marks and check shots, (n, 3).

    Nothing where it blames too many of the marks.
    """
    best, moved = weighing.weighed.best, np.zeros((len(checks.shots), 3))
    parts = [(weighing.suspects[place], size) for place, size in zip(best.causes, best.sizes, strict=True)]
    blamed = [(each, size) for each, size in parts if each.cause in ("mark", "bad-shot", "mark-name")]
    if too_many_blamed(len({each.subject for each, _ in blamed if each.cause == "mark"}), len(np.unique(checks.mark))):
        return moved
    for each, size in blamed:
        moved[each.acts] += each.shift(checks.points[each.acts], size)
    return moved


def _moves_features(cause: Named, shots: pd.DataFrame) -> bool:
    return bool(cause.acts[(shots["role"] != "check").to_numpy(bool)].any())


def _findings(
    layers: Layers, answer: Answer, doubt: Doubt, first: dict[str, Any], checks: Checks
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """One finding a named cause, and one of sessions in doubt: how many shots stand under it."""
    rows, keys = [], []
    if doubt.shots.any():
        rows.append(row_of_doubt(doubt, checks, first["words"], cause_named("none-fits").remedy))
        keys.append(sorted(checks.shots["shot_key"].iloc[np.flatnonzero(doubt.shots)]))
    shots = checks.shots
    for each in answer.proven:
        place = int(np.argmax(each.spoils))
        count = float(each.spoils.sum())
        acted_on = shots_acted_on(int(each.acts.sum()), int((each.doubtful & ~each.acts).sum()))
        rows.append(
            {
                "kind": "control", "subject": f"{each.cause}: {each.subject}", "source": "control",
                "label": f"{each.title}, {acted_on}",
                "easting": shots["easting"].iloc[place], "northing": shots["northing"].iloc[place],
                "elevation": shots["elevation"].iloc[place], "design": 0.0, "measured": count, "deviation": count,
                "u_common": 0.0, "u_random": 0.0, "lower": -np.inf, "upper": 0.0,
                "rule": "guarded", "reference": "no shot may stand under a known blunder", "limit": -1, "why": 0,
                "cause": each.words, "remedy": each.remedy,
            }
        )  # fmt: skip
        keys.append(sorted(shots["shot_key"].iloc[np.flatnonzero(each.spoils)]))
    if not rows:
        return empty("findings"), empty("evidence")
    table = pd.DataFrame(rows).assign(shot=pd.Series([None] * len(rows), dtype="str"))
    findings = findings_of(
        table, check=DIAGNOSIS, limits=layers["limits"] if "limits" in layers else empty("limits"),
        unit=layers.frame.unit.name, keys=keys,
    )  # fmt: skip
    by_subject = dict(zip(table["subject"], keys, strict=True))
    parts = [
        evidence_of([finding] * len(by_subject[subject]), by_subject[subject], role="affected", layer="shots")
        for finding, subject in zip(findings["finding"], findings["subject"], strict=True)
    ]
    return findings, pd.concat(parts, ignore_index=True)
