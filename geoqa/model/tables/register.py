"""The design register: which sheet, revision and date each design file stands for, in words."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd


def in_words(sheet: object, revision: object, dated: object) -> str:
    """What is known of a drawing; what is missing or empty is left out.

    Examples
    --------
    >>> in_words("C-4", "2", None), in_words(None, "", float("nan"))
    ('sheet C-4, revision 2', '')
    """
    parts = (("sheet ", sheet), ("revision ", revision), ("", dated))
    return ", ".join(f"{lead}{text}" for lead, text in parts if text is not None and text == text and text != "")


def register(sources: "pd.DataFrame") -> dict[str, str]:
    """Sheet, revision and date of each design file that states any, by its id.

    Examples
    --------
    >>> import pandas as pd
    >>> register(pd.DataFrame({"source": ["plan", "old"], "role": "design", "sheet": ["C-4", None],
    ...                        "revision": ["2", None], "dated": ["2026-03-02", None]}))
    {'plan': 'sheet C-4, revision 2, 2026-03-02'}
    """
    if not {"sheet", "revision", "dated"} <= set(sources.columns):
        return {}
    rows = sources[sources["role"] == "design"].to_dict("records")
    named = {str(row["source"]): in_words(row["sheet"], row["revision"], row["dated"]) for row in rows}
    return {source: text for source, text in named.items() if text}


def several_revisions(sources: "pd.DataFrame") -> dict[str, list[str]]:
    """Design files of each sheet that is listed in more than one revision, in the order of their dates."""
    if not {"sheet", "revision", "dated"} <= set(sources.columns):
        return {}
    drawn = sources[(sources["role"] == "design") & sources["sheet"].notna()]
    drawn = drawn.assign(said=drawn["revision"].fillna("") + "\x1f" + drawn["dated"].fillna(""))
    sheets = drawn.sort_values("dated", kind="stable").groupby("sheet", sort=True)
    return {str(sheet): mine["source"].tolist() for sheet, mine in sheets if mine["said"].nunique() > 1}


def compared_with(against: Iterable[str], sources: "pd.DataFrame") -> list[str | None]:
    """Register entry of the design that each finding was held against; None where its file states none.

    Parameters
    ----------
    against : iterable of str
        Rule set and design source, as findings say it.
    sources : DataFrame
    """
    known = register(sources)
    return [known.get(each.rpartition("; ")[2]) for each in against]
