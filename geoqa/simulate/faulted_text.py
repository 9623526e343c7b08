"""The part of the page on field checks about the score: how often each planted fault was found, and told right."""

from typing import TYPE_CHECKING

from geoqa.simulate.make import PLANTS

if TYPE_CHECKING:
    import pandas as pd


def tables(rows: "pd.DataFrame") -> str:
    """One line a fault: jobs told right, shots found and flagged beyond, numbers, what must not be said.

    Parameters
    ----------
    rows : DataFrame
        As `geoqa.simulate.faulted.held_against` makes them.
    """
    lines = [
        "| planted | in words | jobs | told right | shots found | flagged beyond | numbers within 4.5 u | within 2 u "
        "| must not be said, and was |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for case, mine in rows.groupby("case", sort=False):
        sums = mine[["planted", "found", "beyond", "numbers", "right", "within"]].sum()
        words = PLANTS.get(str(case).partition(",")[0], "no fault: whatever is flagged is a false alarm")
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
    """Shares of the faults, and the false alarms of jobs without any, per 1,000 shots."""
    faults, none = rows[rows["case"] != "nothing"], rows[rows["case"] == "nothing"]
    flagged = faults["found"].sum() + faults["beyond"].sum()
    return {
        "right": float(told_right(faults).mean()),
        "recall": float(faults["found"].sum() / faults["planted"].sum()),
        "precision": float(faults["found"].sum() / flagged) if flagged else 0.0,
        "numbers": float(faults["right"].sum() / faults["numbers"].sum()),
        "within": float(faults["within"].sum() / faults["numbers"].sum()),
        "alarms": float(1000.0 * none["beyond"].sum() / none["shots"].sum()),
    }


def page_part(rows: "pd.DataFrame", lacking: "pd.DataFrame") -> str:
    """What is kept in ``docs/field_checks.md``."""
    shares = headline(rows)
    none = rows[rows["case"] == "nothing"]
    listed = ", ".join(f"`{name}`" for name in lacking["field"].unique())
    return (
        f"{tables(rows)}\n\n"
        f"Told right: {100 * shares['right']:.2f} % of {int((rows['case'] != 'nothing').sum())} jobs; of all planted "
        f"shots {100 * shares['recall']:.2f} % were found, and {100 * shares['precision']:.2f} % of those flagged were "
        f"planted; numbers within 4.5 u {100 * shares['numbers']:.2f} %, within 2 u {100 * shares['within']:.1f} %. "
        f"{len(none)} jobs without a fault, {int(none['shots'].sum()):,} shots: {int(none['beyond'].sum())} flags, "
        f"{int((none['said'] != '').sum())} jobs with a false defect or cause.\n\n"
        f"**Logs that lack a field.** {len(lacking)} jobs, each without one of {listed}: no crash, the lost check "
        f"named in all but {int(lacking['claims'].str.contains('not named').sum())}, and a false claim in "
        f"{int(((lacking['claims'] != '') & ~lacking['claims'].eq('not named as lost')).sum())}.\n"
    )
