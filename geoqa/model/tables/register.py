"""The design register: which sheet, revision and date each design file stands for, in words."""

import re
from collections.abc import Collection, Iterable
from typing import TYPE_CHECKING, Any

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


_DATE = re.compile(r"\b(\d{4}-\d{2}-\d{2})\b")
_REVISION = re.compile(r"\brev(?:ision)?\b\.?\s*([A-Za-z]|\d{1,3})\b", re.IGNORECASE)


def in_force(sources: "pd.DataFrame", *, stated: str = "", changes: Collection[str] = ()) -> list[dict[str, Any]]:
    """Design files of which the register says whether they are in force: rows of `design_register`.

    A file is held against the other files of its sheet; where there is none, against the revision of the whole job.
    Dates decide; where one is missing, revisions that are both numbers, or both one letter. What neither decides is not
    listed.

    Parameters
    ----------
    sources : DataFrame
    stated : str
        Revision of the job, as it is written: ``"Design rev. B, 2026-03-14"``.
    changes : collection of str
        Files of approved field changes: newer by name, and no revision of a sheet.

    Examples
    --------
    >>> import pandas as pd
    >>> files = pd.DataFrame({"source": ["walk"], "role": "design", "sheet": ["C-4"], "revision": ["A"],
    ...                       "dated": ["2026-01-15"]})
    >>> in_force(files, stated="Design rev. B, 2026-03-14")[0]["newer"]
    'the job: Design rev. B, 2026-03-14'
    """
    if not {"sheet", "revision", "dated"} <= set(sources.columns):
        return []
    drawn = sources[(sources["role"] == "design") & ~sources["source"].isin(list(changes))]
    rows = drawn.astype(object).where(drawn.notna(), "").to_dict("records")
    made: list[dict[str, Any]] = []
    for row in rows:
        others = [each for each in rows if each is not row and row["sheet"] and each["sheet"] == row["sheet"]]
        held = [(_older(row, each), each) for each in others]
        newer = [each for older, each in held if older]
        known = {"source": str(row["source"]), "known": in_words(row["sheet"], row["revision"], row["dated"])}
        if newer:
            last = max(newer, key=lambda each: (str(each["dated"]), str(each["revision"])))
            said = f"{in_words(last['sheet'], last['revision'], last['dated'])} (file {last['source']})"
            made.append(known | {"newer": said, "wanted": _wanted(row["sheet"], last)})
        elif any(older is False for older, _ in held):
            made.append(known | {"newer": None, "wanted": None})
        elif (older := _older(row, whole := _of_job(stated))) is not None:
            said = f"the job: {stated}"
            wanted = _wanted(row["sheet"], whole)
            made.append(known | ({"newer": said, "wanted": wanted} if older else {"newer": None, "wanted": None}))
    return made


def _of_job(stated: str) -> dict[str, str]:
    """Revision and date that stand in the words of a job."""
    date, revision = _DATE.search(stated), _REVISION.search(stated)
    return {"revision": revision.group(1) if revision else "", "dated": date.group(1) if date else ""}


def _wanted(sheet: object, newer: "dict[Any, Any]") -> str:
    last = in_words("", newer["revision"], newer["dated"])
    return f"{last} of sheet {sheet}" if sheet else f"{last} of it"


def _older(one: "dict[Any, Any]", other: "dict[Any, Any]") -> bool | None:
    """Whether one is older than the other; None where nothing tells."""
    if one["dated"] and other["dated"] and one["dated"] != other["dated"]:
        return bool(str(one["dated"]) < str(other["dated"]))
    mine, its = (str(each["revision"]).strip().upper() for each in (one, other))
    if mine == its:
        return False if mine else None
    if mine.isdigit() and its.isdigit():
        return int(mine) < int(its)
    return mine < its if len(mine) == len(its) == 1 and mine.isalpha() and its.isalpha() else None
