"""Which edge goes with which."""

import numpy as np
import pandas as pd
import pytest

from geoqa import testing
from geoqa.kernels.linework.sections import BEYOND
from geoqa.model.quantity import FOOT
from geoqa.model.tables.columns import conform
from geoqa.model.tables.edge_pairs import pair_kind, paired_kinds
from geoqa.steps.linework.pairs import pairs_of
from geoqa.steps.shots.strings import strings_of

CODES = conform(
    "codes",
    pd.DataFrame(
        [
            {"code": "WKF", "kind": "walk-front", "geometry": "line", "role": "feature", "pairs_with": "WKB"},
            {"code": "WKB", "kind": "walk-back", "geometry": "line", "role": "feature", "pairs_with": "WKF"},
            {"code": "RIM", "kind": "rim", "geometry": "point", "role": "feature", "pairs_with": "INV"},
        ]
    ),
)
KIND = {"WKF": "walk-front", "WKB": "walk-back"}


def shots_of(**strings):
    """Strings as `WKF_1=[(offset, station), …]`."""
    rows = []
    for name, places in strings.items():
        code, line = name.split("_")
        rows += [
            {"code": code, "line_id": line, "sequence": number, "offset": east, "station": north}
            for number, (east, north) in enumerate(places, start=1)
        ]
    table = testing.judged_shots(rows)
    return table.assign(kind=table["code"].map(KIND))


def along(east, stations):
    return [(east, float(at)) for at in stations]


def test_pairs_of_kinds_come_from_the_code_list_and_points_make_none():
    assert paired_kinds(CODES) == [("walk-back", "walk-front")]
    assert paired_kinds(CODES.iloc[::-1]) == [("walk-back", "walk-front")]
    assert pair_kind("walk", "curb-top") == "curb-top"


def test_each_edge_takes_the_partner_beside_it_and_one_back_serves_two_fronts():
    shots = shots_of(
        WKF_1=along(0, range(0, 101, 25)), WKF_2=along(0, range(150, 251, 25)),
        WKB_1=along(5, range(0, 251, 25)), WKB_9=along(-40, range(0, 251, 25)),
    )  # fmt: skip
    pairs, alone = pairs_of(shots, CODES, strings=strings_of(shots, FOOT), reach=12.0, gap=35.0, slack=0.3)
    assert sorted(pair.name for pair in pairs) == ["WKB 1 / WKF 1", "WKB 1 / WKF 2"]
    assert [(each.string.name, each.partner) for each in alone] == [("WKB 9", "walk-front")]
    first = pairs[0]
    assert (first.kind, first.kinds) == ("walk", ("walk-back", "walk-front"))
    assert np.isclose(first.sections.width[first.sections.found], 5.0).all()
    assert (first.sections.why[first.sections.edge == 0] == BEYOND).sum() == 6


@pytest.mark.parametrize("seed", range(3))
def test_any_order_of_rows_gives_the_same_pairs(seed):
    shots = shots_of(
        WKF_1=along(0, range(100, -1, -25)), WKB_1=along(5, range(3, 98, 20)), WKB_2=along(5, range(-60, -1, 20))
    )
    order = np.random.default_rng(seed).permutation(len(shots))

    def told(table):
        pairs, alone = pairs_of(table, CODES, strings=strings_of(table, FOOT), reach=12.0, gap=35.0, slack=0.3)
        names = table["shot"].to_numpy()
        rows = set()
        for pair in pairs:
            each = pair.sections
            own, before = pair.row(each.edge, each.shot), pair.row(1 - each.edge, each.before)
            rows |= {
                (pair.name, names[own[at]], names[before[at]], each.share[at].round(9), each.width[at].round(9))
                for at in np.flatnonzero(each.found)
            }
        return rows, [each.string.name for each in alone]

    assert told(shots) == told(shots.iloc[order].reset_index(drop=True))


@pytest.mark.parametrize("seed", range(6))
def test_lines_of_one_place_under_several_line_ids_go_with_those_of_their_visit(seed):
    noise = np.random.default_rng(seed)
    first, again = np.arange(0.0, 301.0, 15.0), np.arange(100.0, 200.0, 15.0)
    shots = shots_of(
        **{f"{code}_{line}": [(east + noise.normal(0, 0.03), at + noise.uniform(-3, 3)) for at in stations]
           for line, stations in (("1", first), ("8", again)) for code, east in (("WKF", 0.0), ("WKB", 5.0))}
    )  # fmt: skip
    start = pd.Timestamp("2026-03-14 14:00", tz="UTC")
    late = shots["line_id"] == "8"
    shots["time"] = [start + pd.Timedelta(days=3 * int(day), minutes=n) for n, day in enumerate(late)]
    pairs, alone = pairs_of(shots, CODES, strings=strings_of(shots, FOOT), reach=15.0, gap=60.0, slack=0.5)
    assert sorted(pair.name for pair in pairs) == ["WKB 1 / WKF 1", "WKB 8 / WKF 8"]
    assert not alone
    # an edge that was shot again alone goes with the other one of the first visit
    shots = shots[~(late & (shots["code"] == "WKF"))].reset_index(drop=True)
    pairs, alone = pairs_of(shots, CODES, strings=strings_of(shots, FOOT), reach=15.0, gap=60.0, slack=0.5)
    assert sorted(pair.name for pair in pairs) == ["WKB 1 / WKF 1", "WKB 8 / WKF 1"]
    assert not alone
