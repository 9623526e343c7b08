"""One order of findings for the terminal and the map."""

import pandas as pd

from geoqa.contract.chapters import in_chapters, tally


def test_the_work_comes_first_and_what_holds_water_before_all_else():
    checks = ["control-position", "offset", "cover", "cross-slope", "ponding", "ponding", "coverage"]
    found = pd.DataFrame({"check": checks, "verdict": ["OUT"] * 5 + ["UNDECIDED", "NO_DATA"]})
    parts = in_chapters(found)
    assert [chapter.subject for chapter, _ in parts] == ["work", "evidence", "survey"]
    assert parts[0][1].index.tolist() == [4, 3, 2, 1, 5]
    assert tally(parts[0][1], parts[0][0]) == "4 out of tolerance, 1 undecided"
    assert sum(len(rows) for _, rows in parts) == len(found)
