"""The list of items: one row an item, in the words of the terminal, and every open finding counted once."""

from dataclasses import replace

import pandas as pd

from geoqa.contract.spoken import found_of
from geoqa.model.tables.layer import Layers
from geoqa.write.sheets.items_list import items_list


def with_items(results, numbers):
    findings = results.findings.copy()
    findings["item"] = pd.Series(numbers, index=findings.index, dtype="str")
    return replace(results, layers=Layers({**dict(results.layers), "findings": findings}, frame=results.layers.frame))


def test_an_item_is_one_row_and_its_findings_are_counted(results):
    loud = results.findings["verdict"] != "IN"
    numbers = [("7" if each else None) for each in loud]
    told = items_list(with_items(results, numbers))
    reported = results.reported[results.reported["verdict"] != "IN"]
    assert len(reported) > 1
    assert told["item"].tolist() == ["7"]
    assert told["numbers"].tolist() == [len(reported)]


def test_without_items_every_open_finding_is_a_row_and_no_finding_within_tolerance_is(results):
    told = items_list(results)
    open_ones = results.reported[results.reported["verdict"] != "IN"]
    assert sorted(told["finding"]) == sorted(open_ones["finding"])
    rows = open_ones.set_index("finding")
    unit = results.layers.frame.unit.name
    for row in told.to_dict("records"):
        finding = rows.loc[row["finding"]].to_dict()
        if finding["check"] in ("offset", "position", "control-position"):
            continue  # the way it points stands behind the number
        said = found_of(finding, unit)
        assert not said or row["found"] == said
    assert told["done_by"].isna().all()


def test_what_is_out_comes_first_within_its_chapter(results):
    told = items_list(results)
    for _, mine in told.groupby("chapter", sort=False):
        late = (mine["verdict"] != "OUT").astype(int).tolist()
        assert late == sorted(late)
