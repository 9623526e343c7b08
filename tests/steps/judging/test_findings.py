"""Rows become findings by what their check declares: part of the uncertainty, own reasons, kind of its limits."""

import tomllib
from dataclasses import replace
from typing import Annotated, Any

import numpy as np
import pandas as pd
import pytest
from pydantic import TypeAdapter, ValidationError
from scipy.stats import norm

from geoqa import testing
from geoqa.contract.survey import CONTROL_ELEVATION
from geoqa.contract.work import OFFSET
from geoqa.errors import CheckError
from geoqa.model import words
from geoqa.model.check import Check, ToleranceKey
from geoqa.model.reasons import Reason
from geoqa.steps.judging.findings import asked, findings_of, with_limits

LIMITS = testing.limits(("curb-top", "offset", -0.10, 0.10), ("control", "control-elevation", -0.05, 0.05))


def rows(*deviations, why=0, kind="curb-top", remedy=None):
    count = len(deviations)
    table = pd.DataFrame({"kind": [kind] * count, "shot": [f"day1/{n}" for n in range(count)]}, dtype="str")
    table = table.assign(subject="A", source="design", deviation=deviations, u_common=0.03, u_random=0.02, why=why)
    return table if remedy is None else table.assign(remedy=pd.Series([remedy] * count, dtype="str"))


def judged(table, check, limits=LIMITS):
    return findings_of(with_limits(table, limits, check=check), check=check, limits=limits, unit="ft")


@pytest.mark.parametrize(("feels", "u"), [("both", np.hypot(0.03, 0.02)), ("random", 0.02), ("common", 0.03)])
def test_a_check_says_which_part_of_the_uncertainty_its_number_feels(feels, u):
    found = judged(rows(0.06), replace(OFFSET, feels=feels)).iloc[0]
    assert found["u"] == pytest.approx(u)
    assert (found["u_common"], found["u_random"]) == (0.03, 0.02)
    inside = norm.cdf((0.10 - 0.06) / u) - norm.cdf((-0.10 - 0.06) / u)
    assert found["p_conform"] == pytest.approx(inside, abs=1e-9)


def test_a_reason_of_its_own_keeps_a_row_from_being_judged_and_brings_its_remedy():
    own = replace(OFFSET, reasons=(Reason(name="no-partner", text="only one edge", remedy="shoot the other edge"),))
    found = judged(rows(0.0, why=own.why("no-partner")), own).iloc[0]
    assert (found["verdict"], found["why"], found["remedy"]) == ("NO_DATA", "no-partner", "shoot the other edge")
    assert np.isnan(found["p_conform"])


def test_a_reason_that_may_be_judged_keeps_its_number():
    own = replace(OFFSET, reasons=(Reason(name="seen-twice", text="measured twice", judged=True),))
    found = judged(rows(0.5, why=own.why("seen-twice")), own).iloc[0]
    assert (found["verdict"], found["why"]) == ("OUT", "seen-twice")


def under_blunder(read, without, own=None):
    """One row as read, and without a blunder whose shift is known to 0.01 ft."""
    table = rows(read, why=OFFSET.why("open-blunder")).assign(measured=read, without=without, u_without=0.01)
    table = table if own is None else table.assign(without_own=own)
    return table.assign(cause=pd.Series(["waits"], dtype="str"), cause_both=pd.Series(["both ways"], dtype="str"))


def test_what_is_out_both_ways_is_told_by_the_number_without_the_blunder():
    found = judged(under_blunder(1.10, -0.21), OFFSET).iloc[0]
    assert (found["verdict"], found["why"], found["cause"]) == ("OUT", "out-both-ways", "both ways")
    assert found[["deviation", "measured"]].tolist() == pytest.approx([-0.21, -0.21])
    assert found["u"] == pytest.approx(np.sqrt(0.03**2 + 0.02**2 + 0.01**2))
    assert found["p_conform"] == pytest.approx(norm.cdf((-0.10 + 0.21) / -found["u"]), rel=1e-3)
    # against its own line, though another of the kind lies nearer
    assert judged(under_blunder(1.10, -0.21, own=-0.30), OFFSET)["deviation"].tolist() == pytest.approx([-0.30])


@pytest.mark.parametrize(("read", "without"), [(1.10, -0.12), (0.11, 0.4), (1.10, np.nan)])
def test_what_is_not_surely_out_both_ways_waits_with_the_number_as_read(read, without):
    found = judged(under_blunder(read, without), OFFSET).iloc[0]
    assert (found["verdict"], found["why"], found["deviation"]) == ("NO_DATA", "open-blunder", read)


def test_a_remedy_that_a_step_gives_stands_in_place_of_the_declared_one():
    table = rows(0.0, why=OFFSET.why("screened"), remedy="come back on a clear day")
    assert judged(table, OFFSET)["remedy"].tolist() == ["come back on a clear day"]


def test_a_check_of_one_kind_takes_its_limits_there_and_a_feature_kind_has_none():
    found = judged(rows(0.2, kind="benchmark"), CONTROL_ELEVATION).iloc[0]
    assert (found["verdict"], found["upper"]) == ("OUT", 0.05)
    assert len(asked(with_limits(rows(0.2, kind="benchmark"), LIMITS, check=OFFSET))) == 0


def test_a_reason_that_nobody_declares_is_refused():
    with pytest.raises(CheckError, match="has no reason 'no-idea'; declare it, or use one of proven"):
        OFFSET.why("no-idea")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"quantity": "area"}, "no quantity 'area'; use one of length, slope"),
        ({"bound": "range", "tolerance": None}, "a range needs a key with two sides"),
        ({"subject": "weather"}, "no subject 'weather'; use one of work, survey, evidence"),
        ({"reasons": (Reason(name="no-elevation", text="x"),)}, "'no-elevation' is one that all checks share"),
        ({"tolerance": ToleranceKey(name="fall", description="x", quantity="slope")}, "judges a length, but its key"),
    ],
)
def test_a_check_that_contradicts_itself_is_refused(change, told):
    with pytest.raises(CheckError, match=told):
        replace(OFFSET, **change)


@pytest.mark.parametrize(
    ("bound", "value", "limits"),
    [
        ("sides", "{ left = '0.1 ft', right = '0.2 ft' }", (-0.1, 0.2)),
        ("radius", "{ left = '0.1 ft', right = '0.2 ft' }", (-np.inf, 0.1)),
        ("most", "'0.2 ft'", (-np.inf, 0.2)),
        ("least", "'0.2 ft'", (0.2, np.inf)),
        ("range", "{ left = '5 ft', right = '6 ft' }", (5.0, 6.0)),
        ("range", "{ right = '6 ft' }", (-np.inf, 6.0)),
    ],
)
def test_how_a_value_bounds_the_deviation_is_the_checks_own(bound, value, limits, monkeypatch):
    from geoqa.job.document import limits as module
    from geoqa.job.document.load import parse
    from geoqa.model.quantity import FOOT

    check = replace(OFFSET, bound=bound)
    assert isinstance(check, Check)
    monkeypatch.setattr(module, "every_check", lambda: {"offset": check})
    job = parse(
        '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'
        f'[tolerance.curb-top]\nhorizontal = {value}\nreference = "r"\n'
    )
    table = module.limits_table(job, FOOT)
    assert table[["lower", "upper"]].to_numpy().tolist() == [pytest.approx(list(limits))]


def test_a_row_without_number_or_reason_does_not_blame_a_limit_that_is_there():
    found = judged(rows(np.nan, 0.0), OFFSET)
    assert found["verdict"].tolist() == ["NO_DATA", "IN"]
    assert found["why"].tolist() == ["no-number", "proven"]
    assert found["remedy"].tolist()[0] == "shoot it again"


def test_a_number_of_its_own_is_judged_against_both_ends_of_its_range():
    limits = testing.limits(("curb-top", "offset", 5.0, 6.0))
    found = judged(rows(5.5, 4.8, 5.02, 6.3), replace(OFFSET, bound="range"), limits)
    assert found["verdict"].tolist() == ["IN", "OUT", "UNDECIDED", "OUT"]


def test_a_range_is_written_without_signs():
    assert words.limits(5.0, 6.0, OFFSET, "length", "ft") == "5.00 to 6.00 ft"
    assert words.limits(0.01, 0.02, replace(OFFSET, directions=None), "slope", "ft") == "1.000 % to 2.000 %"


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ("'5 ft'", "is a range: takes a table with min and max"),
        ("{ min = '6 ft', max = '5 ft' }", "6 ft is more than 5 ft"),
    ],
)
def test_a_range_wants_both_ends_in_their_order(value, told, monkeypatch):
    from geoqa.job.document import tolerance

    key = ToleranceKey(name="width", description="x", sides=("min", "max"))
    check = replace(OFFSET, name="width", tolerance=key, bound="range", directions=None)
    monkeypatch.setattr(tolerance, "readers_of", lambda name: (check,))
    table = TypeAdapter(Annotated[Any, tolerance._Limit(key)])
    with pytest.raises(ValidationError, match=told):
        table.validate_python(tomllib.loads(f"value = {value}")["value"])
