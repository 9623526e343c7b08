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
    "40-Nov", "11/1", "1/2/10", "1.2.10", "99/99/2026", "7-Main", "3-Decking", "12MAR", "MAR12", "45962", "MAY",
    "2026-13-01",
])  # fmt: skip
def test_names_as_crews_write_them_pass(job, written):
    assert not len(looked_at(job, shot=written, line_id=written)["flags"])


def test_a_feature_may_be_called_as_a_mark_is_without_its_zeros(job):
    assert not len(looked_at(job, shot="101", line_id="101", role="feature")["flags"])
    assert len(looked_at(job, shot="101", role="check")["flags"])


def test_no_shots_are_no_error(job):
    assert not len(job.run(job.layers(shots=job.shots([])), DoubtfulRecords())["notes"])


LEFT = ("1-Nov", "01-Nov", "Nov-1", "Nov-01", "1-Nov-26", "01-Nov-2026", "2026-11-01", "2026-11-01 00:00:00",
        "2026-11-01T00:00:00", "11/1/2026", "11/01/2026", "11/01/26", "01.11.2026", "01. Nov", "1-NOV",
        "1-November")  # fmt: skip
"""How spreadsheets show and export the first of November: by their own formats of a date, ISO 8601, and as workbooks
are read; from memory of their US, British and German settings."""


@pytest.mark.parametrize("written", LEFT)
@pytest.mark.parametrize("mark", ["11-1", "1-11", "NOV1", "Nov-1", "11/01"])
def test_of_a_date_the_mark_is_proposed_that_a_spreadsheet_makes_it_of(job, written, mark):
    marks = MARKS.assign(mark=["0101", mark, "12-1", "NOV2"])
    shots = job.prepared(job.shots([{"line_id": None, "shot": written}]), role="check")
    done = job.run(job.layers(shots=shots, control=marks), DoubtfulRecords())
    if written == mark:  # it is called so
        assert not len(done["flags"])
        return
    (fact,) = done["flags"].to_dict("records")
    assert (fact["flag"], fact["variant"], fact["proposal"]) == ("damaged-name", "date", mark)


@pytest.mark.parametrize("written", LEFT)
def test_where_no_name_is_known_the_date_says_what_it_may_have_been(job, written):
    (fact,) = looked_at(job, shot=written)["flags"].to_dict("records")
    assert fact["proposal"] == ("11-1 or 1-11" if written in ("01-Nov", "01-Nov-2026", "01. Nov") else "11-1")
