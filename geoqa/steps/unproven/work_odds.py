"""Construction or survey? Odds that the work is so, for everything of the work that is out of tolerance."""

from __future__ import annotations

from typing import ClassVar

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.checks import check_named
from geoqa.contract.odds_sentences import UNASKED
from geoqa.kernels.judging.odds import SESSION, SETUP, SHOT, marked, odds, witnessed
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import has_flag
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.unproven.features import Looked, of_features
from geoqa.steps.unproven.piece import Piece, texts
from geoqa.steps.unproven.witnesses import (
    Numbers,
    Witness,
    beside,
    checks_left_out,
    elsewhere,
    numbers_of,
    shots_in_order,
    with_checks,
    witness,
)

POOR = ("weak-sky", "satellites", "pdop", "hdop", "vdop", "epochs", "correction_age", "reported_h", "reported_v",
        "solution")  # fmt: skip
"""Flags of a poor record."""
START = 60.0
"""Seconds after its first shot in which an initialization may not have settled."""
LEANING = 5.0
"""Degrees from which on a rod leans."""
LASTS = 1800.0
"""Seconds in which a bad signal or a badly set rod may last at one place."""
SETUP_LASTS, SESSION_LASTS = 40.0, 150.0
"""Shots that a bad initialization, and a wrong rod or base, last on the average."""
TOGETHER = 0.3
"""Chance that what lies close to a defect is off by the same: curb and gutter are formed together."""
AGREES, STAYS = 0.98, 0.3
"""Chance that a place shot again shows the same: where it is the work; where it is the shot, at once after it."""
LIKE = 200.0
"""Numbers that the weight of the work counts for, beside what this job shows of it."""
FEW = 0.05
"""Least share of shots that a mark of the record is taken to be usual for."""
BY_LEAN, BY_RECORD, BY_DOUBT = 0.2, 0.2, 0.3
"""Share of blunders that a lean, a poor record, or an effect the diagnosis left in doubt goes with."""


class WorkOdds(Step):
    """Tell of all work that is out of tolerance how likely it is the work, and how likely its measurement.

    Four explanations are held against each other: the work is so, this shot alone is wrong, its initialization is, its
    session is. What each piece of evidence says under each of them is a likelihood; `work_odds` holds the natural log
    of its ratio, one row a piece, and their sum is the log odds that the work is so. No verdict is changed by it. A run
    or a place speaks by the shot in its middle.

    The four weights are common practice, no source: an option each, as the share of places, or of shots, in which it is
    so and nothing else says so. Only their ratios count.
    """

    name: ClassVar[str] = "work-odds"
    needs = ("findings", "evidence", "shots.use", "shots.flags")
    wants = ("line_matches", "point_matches", "control_table", "control", "cause_shots", "run_members", "place_members",
             "survey_doubt")  # fmt: skip
    gives = ("work_odds",)

    work: float = Field(0.01, gt=0, lt=1, description="Share of places at which the work is out of tolerance")
    shot: float = Field(0.002, gt=0, lt=1, description="Share of shots that are wrong alone and bear no sign of it")
    initialization: float = Field(0.0005, gt=0, lt=1, description="Share of shots in a bad initialization unnoticed")
    session: float = Field(
        0.0005, gt=0, lt=1, description="Share of shots in a session with a wrong rod or base unnoticed"
    )
    defect: Length = Field(Length.parse("60 ft"), description="Reach of a defect along a line, on the average")
    place: Length = Field(Length.parse("0.30 ft"), description="Stretch of a line within which shots are of one place")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One row a finding and piece of evidence."""
        findings = layers["findings"]
        out = _out(findings)
        if not len(out):
            return {"work_odds": empty("work_odds")}
        at = shots_in_order(layers)
        numbers = numbers_of(layers, at)
        mine, members = _speaking(layers, out, numbers)
        pieces = self._of_numbers(layers, numbers, at, mine, members)
        pieces += _of_records(layers, at, _rows_of_shots(layers, out, numbers, mine))
        weights = [self.work, self.shot, self.initialization, self.session]
        told = np.stack([piece.log for piece in pieces], axis=1)
        unit = layers.frame.unit
        looked = Looked(
            single=mine >= 0, log=told.sum(axis=1), total=odds(weights, told).total, usual=self._usual(numbers),
            reach=self.defect.to(unit), place=self.place.to(unit),
        )  # fmt: skip
        pieces = of_features(layers, out, pieces, looked)
        told = np.stack([piece.log for piece in pieces], axis=1)
        made = odds(weights, told)
        return {"work_odds": _table(out, pieces, made.prior, made.parts)}

    def _of_numbers(
        self, layers: Layers, numbers: Numbers, at: pd.DataFrame, mine: np.ndarray, members: np.ndarray
    ) -> list[Piece]:
        """What neighbours, repeats, other lines and checks say; nothing of findings that have no number."""
        unit = layers.frame.unit
        known = np.flatnonzero(mine >= 0)
        reach, place = self.defect.to(unit), self.place.to(unit)
        near = beside(numbers, mine[known], apart=place, reach=3.0 * reach)
        other = elsewhere(numbers, mine[known])
        usual = self._usual(numbers)
        whole, checks = with_checks(layers, numbers, at, mine[known])

        def gathered(name: str, rows: np.ndarray) -> Piece:
            seen = [witness(whole, mine[known], rows[:, side]) for side in range(2)]
            logs = [self._log(name, each, reach, usual, seen[:side]) for side, each in enumerate(seen)]
            return _piece(name, seen, np.sum(logs, axis=0), known, len(mine))

        made = [gathered("elsewhere", other), gathered("checks", checks)]
        made += [gathered("neighbours", near.neighbours), gathered("again", near.again)]
        run = members > 1
        in_doubt = "survey_doubt" in layers and len(layers["survey_doubt"]) > 0
        left_out = checks_left_out(layers, at, numbers, mine[known])
        made[1].variant[known] = _of_checks(made[1], known, left_out, in_doubt=in_doubt)
        for piece in made:  # a finding without a number of a single shot is held against none of these
            piece.variant[mine < 0] = UNASKED
        made[2].variant[run] = "run"
        made[2].count[run] = made[2].total[run] = members[run]
        return made

    def _usual(self, numbers: Numbers) -> float:
        """Share of numbers that are out."""
        return (LIKE * self.work + numbers.out) / (LIKE + len(numbers.table))

    def _log(self, name: str, seen: Witness, reach: float, usual: float, heard: list[Witness]) -> np.ndarray:
        """Log likelihoods of one other number for each finding, (n, 4), after what those before it said."""
        ratio = np.column_stack([seen.ratio_work, *3 * (seen.ratio_shift,)])
        made = witnessed(ratio, _chances(name, seen, reach, heard), by_itself=seen.ratio_own, usual=usual)
        return np.where(seen.there[:, None], made, 0.0)


def _out(findings: pd.DataFrame) -> pd.DataFrame:
    """Findings of the work that are out of tolerance."""
    names = findings["check"].unique()
    work = [name for name in names if check_named(str(name)).subject == "work"]
    told = findings["check"].isin(work) & (findings["verdict"] == "OUT")
    return pd.DataFrame(findings.loc[told, ["finding", "shot", "check"]]).reset_index(drop=True)


def _speaking(layers: Layers, out: pd.DataFrame, numbers: Numbers) -> tuple[np.ndarray, np.ndarray]:
    """Number that speaks for each finding, -1 none, and how many shots it is made of, 0 where it is no run."""
    table = numbers.table
    key = table["shot"] + "\n" + table["check"]
    speaks = rows_of(out["shot"] + "\n" + out["check"], key)
    members = np.zeros(len(out), dtype=np.int64)
    for name, by in (("run_members", "run"), ("place_members", "finding")):
        if name not in layers or not len(layers[name]):
            continue
        rows = layers[name]
        of = rows_of(rows[by], out["finding"])
        rows, of = rows[of >= 0], of[of >= 0]
        if by == "run":
            members += np.bincount(of, minlength=len(out))
        place = rows_of(
            rows["shot_key"].reset_index(drop=True) + "\n" + out["check"].take(of).reset_index(drop=True), key
        )
        of, place = of[place >= 0], place[place >= 0]
        order = np.lexsort((np.nan_to_num(table["station"].to_numpy(float)[place]), of))
        different, first, count = np.unique(of[order], return_index=True, return_counts=True)
        speaks[different] = place[order][first + count // 2]
    return speaks, members


def _rows_of_shots(layers: Layers, out: pd.DataFrame, numbers: Numbers, mine: np.ndarray) -> np.ndarray:
    """Row of the shot that each finding rests on; -1 where it is not one."""
    own = rows_of(out["shot"], layers["shots"]["shot_key"])
    return np.where(mine >= 0, numbers.table["row"].to_numpy()[mine] if len(numbers.table) else -1, own)


def _chances(name: str, seen: Witness, reach: float, heard: list[Witness]) -> np.ndarray:
    """Probability under each explanation that the other number is off in the same way.

    What passes over a place lasts: where one shot of its session shows the same, another of those minutes will too.
    """
    made = np.zeros((len(seen.there), 4))
    if name == "neighbours":
        made[:, 0] = np.exp(-seen.away / reach)
    elif name == "elsewhere":
        made[:, 0] = TOGETHER * np.exp(-seen.away / reach)
    elif name == "again":
        made[:, 0] = AGREES
        late = np.where(np.isnan(seen.seconds), 0.0, seen.seconds)
        stays = np.exp(-late / LASTS)
        made[:, SHOT] = np.where(seen.same_session, STAYS * stays, 0.0)
        for other in heard:
            lasting = other.agrees & other.same_session & seen.same_session
            made[:, SHOT] = np.where(lasting, AGREES * stays, made[:, SHOT])
    for shift, same, lasts in ((SETUP, seen.same_setup, SETUP_LASTS), (SESSION, seen.same_session, SESSION_LASTS)):
        made[:, shift] = np.where(same & seen.feels, np.exp(-seen.between / lasts), 0.0)
    return np.nan_to_num(made)


def _piece(name: str, seen: list[Witness], log: np.ndarray, known: np.ndarray, count: int) -> Piece:
    """What two witnesses say of the findings that have a number."""
    logs = np.zeros((count, 4))
    logs[known] = log
    there = sum(each.there.astype(int) for each in seen)
    agree = sum(each.agrees.astype(int) for each in seen)
    counts, total, good = np.zeros((3, count), dtype=int)
    made = Piece(name, logs, counts, total, texts(count), good)
    made.count[known], made.total[known] = agree, there
    made.good[known] = sum(each.good.astype(int) for each in seen)
    if name == "again":
        apart = np.any([each.there & ~each.same_setup for each in seen], axis=0)
        made.variant[known] = np.where(apart, "apart", "")
    return made


def _of_checks(piece: Piece, known: np.ndarray, left_out: np.ndarray, *, in_doubt: bool) -> np.ndarray:
    """How the checks of findings are told: off by something else, good but for those left out, or simply good.

    A number along an axis that control bears out is told so, also where along the other one nothing explains it.
    """
    off = (piece.count[known] == 0) & (piece.good[known] < piece.total[known])
    return np.where(off, "off", np.where(left_out, "apart", "doubt" if in_doubt else ""))


def _of_records(layers: Layers, at: pd.DataFrame, row: np.ndarray) -> list[Piece]:
    """What lean, record and diagnosis say of the shot itself."""
    shots = layers["shots"]
    used = shots["use"].to_numpy(bool)
    tilt = shots["tilt"].to_numpy(float) if "tilt" in shots else np.full(len(shots), np.nan)
    leans = np.where(np.isnan(tilt), np.nan, tilt >= LEANING)
    poor = has_flag(shots, *POOR)
    first = at.groupby("setup")["seconds"].transform("min")
    early = ((at["seconds"] - first) < START).to_numpy(bool)
    doubt = has_flag(shots, "lean-in-doubt")
    if "cause_shots" in layers and len(layers["cause_shots"]):
        loose = layers["cause_shots"]
        doubt = doubt | shots["shot_key"].isin(loose.loc[~loose["holds"].astype(bool), "shot_key"]).to_numpy(bool)
    record = (poor | early).astype(float)
    variant = np.where(poor, "flag", np.where(early, "start", ""))
    every = (SHOT, SETUP, SESSION)
    return [
        _mark("lean", leans, used, row, BY_LEAN, texts(len(shots)), (SHOT,)),
        _mark("record", record, used, row, BY_RECORD, variant, (SHOT, SETUP)),
        _mark("doubt", np.where(doubt, 1.0, np.nan), used, row, BY_DOUBT, texts(len(shots)), every),
    ]


def _mark(
    name: str,
    bears: np.ndarray,
    used: np.ndarray,
    row: np.ndarray,
    caused: float,
    variant: np.ndarray,
    hypotheses: tuple[int, ...],
) -> Piece:
    """A mark of the record; a shot without it is told of too, unless it is NaN."""
    known = used & np.isfinite(bears)
    share = float(np.clip(bears[known].mean() if known.any() else 0.0, FEW, 0.9))
    mine = np.where(row >= 0, bears[row], np.nan)
    log = marked(mine, usual=share, caused=caused, hypotheses=hypotheses)
    total = np.isfinite(mine).astype(int)
    return Piece(name, log, np.nan_to_num(mine).astype(int), total, np.where(row >= 0, variant[row], ""))


def _table(out: pd.DataFrame, pieces: list[Piece], prior: float, parts: np.ndarray) -> pd.DataFrame:
    """Rows of `work_odds`: what is known of each finding, the prior first."""
    rows = [pd.DataFrame({"finding": out["finding"], "evidence": "prior", "variant": "", "count": 0, "total": 0,
                          "log_ratio": prior, "order": 0})]  # fmt: skip
    for number, piece in enumerate(pieces):
        rows.append(
            pd.DataFrame(
                {"finding": out["finding"], "evidence": piece.name, "variant": pd.Series(piece.variant, dtype="str"),
                 "count": piece.count, "total": piece.total, "log_ratio": parts[:, number], "order": number + 1}
            )
        )  # fmt: skip
    made = pd.concat(rows, ignore_index=True).sort_values(["finding", "order"], kind="stable")
    return conform("work_odds", made.drop(columns="order").reset_index(drop=True))
