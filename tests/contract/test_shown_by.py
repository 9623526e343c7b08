"""A control check that a blunder, or a doubt nothing explains, puts out of tolerance stands under its cause."""

import numpy as np
import pandas as pd

from geoqa.contract.shown_by import SHOWN_BY, cause_of_checks, checks_in_words

MOVED = pd.DataFrame(
    {
        "cause": ["rod", "initialization", "tilt-off"], "subject": ["session B", "B-2", "in doubt"],
        "shot_key": ["a", "b", "c"], "holds": [True, True, False],
        "shift_easting": [0.0, 0.3, 0.3], "shift_northing": 0.0, "shift_elevation": 0.5,
    }
)  # fmt: skip
FINDINGS = pd.DataFrame(
    [
        ("F1", "diagnosis", "rod: session B", None, "OUT"),
        ("F2", "diagnosis", "initialization: B-2", None, "OUT"),
        ("F3", "control-elevation", "M", "a", "OUT"),
        ("F4", "control-position", "M", "a", "OUT"),
        ("F5", "control-elevation", "M", "b", "OUT"),
        ("F6", "control-position", "M", "b", "OUT"),
        ("F7", "control-elevation", "M", "c", "OUT"),
        ("F8", "control-elevation", "M", "d", "OUT"),
        ("F9", "elevation", "L", "a", "OUT"),
        ("F10", "control-elevation", "N", "a", "UNDECIDED"),
    ],
    columns=["finding", "check", "subject", "shot", "verdict"],
)


def test_only_what_the_cause_moves_is_laid_to_it():
    found = dict(zip(FINDINGS["finding"], cause_of_checks({"cause_shots": MOVED}, FINDINGS), strict=True))
    assert {name: cause for name, cause in found.items() if cause == cause} == {"F3": "F1", "F5": "F2", "F6": "F2"}


def test_without_a_named_cause_every_check_stands_for_itself():
    assert cause_of_checks({}, FINDINGS).isna().all()
    assert cause_of_checks({"cause_shots": MOVED}, FINDINGS[FINDINGS["check"] != "diagnosis"]).isna().all()


def test_what_nothing_explains_is_one_matter_in_what_is_in_doubt_of_a_session():
    doubt = FINDINGS.iloc[[0]].assign(finding="F0", subject="none-fits: A and C")
    rows = pd.concat([doubt, FINDINGS], ignore_index=True)
    held = pd.DataFrame(
        {"shot_key": ["a", "d", "e"], "off_plan": [0.4, 0.4, np.nan], "off_elevation": [np.nan, 0.3, np.nan]}
    )
    layers = {"cause_shots": MOVED, "survey_doubt": held}
    found = dict(zip(rows["finding"], cause_of_checks(layers, rows), strict=True))
    told = {name: cause for name, cause in found.items() if cause == cause}
    assert told == {"F3": "F1", "F4": "F0", "F5": "F2", "F6": "F2", "F8": "F0"}  # what is named comes first
    alone = cause_of_checks({"survey_doubt": held}, rows).dropna()
    assert set(alone) == {"F0"}
    assert set(rows.loc[alone.index, "finding"]) == {"F4", "F8"}
    assert cause_of_checks({"survey_doubt": held}, FINDINGS).isna().all()  # nothing is in doubt


def test_the_line_below_a_cause_counts_all_and_names_the_first():
    rows = pd.DataFrame(
        {
            "check": "control-elevation", "subject": "M-1", "label": [f"shot {each}" for each in range(6)],
            "deviation": 0.5, "quantity": "length", "u": 0.02, "lower": -0.1, "upper": 0.1, "verdict": "OUT",
        }
    )  # fmt: skip
    line = checks_in_words(rows, "ft", "rod: session B")
    assert line.startswith("6 control checks are out of tolerance by it: M-1, shot 0: 0.50 ft high; M-1, shot 1: ")
    assert line.endswith(f"; and {6 - SHOWN_BY} more")
    line = checks_in_words(rows, "ft", "none-fits: B")
    assert line.startswith("6 control checks are out of tolerance, and nothing known explains them: M-1, shot 0: ")
    one = checks_in_words(rows.head(1), "ft", "none-fits: B")
    assert one.startswith("1 control check is out of tolerance, and nothing known explains it: ")
    assert checks_in_words(rows.head(0), "ft", "none-fits: B") == ""
