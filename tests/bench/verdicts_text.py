"""The page ``docs/verdicts.md``: what is planted for each question of a verdict, before and after."""

from collections.abc import Mapping

HEAD = """# Verdicts: each question as a planted case

This page is written by `GEOQA_WRITE_DOCS=1 python -m pytest tests/score/test_verdicts_score.py -m score -s` and is not
edited by hand. *Before* are numbers of the first edition, measured from outside on jobs of other sites. *After* are
planted cases: where a page is named, they stand there, over the zones and seeds it names; the rest is measured here,
over {zones} zones and {seeds} seeds each ({jobs} jobs), every case in a job of its own.

| | question | planted | before | after |
|---|---|---|---|---|
"""
ROWS = (
    (
        "0",
        "doubt protects",
        "a rod wrong between two checks, the log as ever; a smooth warp that control shows",
        "143 to 250, and 617 to 725, false defects of 1,000",
        "false of 1,000 sound numbers: {rod}; {warp}. Nineteen such worlds: `tests/score/test_worlds_score.py`",
    ),
    (
        "1",
        "a cause hides no defect",
        "a manhole 3 ft off, its rod leaning 10 to 24° towards anywhere",
        "hidden in 6 of 24",
        "hidden in {hidden}",
    ),
    (
        "2",
        "a diagnosed shot feeds no statistic",
        "a check shot that names another mark",
        "session mean -52.8 ft in easting; 95 % of 295 ft",
        "largest session mean in plan {mean} ft, largest 95 % {worst} ft",
    ),
    (
        "3",
        "sessions shifted as a whole",
        "session A 0.03 ft high",
        "named nowhere",
        "its 95 % band holds the shift in {band}. 1, 2, 3 and 8 check shots: [Uncertainty](uncertainty.md)",
    ),
    (
        "4",
        "several shots of one place",
        "points shot again by the remedy that was printed, judged again",
        "149 of 325 remedies were a shot that decides nothing",
        "decided as often as promised, within 3 standard errors and 1 of 100, in 2 worlds of 600 places; in 3 "
        "zones, seeds 71 to 73, at least as often, and at most 3 of 1,000 wrongly out: "
        "`tests/score/test_remedies_score.py`",
    ),
    (
        "5",
        "the number of a run",
        "1,000 runs 1 to 3.5 limits deep, white errors and AR(1) 0.95",
        "54 % of elevation runs within 2 u",
        "96.5 and 96.7 % within 2 u; deep runs found whole: [Uncertainty](uncertainty.md)",
    ),
    (
        "6",
        "two parts that the data confirm",
        "a log that states half or a third, heavy tails, AR(1), a plan bias declared 0, a wrong heading",
        "80 and 66 % of elevations with a flattering log; 82 % with a wrong heading",
        "where checks tell, offsets 93 to 99 % and elevations 93 to 98 % (20 jobs a variant); with checks in one "
        "of three sessions and a plan bias declared 0, offsets 90 %: [Uncertainty](uncertainty.md). Held in 3 zones, "
        "seeds 7100 to 7104: `tests/score/test_parts_score.py`",
    ),
    (
        "7",
        "undecided is a sentence; work or survey",
        "kinds of which one shot decides too little; defects, wrong shots and bad initializations side by side",
        "149 of 325 undecided asked for one more shot; nothing said of what is out",
        "one line a kind, with what decides it; odds that hold: [Diagnosis](diagnosis.md), work or survey",
    ),
    (
        "8",
        "evidence, not accusation",
        "a water pipe and a curb drawn twice",
        "a line drawn twice was out as not built",
        "of {twice} lines drawn twice, out for want of evidence: {accused}",
    ),
    (
        "9",
        "design as it is",
        "arcs drawn in chords of 25 ft on 50 ft; points up to 0.4 ft off in plan on slopes of 1:20 to 1:2.5",
        "0.6 to 1.6 ft out on the true arc; 6 of 6 sound points out",
        "out: 0 of 420 sound points and 0 of 720 sound shots, all of 180 points and 240 shots that are off; 3 "
        "frames, seeds 0 to 19: `tests/score/test_design_score.py`",
    ),
    (
        "10",
        "the same shot twice",
        "a file listed twice; one row twice, one shot under two names; codes and names in question",
        "a blunder 'check shot alone is off' from a second listing",
        "row twice and two names told right in 60 of 60 jobs, 240 of 240 shots; 3 zones, seeds 1 to 20: "
        "[Field checks](field_checks.md), S03. A file listed twice: `tests/job/test_listed_again.py`",
    ),
    (
        "11",
        "tilt",
        "a heading 1.5° off; tests of 64 leaning shots",
        "headline 29.5° where truth allows 24.2°",
        "the bias lies in its 95 % band in 57 of 60 tests, the spreads in 60 and 54 (3 zones, seeds 1 to 20: "
        "[Uncertainty](uncertainty.md), the tilt test); the truth allows the headline in at least 95 % of 400 limits: "
        "`tests/score/test_tilt_score.py`",
    ),
    (
        "12",
        "counts that agree",
        "everything of the demo",
        "17 and 277 in the headline, 15 and 322 in the legend",
        "every shot bears one sign and the signs add up to the shots in {counts}",
    ),
    (
        "13",
        "sensitivity answers first",
        "rod 0.02 ft, geoid 0.03 ft, a mark less, the other foot",
        "the one verdict that flips stood at line 43 to 1035",
        "first line: what stays out, what would be out. Demo, 11 changes, each adding up to the 1,502 findings of "
        "the run: with rod or geoid off the 16 out stay out, and 216 to 301 change between within and undecided: "
        "`tests/job/test_capability_and_sensitivity.py`",
    ),
)


def page_of(measured: Mapping[str, str], *, zones: int, seeds: int) -> str:
    """The whole page."""
    rows = "".join(f"| {' | '.join(row)} |\n".format_map(measured) for row in ROWS)
    return HEAD.format(zones=zones, seeds=seeds, jobs=zones * seeds) + rows
