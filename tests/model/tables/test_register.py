"""Which design files the register says are older: by their sheet, else by the revision of the job."""

import pandas as pd
import pytest

from geoqa.model.tables.register import in_force


def files(*rows):
    names = ("source", "sheet", "revision", "dated")
    return pd.DataFrame([dict(zip(names, row, strict=True)) | {"role": "design"} for row in rows])


def test_a_file_is_held_against_the_last_of_its_sheet():
    rows = in_force(files(("walk", "C-5", "A", "2026-01-10"), ("plan", "C-5", "B", "2026-03-14"),
                          ("site", "C-6", "A", "2026-01-10")))  # fmt: skip
    assert [(row["source"], row["newer"], row["wanted"]) for row in rows] == [
        ("walk", "sheet C-5, revision B, 2026-03-14 (file plan)", "revision B, 2026-03-14 of sheet C-5"),
        ("plan", None, None),
    ]


@pytest.mark.parametrize(
    ("revision", "dated", "stated", "newer"),
    [
        ("A", "2026-01-10", "Design rev. B, 2026-03-14", "the job: Design rev. B, 2026-03-14"),
        ("A", None, "Revision B", "the job: Revision B"),
        ("2", None, "rev. 10", "the job: rev. 10"),
        ("B", None, "rev. B", None),
        ("C", "2026-04-01", "Design rev. B, 2026-03-14", None),
    ],
)
def test_without_another_of_its_sheet_the_revision_of_the_job_counts(revision, dated, stated, newer):
    (row,) = in_force(files(("walk", "C-5", revision, dated)), stated=stated)
    assert row["newer"] == newer


def test_what_nothing_tells_and_what_was_changed_in_the_field_is_not_listed():
    assert in_force(files(("walk", "C-5", "A", None)), stated="reviewed in March") == []
    assert in_force(files(("walk", None, None, None)), stated="Design rev. B, 2026-03-14") == []
    assert in_force(files(("walk", "C-5", "A1", None), ("plan", "C-5", "B", None))) == []
    both = files(("walk", "C-5", "A", "2026-01-10"), ("change", "C-5", None, "2026-05-01"))
    assert in_force(both, changes=["change"]) == []
