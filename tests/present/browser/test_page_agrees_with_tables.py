"""What the page unpacks and prints is what the tables hold and what the words module writes."""

import math
import random

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.model.results import Results
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.present.map.rounding import QUANTITIES, whole_quantities, whole_stations

pytestmark = [pytest.mark.browser, pytest.mark.long]

TROUBLESOME = [0.0, -0.0004, 0.0005, 0.0015, 2.6755, 0.0625, -0.1255, 1456.9995, math.nan, 99999.9999, 0.9999, -0.218]


def test_every_coordinate_comes_back_to_the_thousandth(street, show):
    opened = show(street)
    rows = opened.page.evaluate(
        """() => Array.from({length: opened.tables.shots.rows}, (_, i) => { const s = geoqa.records.shot(i);
        return [s.key, ...s.grid.map((v) => geoqa.words.number(v, 3)), ...s.raw]; })"""
    )
    shots = street.shots.set_index("shot_key")
    assert len(rows) == len(shots)
    for key, *texts in rows:
        shot = shots.loc[key]
        assert texts[:3] == [words.number(shot[name], 3) for name in ("easting", "northing", "elevation")]
        raw = [shot[f"raw_{name}"] for name in ("easting", "northing", "elevation")]
        assert texts[3:] == ["" if isinstance(each, float) else each for each in raw]


def test_every_number_of_every_finding_reads_as_the_words_module_writes_it(street, show):
    opened = show(street)
    rows = opened.page.evaluate(
        """() => Array.from({length: opened.tables.findings.rows}, (_, i) => {
        const f = geoqa.records.finding(i), w = geoqa.words, key = f.subject + "|" + f.check + "|" + f.label;
        return [key, w.quantity(f.design, f.quantity), w.quantity(f.measured, f.quantity),
        w.deviation(f.deviation, f.check, f.quantity), w.judged(f, {way: false}), w.judged(f, {way: false, unit: true}),
        w.quantity(f.u, f.quantity), w.quantity(f.u_common, f.quantity),
        w.probability(f.p), w.station(f.station), f.limit.allowed, f.verdict.verdict]; })"""
    )
    findings = street.findings
    findings = findings.set_index(findings["subject"] + "|" + findings["check"] + "|" + findings["label"])
    assert len(rows) == len(findings)
    for key, *texts in rows:
        row = findings.loc[key]
        assert texts == [
            words.quantity(row.design, row.quantity, "ft", bare=True),
            words.quantity(row.measured, row.quantity, "ft", bare=True),
            words.deviation(row.deviation, check_named(row.check), row.quantity, "ft", u=0.001, bare=True),
            words.judged(row, check_named(row.check), "ft", bare=True),
            words.judged(row, check_named(row.check), "ft"),
            words.quantity(row.u, row.quantity, "ft", bare=True),
            words.quantity(row.u_common, row.quantity, "ft", bare=True),
            words.probability(row.p_conform),
            words.station(row.station),
            words.limits(row.lower, row.upper, check_named(row.check), row.quantity, "ft", bare=True),
            row.verdict,
        ]


def test_a_shot_and_its_findings_show_both_parts_of_the_uncertainty_and_where_they_come_from(street, show):
    numbers = {"u_h_random": 0.021, "u_h_common": 0.004, "u_v_random": 0.032, "u_v_common": 0.018}
    kinds = street.shots["kind"].dropna().unique()
    rows = [
        (kind, axis, part, f"source {axis} {part}") for kind in kinds for axis in "hv" for part in ("random", "common")
    ]
    budget = pd.DataFrame(rows, columns=["kind", "axis", "part", "source"]).assign(shots=3, u=0.02, largest=0.02)
    tables = dict(street.layers) | {"budget": conform("budget", budget), "shots": street.shots.assign(**numbers)}
    changed = Results(title=street.title, layers=Layers(tables, frame=street.layers.frame), summary={}, record={})
    finding = street.findings.query("check == 'elevation'").iloc[0]
    opened = show(changed)
    opened.page.evaluate(
        """(id) => { const rows = [...Array(opened.tables.findings.rows).keys()];
        geoqa.popup.open({type: "finding", row: rows.find((i) => geoqa.records.idOf(i) === id)});
        for (const each of document.querySelectorAll(".card details")) each.open = true; }""",
        finding["finding"],
    )
    told = opened.page.locator(".card").inner_text()
    assert "0.021 of its own, 0.004 shared by the session (1 sigma, each axis)" in told
    assert "0.032 of its own, 0.018 shared by the session (1 sigma)" in told
    assert "of its own: source h random; shared by the session: source h common" in told
    # of the finding itself, and of the shot
    assert told.count("of its own: source v random; shared by the session: source v common") >= 2


def test_the_page_writes_numbers_as_the_words_module_does(street, show):
    opened = show(street)
    draw = random.Random(3)
    values = (
        TROUBLESOME
        + [draw.uniform(-5, 5) for _ in range(300)]
        + [draw.randrange(-4000, 4000) / 2000 for _ in range(300)]
    )
    for code, name in enumerate(QUANTITIES):
        ints = [None if math.isnan(v) else v for v in whole_quantities(values, np.full(len(values), code), "ft")]
        texts = opened.page.evaluate(
            """([ints, kind]) => ints.map((v) => v ?? NaN).map((v) =>
            [geoqa.words.quantity(v, kind), geoqa.words.quantity(v, kind, {unit: true})])""",
            [ints, name],
        )
        assert texts == [[words.quantity(v, name, "ft", bare=True), words.quantity(v, name, "ft")] for v in values]
    for check in ("offset", "elevation", "position", "cross-slope"):
        ints = [None if math.isnan(v) else v for v in whole_quantities(values, np.zeros(len(values), int), "ft")]
        texts = opened.page.evaluate(
            "([all, check]) => all.map((v) => geoqa.words.deviation(v ?? NaN, check, 'length'))", [ints, check]
        )
        assert texts == [words.deviation(v, check_named(check), "length", "ft", u=0.001, bare=True) for v in values]
        bounds = [-80, 80]
        for u in (4, 5, 20):
            shown = opened.page.evaluate(
                """([all, check, u, [lower, upper]]) => all.map((v) => geoqa.words.judged(
                {deviation: v ?? NaN, check, quantity: "length", u, limit: {lower, upper}}))""",
                [ints, check, u, bounds],
            )
            about = {"u": u / 1000, "bounds": (-0.08, 0.08), "bare": True}
            assert shown == [words.deviation(v, check_named(check), "length", "ft", **about) for v in values]


def test_the_page_writes_stations_as_the_words_module_does(street, show):
    opened = show(street)
    values = [0.0, 1250.254, -5.0, 99.995, 100.005, 123456.785, -0.004, math.nan]
    ints = [None if math.isnan(v) else v for v in whole_stations(values)]
    texts = opened.page.evaluate("(ints) => ints.map((v) => geoqa.words.station(v ?? NaN))", ints)
    assert texts == [words.station(value) for value in values]


def test_the_page_unpacks_without_the_browsers_own_stream(street, show):
    opened = show(street, before="delete window.DecompressionStream; delete Uint8Array.fromBase64;")
    assert opened.messages == []
    shots = street.shots
    there = shots["easting"].notna()
    total = opened.page.evaluate(
        "() => opened.tables.shots.numbers('easting').filter((v) => v === v).reduce((a, b) => a + b, 0)"
    )
    origin = opened.page.evaluate("() => opened.about.origin[0]")
    assert total == round((shots["easting"][there] - origin).sum() * 1000)
