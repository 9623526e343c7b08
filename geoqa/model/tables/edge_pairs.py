"""Kinds of edges that the code list makes pairs of, and the kind such a pair is judged under."""

import pandas as pd


def pair_kind(one: str, two: str) -> str:
    """The kind a pair is judged under: the first words its two kinds share, else the first by name.

    Examples
    --------
    >>> pair_kind("walk-front", "walk-back"), pair_kind("curb-top", "curb-flow"), pair_kind("rim", "invert")
    ('walk', 'curb', 'invert')
    """
    shared = []
    for left, right in zip(one.split("-"), two.split("-"), strict=False):
        if left != right:
            break
        shared.append(left)
    return "-".join(shared) or min(one, two)


def paired_kinds(codes: pd.DataFrame) -> list[tuple[str, str]]:
    """Pairs of kinds of lines that the code list names, each once, in the order of their names."""
    lines = codes[codes["geometry"] == "line"]
    kind = dict(zip(lines["code"].str.strip(), lines["kind"], strict=True))
    rows = lines[["code", "pairs_with"]].dropna().to_dict("records")
    found = {(kind[str(row["code"]).strip()], kind.get(str(row["pairs_with"]).strip())) for row in rows}
    return sorted({(min(one, two), max(one, two)) for one, two in found if one and two and one != two})
