"""The part of the page on field checks about the score: how often each planted fault was found, and told right."""

from typing import TYPE_CHECKING

import numpy as np

from bench.faulted import SCATTERED
from geoqa.simulate.crew.plants import PLANTS

if TYPE_CHECKING:
    import pandas as pd


def tables(rows: "pd.DataFrame") -> str:
    """One line a fault: jobs told right, shots found and flagged beyond, numbers, what must not be said.

    Parameters
    ----------
    rows : DataFrame
        As `bench.faulted.held_against` makes them.
    """
    lines = [
        "| planted | in words | jobs | told right | shots found | flagged beyond | numbers within 4.5 u | within 2 u "
        "| must not be said, and was |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for case, mine in rows.groupby("case", sort=False):
        sums = mine[["planted", "found", "beyond", "numbers", "right", "within"]].sum()
        words = PLANTS.get(str(case).partition(",")[0], ("no fault: whatever is flagged is a false alarm",))[0]
        said = [each for text in (*mine["said"], *mine["strange"]) if text for each in text.split("; ")]
        counted = "; ".join(f"{each} ({said.count(each)})" for each in sorted(set(said))[:5]) or "–"
        shares = [f"{sums[name]} of {sums['numbers']}" if sums["numbers"] else "–" for name in ("right", "within")]
        lines.append(
            f"| {case} | {words} | {len(mine)} | {int(told_right(mine).sum())} "
            f"| {sums['found']} of {sums['planted']} | {sums['beyond']} | {shares[0]} | {shares[1]} | {counted} |"
        )
    return "\n".join(lines)


def told_right(rows: "pd.DataFrame") -> "pd.Series":
    """Jobs in which every planted shot was found, none beyond, in the right words, with right numbers, and no more."""
    whole = (rows["found"] == rows["planted"]) & (rows["beyond"] == 0) & rows["kind"].astype(bool)
    return whole & (rows["right"] == rows["numbers"]) & (rows["said"] == "") & (rows["strange"] == "")


def headline(rows: "pd.DataFrame") -> dict[str, float]:
    """Shares of the faults, each fault with the same weight; and of jobs without any.

    ``alarms`` are flags per 1,000 shots, ``out`` findings that are OUT, ``chance`` how many the decision rule lets
    pass; ``within`` is of measured numbers alone.
    """
    faults, none = rows[rows["case"] != "nothing"], rows[rows["case"] == "nothing"]
    sums = faults.groupby("case")[["planted", "found", "beyond", "numbers", "right", "within"]].sum()
    counted = sums[sums["numbers"] > 0]
    measured = sums.loc[sums.index.isin(SCATTERED)].sum()
    return {
        "right": float(told_right(faults).mean()),
        "recall": float((sums["found"] / sums["planted"]).mean()),
        "precision": float((sums["found"] / (sums["found"] + sums["beyond"])).fillna(0.0).mean()),
        "numbers": float((counted["right"] / counted["numbers"]).mean()),
        "within": float(measured["within"] / measured["numbers"]) if measured["numbers"] else np.nan,
        "alarms": float(1000.0 * none["beyond"].sum() / none["shots"].sum()),
        "out": float(none["out"].sum()),
        "chance": float(none["chance"].sum()),
    }


def page_part(rows: "pd.DataFrame", lacking: "pd.DataFrame") -> str:
    """What is kept in ``docs/field_checks.md``."""
    shares = headline(rows)
    none = rows[rows["case"] == "nothing"]
    listed = ", ".join(f"`{name}`" for name in lacking["field"].unique())
    return (
        f"{tables(rows)}\n\n"
        f"Told right: {100 * shares['right']:.2f} % of {int((rows['case'] != 'nothing').sum())} jobs. Each fault with "
        f"the same weight: {100 * shares['recall']:.2f} % of planted shots found, {100 * shares['precision']:.2f} % of "
        f"flagged shots planted, {100 * shares['numbers']:.2f} % of numbers within 4.5 u; of measured numbers "
        f"{100 * shares['within']:.1f} % within 2 u.\n\n"
        f"**False alarms.** {len(none)} jobs without a fault, {int(none['shots'].sum()):,} shots: "
        f"{int(none['beyond'].sum())} flags, {int((none['said'] != '').sum())} causes named; {shares['out']:.0f} "
        f"numbers OUT, where the decision rule lets {shares['chance']:.1f} be OUT by chance ([Score](score.md)).\n\n"
        f"**Logs that lack a field.** {len(lacking)} jobs, each without one of {listed}: no crash, the lost check "
        f"named in all but {int(lacking['claims'].str.contains('not named').sum())}, and a false claim in "
        f"{int(((lacking['claims'] != '') & ~lacking['claims'].eq('not named as lost')).sum())}.\n"
    )
