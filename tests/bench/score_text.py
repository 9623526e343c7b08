"""The score in words and tables, for the terminal and for its page in the documentation."""

from typing import TYPE_CHECKING, Any

from bench.score import CERTAIN, POOLED, SINGLE, VERDICTS, WITHIN, Score

if TYPE_CHECKING:
    import pandas as pd


def tables(score: Score) -> str:
    """Tables of the score, and what does not hold."""
    found = "\n".join(f"- {problem}" for problem in score.problems()) or "Every line holds."
    return "\n\n".join(
        [
            f"**Planted** ({score.runs} jobs)",
            _planted(score.planted),
            "**Sound** (everything that is not planted)",
            _sound(score.sound),
            "**Sound, and near their limit by design** (numbers of several shots; counted in no line above)",
            _near(score.near),
            "**Numbers**",
            _numbers(score),
            "**False defects**",
            _false(score),
            found,
        ]
    )


def _planted(rows: "pd.DataFrame") -> str:
    head = ["plant", "check", "level", "u beyond the limit", "jobs × shots", *VERDICTS, "farthest, ft", "flag missing"]
    body = [
        [
            row["plant"],
            row["check"] or "(flag)",
            row["level"],
            f"{row['excess']:.1f}" if row["excess"] else "–",
            row["times"],
            *(_cell(row, verdict) for verdict in VERDICTS),
            f"{row['away']:.2f}",
            row["unflagged"],
        ]
        for row in rows.to_dict("records")
    ]
    return _table(head, body)


def _cell(row: dict[str, Any], verdict: str) -> str:
    """Found, and in brackets the 99.9 % band of what was predicted."""
    if not any(row[f"mean {each}"] for each in VERDICTS):
        return "–"
    if row[verdict] == 0 and row[f"high {verdict}"] == 0:
        return "0"
    return f"{row[verdict]} ({row[f'low {verdict}']}–{row[f'high {verdict}']})"


def _sound(rows: "pd.DataFrame") -> str:
    head = ["kind", "check", "checks", *(f"{verdict}" for verdict in VERDICTS[:3])]
    body = [
        [row["kind"], row["check"], row["times"], *(_cell(row, verdict) for verdict in VERDICTS[:3])]
        for row in rows.to_dict("records")
    ]
    return _table(head, body)


def _near(rows: "pd.DataFrame") -> str:
    head = ["check", "numbers", *VERDICTS[:3], "OUT at most"]
    return _table(head, [[row[name] for name in ("check", "times", *VERDICTS[:3], "allowed")]
                         for row in rows.to_dict("records")])  # fmt: skip


def _numbers(score: Score) -> str:
    body = [
        [row["check"], row["level"], row["numbers"], f"{100 * row['within 2 u']:.2f} %", f"{row['largest']:.2f} u"]
        for row in score.numbers.to_dict("records")
    ]
    total = int(score.numbers["numbers"].sum())
    largest = f"{score.numbers['largest'].max():.2f} u (allowed {score.largest_allowed:.2f} u)"
    body.append(["all", "", total, f"{100 * score.share_within:.2f} %", largest])
    return _table(["check", "level", "numbers", "within 2 u of the truth", "largest error"], body)


def _false(score: Score) -> str:
    sound, false = int(score.false_defects["sound"].sum()), int(score.false_defects["false"].sum())
    told = ", ".join(f"{count} {verdict}" for verdict, count in score.sound_runs.items()) or "none"
    runs = f"Runs of neighbours found where nothing is planted, in all jobs: {told}."
    table = _table(
        ["sound checks", "false defects", "per 1,000, pooled", "per 1,000, worst job"],
        [[sound, false, f"{1000 * score.false_rate:.3f}", f"{1000 * score.worst_run:.2f}"]],
    )
    return f"{table}\n\n{runs}"


def _table(head: list[str], body: list[list[Any]]) -> str:
    rows = [head, ["---"] * len(head), *[[str(cell) for cell in row] for row in body]]
    return "\n".join("| " + " | ".join(row) + " |" for row in rows)


def page(score: Score) -> str:
    """The page ``docs/score.md``."""
    count = int(score.numbers["numbers"].sum())
    within = f"{100 * WITHIN[0]:.0f} to {100 * WITHIN[1]:.0f}"
    bands = sum(int((rows["times"] > 0).sum()) * 3 for rows in (score.planted, score.sound))
    odds = round(1000 / bands)
    pooled, single = f"{1000 * POOLED:.0f}", f"{1000 * SINGLE:.0f}"
    return f"""\
# Score: what geoqa says, held against a known truth

This page is written by `GEOQA_WRITE_DOCS=1 python -m pytest tests/score -m score -s` and is not edited by hand.

{score.runs} jobs are simulated (`geoqa demo` makes one of them): the invented street Tannery Lane in three state plane
zones, each with seeds of its own, so no two jobs share their noise. Each goes through the default steps in
memory. The truth is known, and so is the probability of every verdict: `geoqa.simulate.power` computes it
by arithmetic of its own, sharing no line with the decision rule.

## The lines

1. A planted thing at least {CERTAIN} u beyond its limit, judged at the level at which it is reported (run,
   element, section or shot), is OUT in every job. A value 5.8 u beyond fails to be OUT only if the measurement errs by
   more than 5.8 - 1.645 = 4.155 u toward the limit: 1.6 in 100,000.
2. For every other planted thing, and for everything sound, pooled by kind and check, the number of each
   verdict lies in the 99.9 % binomial band of the prediction.
3. {within} % of all numbers lie within 2 u of the truth, and none farther than what {count:,} such
   numbers allow (below).
4. At most {pooled} false defect per 1,000 sound checks over all jobs, and at most {single} in any one.
5. Every planted thing is reported within 15 ft of its place, and flagged where a flag is due; where it is undecided,
   the finding says what would decide it.
6. The mean of a stretch of sections whose ends the data find (level stretch) is held to the same, with 5 % that may be
   found otherwise: longer, so that good sections dilute it, or in two.
7. Numbers that are designed near their limit, such as a cross slope of 1.5 % where 1:48 is allowed and one section has
   a u of 0.57 %, are counted apart: at most 5 % of them are OUT, the risk that the rule takes at the limit itself.

## How far off may the largest number be?

A normal error exceeds 4.5 u once in 147,000. Among {count:,} numbers one such error is no surprise, so the bound
must grow with their number. The chance that any of N exceeds z u is at most N × 2 × (1 - Φ(z)). Set to 0.001:

    1 - Φ(z) = 0.001 / (2 × {count}) = {0.0005 / count:.2e}      z = {score.largest_allowed:.2f}

A distance from a design point has no sign and is not normal about the true one. For it, the probability of a shorter
distance under the stated u is turned into the normal value of the same probability; 2 u is then the same 95 %.

## Why predictions know the errors that shots share

All elevations of a session share one bias, and all check shots on a mark share the error of its published value.
Verdicts of such shots are not independent: a session with a large bias makes dozens of them undecided at
once, and no binomial band holds for their count. But given the shared errors of a job, which the truth
knows, the shots are independent again. The predictions for sound checks are made so: mean = true deviation +
shared error, scatter = the random part alone, judged with the whole u. Counts of independent events with unequal
chances scatter less than binomial counts of the same mean (W. Hoeffding 1956, Annals of Mathematical Statistics
27), so the binomial band is on the safe side. The tool itself knows nothing of the shared errors.

Session A is biased by exactly 0.03 ft in every job (plant D20): its elevations are off by 1.06 u on average, and
the share of elevations within 2 u lies a little below 95 %.

Runs are found because their members agree, also where a session's bias and luck make them agree. The number of such
a run is farther off than the law of propagation says, because it was chosen for being large; its u holds that choice
([Uncertainty](uncertainty.md), the mean of a run), and lies above the scatter of runs that were planted. The tables
count runs apart.

Some {bands} bands are compared, each at 99.9 %. By chance alone about one trial in {odds} would see one of them
left; the seeds are fixed, so nothing is drawn again until it fits.

## What was found

In brackets: the 99.9 % band of the prediction. A dash: nothing is predicted.

{tables(score)}
"""
