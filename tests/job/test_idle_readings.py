"""Readings that no verdict is of are said."""

import pandas as pd
import pytest

from geoqa.contract.tolerance_sentences import readings_idle
from geoqa.job.idle_readings import idle_readings
from geoqa.model.tables.fact import Fact


def layers(limits, findings, quantity=("slope", "slope")):
    return {
        "readings": pd.DataFrame({"source": ["lv"] * len(quantity), "quantity": list(quantity)}),
        "reading_rules": pd.DataFrame({"source": ["lv"], "what": ["cross-slope"], "u": [0.001]}),
        "limits": pd.DataFrame({"check": limits}, dtype="str"),
        "findings": pd.DataFrame({"check": findings}, dtype="str"),
    }


@pytest.mark.parametrize(
    ("limits", "findings", "told"),
    [
        (["offset"], ["offset"], 'no [tolerance.KIND] has cross_slope = "…"'),
        (["cross-slope"], ["offset"], "the shots make no number of cross-slope"),
        (["cross-slope"], ["cross-slope"], None),
    ],
)
def test_readings_without_a_limit_or_a_number_are_told(limits, findings, told):
    rows = list(idle_readings(layers(limits, findings), judged=True))
    said = [readings_idle(Fact(**{k: v for k, v in row.items() if k != "note"}), "ft") for row in rows]
    assert [told in each and each.startswith("2 readings of lv") for each in said] == ([True] if told else [])


def test_a_width_among_slopes_is_told():
    [row] = idle_readings(layers(["cross-slope"], [], ("slope", "length")), judged=False)
    assert (row["variant"], row["count"]) == ("quantity", 1)
