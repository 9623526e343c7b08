"""Rule sets: exact ratios, edition, date and clause; what a table states is kept."""

from fractions import Fraction

import pytest

from geoqa.errors import JobError
from geoqa.job.document.limits import limits_table
from geoqa.job.document.load import parse
from geoqa.job.document.rule_sets import made_rule_set, rule_set, rule_sets
from geoqa.job.document.tolerance import ruled
from geoqa.model.quantity import FOOT, Slope

HEAD = '[job]\nname = "A"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\nunit = "ft"\n'


def limits(text):
    table = limits_table(parse(HEAD + text), FOOT)
    return {(row["ruleset"], row["kind"], row["check"]): row for row in table.to_dict("records")}


def test_ratios_are_exact_and_not_the_printed_percent():
    """Limits as the published tables of the two standards print them: 1:48 is 2.0833 %, not 2.1 %."""
    walk = rule_set("prowag-2023").limits["walk"]
    assert Slope.parse(walk["cross_slope"].value).ratio == Fraction(1, 48)
    rows = limits('[tolerance.walk]\nrules = ["prowag-2023", "ada-2010"]\n')
    assert rows["prowag-2023", "walk", "cross-slope"]["upper"] == float(Fraction(1, 48))
    assert rows["prowag-2023", "walk", "running-slope"]["upper"] == 0.05
    assert rows["prowag-2023", "walk", "clear-width"]["lower"] == 4.0
    assert rows["ada-2010", "walk", "clear-width"]["lower"] == 3.0
    ramp = limits('[tolerance.ramp]\nrules = "prowag-2023"\n')
    assert ramp["prowag-2023", "ramp", "ramp-slope"]["upper"] == float(Fraction(1, 12))
    assert ramp["prowag-2023", "ramp", "grade-change"]["upper"] == pytest.approx(0.133)


def test_every_limit_says_set_edition_date_and_clause_and_is_not_verified():
    row = limits('[tolerance.walk]\nrules = "ada-2010"\n')["ada-2010", "walk", "cross-slope"]
    assert row["reference"] == "numeric limit of rule set ADA Standards, 2010, 2010-09-15, 403.3"
    assert row["edition"] == "2010"
    assert not row["verified"]
    assert all(not rule_set(name).verified for name in rule_sets())


def test_what_the_table_states_is_judged_beside_the_rule_set():
    """A contract does not repeal what was published: both limits hold, each under its own name."""
    rows = limits('[tolerance.walk]\nrules = "prowag-2023"\ncross_slope = "2 %"\nreference = "contract"\n')
    assert rows["job", "walk", "cross-slope"]["upper"] == 0.02
    assert rows["prowag-2023", "walk", "cross-slope"]["upper"] == float(Fraction(1, 48))
    assert ("prowag-2023", "walk", "clear-width") in rows
    job = parse(HEAD + '[tolerance.walk]\nrules = "prowag-2023"\n')
    ((rules, given, _),) = ruled("walk", job.tolerance["walk"])
    assert (rules.name, str(given.limit("width"))) == ("prowag-2023", "48 in")


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ('rules = "prowag"', "no rule set 'prowag'; use one of aci-117-quoted, ada-2010, prowag-2023"),
        ('rules = "sewer-minimum"', "lists slopes by diameter"),
        ("rules = 3", "takes the name of a rule set"),
        ('rules = ["ada-2010", "ada-2010"]', "names a rule set twice"),
        ('cross_slope = "1:48"', "missing, and it has no default"),
        ('rules = "ada-2010"\nwidth = "5 ft"', "needs reference ="),
    ],
)
def test_what_is_wrong_is_said(lines, told):
    with pytest.raises(JobError, match=told):
        parse(f"{HEAD}[tolerance.walk]\n{lines}\n")


def test_a_rule_set_for_a_kind_it_does_not_limit_is_refused():
    way = "call the kinds of these codes .* write the limits out in .tolerance.curb-top"
    with pytest.raises(JobError, match=f"limits detectable-warning, ramp, walk only: {way}"):
        parse(f'{HEAD}[tolerance.curb-top]\nrules = "prowag-2023"\n')
    with pytest.raises(JobError, match="does not say its date"):
        made_rule_set("x", {"title": "X", "edition": "1", "verified": False})
    head = {"title": "X", "edition": "1", "date": "2020", "verified": False}
    with pytest.raises(JobError, match="limits height, and no check reads that"):
        made_rule_set("x", head | {"walk": {"height": {"limit": "1 ft", "clause": "1"}}})
