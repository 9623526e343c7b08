"""Results by kind: counts, means, how deviations spread about the tolerance, and profiles of what carries water."""

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.model.tables.several_sets import several_sets
from geoqa.present.report.markup import Column, Html, Row, table, tag
from geoqa.present.report.numbers import every_number, reported_numbers, single_numbers
from geoqa.present.report.plots import Along, Spread, histogram, profile, sign_key

if TYPE_CHECKING:
    import pandas as pd

FEWEST = 8
"""Numbers below which a histogram shows nothing that the list does not."""
PROFILES = 6
"""Lines that are drawn as a profile: those that carry water first, the worst first."""
_CARRIES_WATER = ("ponding", "gutter-fall")
_PERCENT = ("slope", "ratio")


def kinds(results: Results) -> Iterator[Html]:
    """Give counts by kind and check, histograms and profiles."""
    reported = reported_numbers(results)
    if not len(reported):
        yield tag("p", "No number was judged.")
        return
    yield tag("p", "Counted as reported: shots of a run that agree are one number. ", sign_key())
    yield _counts(results, reported)
    single = single_numbers(results)
    plots = list(histograms(results, single))
    if plots:
        yield tag("h3", "How deviations spread")
        yield tag(
            "p",
            "Each number by itself, members of runs too; dashed lines: the tolerance; what lies farther off "
            "is heaped in the outermost bar.",
            kind="quiet",
        )
        yield tag("div", *(tag("figure", each) for each in plots), kind="plots")
    drawn = list(profiles(results, single))
    if drawn:
        yield tag("h3", "Along the lines")
        yield from (tag("figure", each) for each in drawn)


def _counts(results: Results, reported: "pd.DataFrame") -> Html:
    told = reported[["kind", "check", "verdict", "lower", "upper", "quantity"]].fillna({"kind": words.MISSING})
    counts = told.groupby(["kind", "check"], sort=True)["verdict"].value_counts().unstack(fill_value=0)
    allowed, used = _allowed(told, results.layers.frame.unit.name), _used(results)
    rows = []
    for pair, found in zip(counts.index, counts.to_dict("records"), strict=True):
        kind, check = pair
        cells = [str(found[verdict]) if found.get(verdict) else "" for verdict in SIGNS]
        last = (allowed.get(pair, ""), used.get(pair, ""))
        bad = "bad" if found.get("OUT") else ""
        rows.append(Row((kind, check_named(str(check)).title, *cells, *last), key=f"{kind} {check}", kind=bad))
    heads = (
        Column("Kind", "k"),
        Column("Check", "w"),
        *(Column(sign.short.capitalize(), "n") for sign in SIGNS.values()),
        Column("Allowed"),
        Column("Mean ± spread", "n"),
    )
    return table("by-kind", heads, rows)


def _allowed(told: "pd.DataFrame", unit: str) -> dict[tuple[str, str], str]:
    """Limits of each kind and check in words, where they are the same for all its numbers."""
    limits = told[["kind", "check", "lower", "upper", "quantity"]].dropna().drop_duplicates()
    made: dict[tuple[str, str], str] = {}
    for row in limits[limits["quantity"] != "count"].to_dict("records"):
        lower, upper, check = row["lower"], row["upper"], check_named(row["check"])
        said = (
            "" if math.isinf(lower) and math.isinf(upper) else words.limits(lower, upper, check, row["quantity"], unit)
        )
        pair = (row["kind"], row["check"])
        made[pair] = "not the same for all" if pair in made and made[pair] != said else said
    return made


def _used(results: Results) -> dict[tuple[str, str], str]:
    """Mean and spread as the step limit-use has them, where all numbers of a kind and check are under one limit."""
    if "limit_use" not in results.layers:
        return {}
    use, digits = results.layers["limit_use"], words.decimals("length", results.layers.frame.unit.name)
    once = use[~use.duplicated(["kind", "check"], keep=False)]
    return {
        (row.kind, row.check): f"{words.number(row.mean, digits, signed=True)} ± {words.number(row.spread, digits)}"
        for row in once.itertuples(index=False)
    }


def histograms(results: Results, single: "pd.DataFrame") -> Iterator[Html]:
    """Give a histogram for each kind, check and rule set that has numbers enough."""
    several = several_sets(single["against"])
    for (kind, check, ruleset), mine in single.groupby(["kind", "check", "ruleset"], sort=True):
        if len(mine) < FEWEST or not np.isfinite(mine["deviation"]).any():
            continue
        beside = f" ({ruleset})" if several else ""
        yield histogram(_spread(f"{kind}: {str(check).replace('-', ' ')}{beside}", mine, results))


def _spread(title: str, mine: "pd.DataFrame", results: Results) -> Spread:
    quantity = mine["quantity"].iloc[0]
    factor = 100.0 if quantity in _PERCENT else 1.0
    unit = "%" if quantity in _PERCENT else words.unit_of(quantity, results.layers.frame.unit.name)
    ways = check_named(mine["check"].iloc[0]).directions
    said = f"{unit}, {ways[0]} (−) and {ways[1]} (+)" if ways else unit
    one = {name: mine[name].iloc[0] if mine[name].nunique() == 1 else np.nan for name in ("lower", "upper")}
    return Spread(
        title=title,
        unit=said,
        values=mine["deviation"].to_numpy("float64") * factor,
        verdicts=mine["reported"].to_numpy(object),
        lower=float(one["lower"]) * factor,
        upper=float(one["upper"]) * factor,
    )


def profiles(results: Results, single: "pd.DataFrame") -> Iterator[Html]:
    """Give profiles of lines with elevations: those that carry water first, then by what is out, most first."""
    chosen = single[(single["check"] == "elevation") & single["station"].notna() & single["design"].notna()]
    chosen = chosen[chosen["measured"].notna()]
    if not len(chosen):
        return
    findings = every_number(results)
    wet = set(findings.loc[findings["check"].isin(_CARRIES_WATER), "kind"].dropna())
    groups = []
    for (kind, subject, ruleset), mine in chosen.groupby(["kind", "subject", "ruleset"], sort=True):
        out = int((mine["reported"] == "OUT").sum())
        if len(mine) >= 3 and (kind in wet or out):
            groups.append((kind not in wet, -out, f"{kind} {subject}", ruleset, mine))
    groups.sort(key=lambda each: each[:4])
    for *_, title, _, mine in groups[:PROFILES]:
        yield profile(_along(f"{title}: elevation", mine.sort_values("station", kind="stable"), results))
    if len(groups) > PROFILES:
        yield tag(
            "p", f"The first {PROFILES} of {words.many(len(groups), 'line')}; the map draws all of them.", kind="quiet"
        )


def _along(title: str, mine: "pd.DataFrame", results: Results) -> Along:
    held: dict[str, Any] = {
        name: mine[name].to_numpy("float64") for name in ("station", "design", "measured", "u", "lower", "upper")
    }
    verdicts = mine["reported"].to_numpy(object)
    return Along(title=title, unit=results.layers.frame.unit.name, verdicts=verdicts, **held)
