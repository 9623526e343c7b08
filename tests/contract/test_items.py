"""The headline counts places, and says at once which of them may be chance."""

import pandas as pd
import pytest

from geoqa.contract.items import by_chance, headline

TAIL = "when all numbers are looked at together."


def layers(holds, *, claims=True):
    """An item for each entry, with a finding for each of its letters: y stands, n does not, - was not looked at."""
    rows = [(f"F{item}{place}", str(item), each) for item, told in enumerate(holds) for place, each in enumerate(told)]
    findings = pd.DataFrame(rows, columns=["finding", "item", "told"]).assign(verdict="OUT", run=None)
    known = findings[findings["told"] != "-"]
    made = {"findings": findings, "items": pd.DataFrame({"item": findings["item"].unique(), "chapter": "work"})}
    made["items"] = made["items"].assign(verdict="OUT", state="open")
    if claims:
        made["many_checks"] = pd.DataFrame({"finding": known["finding"], "holds": known["told"] == "y"})
    return made


@pytest.mark.parametrize(
    ("holds", "words"),
    [
        (["y"], "1 place of the work is out of tolerance."),
        (["n"], f"1 place of the work is out of tolerance, and it does not stand {TAIL}"),
        (["n", "nn"], f"2 places of the work are out of tolerance, of which none stands {TAIL}"),
        (["yn", "n", "nn"], f"3 places of the work are out of tolerance, of which 2 do not stand {TAIL}"),
        (["y", "n", "y"], f"3 places of the work are out of tolerance, of which 1 does not stand {TAIL}"),
        (["yn", "ny", "-"], "3 places of the work are out of tolerance."),
    ],
)
def test_the_headline_says_which_places_do_not_stand(holds, words):
    assert headline(layers(holds), counts_too=False) == words


def test_nothing_is_chance_where_numbers_were_not_looked_at_together():
    assert by_chance(layers(["n"], claims=False)) == set()
    assert headline(layers(["n"], claims=False), counts_too=False) == "1 place of the work is out of tolerance."


def test_what_is_no_longer_listed_is_not_counted():
    made = layers(["n", "y"])
    made["items"] = made["items"].assign(state=["gone", "open"])
    assert headline(made, counts_too=False) == "1 place of the work is out of tolerance."
