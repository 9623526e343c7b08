"""The page about the diagnosis: how often each planted cause was named, and as what."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd


def tables(rows: "pd.DataFrame") -> str:
    """Confusion by case: the answer, how often, in how many as one of a group, place and number.

    Parameters
    ----------
    rows : DataFrame
        As `bench.diagnosed.held_against` makes them.
    """
    lines = [
        "| planted | right answer | jobs | right | of these in a group | said otherwise | very shots | numbers right |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for case, mine in rows.groupby("case", sort=False):
        wrong = mine.loc[~mine["right"].astype(bool), "said"].value_counts()
        other = "; ".join(f"{said} ({count})" for said, count in wrong.items()) or "–"
        placed, numbers = mine["place"].dropna(), mine["off"].dropna()
        lines.append(
            f"| {case} | {mine['expected'].iloc[0]} | {len(mine)} | {int(mine['right'].sum())} "
            f"| {int(mine['grouped'].sum())} | {other} "
            f"| {f'{int(placed.sum())} of {len(placed)}' if len(placed) else '–'} "
            f"| {f'{int((numbers <= 1).sum())} of {len(numbers)}' if len(numbers) else '–'} |"
        )
    return "\n".join(lines)


def confusion(rows: "pd.DataFrame") -> str:
    """Rows: the right answer of single causes, of none and of none fits; columns: what was said."""
    import pandas as pd

    single = rows[~rows["expected"].str.contains(" + ", regex=False)]
    said = single["said"].where(~single["said"].str.contains(" + ", regex=False), "two or more")
    table = pd.crosstab(single["expected"], said)
    names = sorted(set(table.index) | set(table.columns))
    table = table.reindex(index=[each for each in names if each in table.index], columns=names, fill_value=0)
    head = "| planted \\ said | " + " | ".join(names) + " |"
    lines = [head, "|---" * (len(names) + 1) + "|"]
    for name, counts in table.iterrows():
        lines.append(f"| **{name}** | " + " | ".join(str(count) if count else "·" for count in counts) + " |")
    return "\n".join(lines)


def headline(rows: "pd.DataFrame") -> dict[str, float]:
    """Shares that have a target: listed causes and nothing, pairs, none fits; false alarms."""
    single = rows[~rows["expected"].isin(["none-fits"]) & ~rows["expected"].str.contains(" + ", regex=False)]
    return {
        "right": float(single["right"].mean()),
        "pairs": float(rows.loc[rows["expected"].str.contains(" + ", regex=False), "right"].mean()),
        "none-fits": float(rows.loc[rows["expected"] == "none-fits", "right"].mean()),
        "place": float(rows["place"].dropna().astype(float).mean()),
        "numbers": float((rows["off"].dropna() <= 1).mean()),
        "within": float(rows["within"].dropna().mean()),
    }
