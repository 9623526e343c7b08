"""Words that a spreadsheet has changed are told, and nothing else is."""

import pandas as pd
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.model.tables.columns import conform
from geoqa.steps.shots.doubtful_records import DoubtfulRecords

MARKS = conform(
    "control",
    pd.DataFrame(
        {"mark": ["0101", "CP-2", "007", "7"], "easting": 0.0, "northing": 0.0, "elevation": 0.0, "held": False,
         "independent": True, "source": "control", "line": range(2, 6)}
    ),
)  # fmt: skip


def looked_at(job, **words):
    words = {"shot": "S9"} | words
    role = words.pop("role", "check")
    shots = job.prepared(job.shots([{"line_id": None, **words}]), role=role)
    return job.run(job.layers(shots=shots, control=MARKS), DoubtfulRecords())


@pytest.mark.parametrize(("field", "written", "said"), [
    ("shot", "Jan-02", "name 'Jan-02' reads as a date, as a spreadsheet makes of '1-2'; not changed"),
    ("line_id", "3-Dec", "line ID '3-Dec' reads as a date, as a spreadsheet makes of '12-3'; not changed"),
    ("shot", "1.00E+03", "name '1.00E+03' reads as a rounded number, as a spreadsheet makes of names near '1000'; "
     "not changed"),
    ("shot", "1630.0", "name '1630.0' reads as a decimal number, as a spreadsheet makes of '1630'; not changed"),
    ("line_id", "101", "line ID '101' has lost the zeros it begins with, as in a spreadsheet: '0101'; not changed"),
    ("code", "1-Feb", "code '1-Feb' reads as a date, as a spreadsheet makes of '2-1'; not changed"),
])  # fmt: skip
def test_what_a_spreadsheet_makes_of_a_name_is_told_with_what_it_was(job, field, written, said):
    done = looked_at(job, **{field: written})
    (flag,) = job.reasons(done).to_dict("records")
    assert (flag["flag"], flag["reject"], flag["reason"]) == ("damaged-name", False, said)
    (line,) = note_lines(done["notes"], "ft")
    assert line.startswith("1 row bears a name, line ID or code as a spreadsheet leaves it:")
    assert written in line


@pytest.mark.parametrize("written", [
    "1630", "CTB-R-2", "0101", "7", "JANE-2", "E+3", "1E5", "12-13", "1.5", "MH-2", "Jan", "S-12", "2.05", "CP-2", "-",
])  # fmt: skip
def test_names_as_crews_write_them_pass(job, written):
    assert not len(looked_at(job, shot=written, line_id=written)["flags"])


def test_a_feature_may_be_called_as_a_mark_is_without_its_zeros(job):
    assert not len(looked_at(job, shot="101", line_id="101", role="feature")["flags"])
    assert len(looked_at(job, shot="101", role="check")["flags"])


def test_no_shots_are_no_error(job):
    assert not len(job.run(job.layers(shots=job.shots([])), DoubtfulRecords())["notes"])
