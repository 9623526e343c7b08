"""Which rows are one measurement, listed again: the same file twice, its rows in another file, or one row twice.

A measurement that is listed twice is one measurement. Counted twice it makes a blunder of a check shot, twice the
shots of a tilt test, and half the scatter of a repeat.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.model.quantity import FOOT, Length

SHARE, FEWEST = 0.8, 3
"""Share of the shorter of two files, and fewest rows, that must stand in the other before one is called a copy."""
ROUNDED, ROUNDED_NAMED = Length.parse("0.02 ft"), Length.parse("0.006 ft")
"""Two exports of one measurement differ by no more along an axis, by other decimals or another unit: of one time and
code; and, where a file has no times, of one name and code."""
_PLACE = ["easting", "northing", "elevation"]
_READ = ("shot", "code", "time", *_PLACE, "source", "role")


@dataclass(frozen=True, kw_only=True)
class Copy:
    """A file whose rows stand in another one.

    Attributes
    ----------
    source, of : str
        The later file, and the one that counts.
    variant : {"bytes", "two-ways", "rows"}
        Byte for byte; byte for byte, but read otherwise; or only the measurements are the same.
    rows, total : int
        Rows of the later file that do not count, and all its rows.
    """

    source: str
    of: str
    variant: str
    rows: int
    total: int


@dataclass(frozen=True, kw_only=True, eq=False)
class Listings:
    """What is listed twice.

    Attributes
    ----------
    first : (n,) int64
        Place of the row that counts for each row; its own where it counts itself.
    copies : tuple of Copy
        Whole files; single rows are in `first` alone.
    """

    first: np.ndarray
    copies: tuple[Copy, ...] = ()

    @property
    def again(self) -> np.ndarray:
        """Rows that do not count, (n,) bool."""
        return np.asarray(self.first != np.arange(len(self.first)))


def listings(shots: pd.DataFrame, sources: pd.DataFrame | None = None, *, foot: float = 1.0) -> Listings:
    """Tell rows that are one measurement.

    Parameters
    ----------
    shots : DataFrame, n rows
        As a reader gives them; `role` counts where it is there.
    sources : DataFrame, optional
        Files with their hash, in the order of the job.
    foot : float
        Job units in a foot.

    Returns
    -------
    Listings

    Notes
    -----
    One measurement are rows of one line of two files of the same bytes; rows that agree in time, place and code, of two
    files that share `SHARE` of the shorter one; the same within `ROUNDED`, for an export with other decimals or in
    another unit; and rows that agree in name, code, time and place to the last digit.
    A check shot, or a shot of a test, is meant to be taken again at the same place under the same name: without a
    time nothing is said of a single one.

    Examples
    --------
    >>> from geoqa import testing
    >>> rows = testing.shots([{"shot": "7"}, {"shot": "8", "station": 5.0}, {"shot": "7", "shot_key": "day1/7~2"}])
    >>> listings(rows).first.tolist()
    [0, 1, 0]
    """
    first = np.arange(len(shots))
    copies = _same_bytes(shots, sources, first)
    near = np.flatnonzero(_met_again(shots) & (first == np.arange(len(shots))))
    if len(near):
        narrow = pd.DataFrame(shots[[name for name in _READ if name in shots]]).iloc[near]
        copies += _same_rows(shots, narrow, near, first)
        own = first[near] == near
        _same_names(narrow[own], near[own], first)
    copies += _rounded_rows(shots, first, foot)
    while (first[first] != first).any():
        first = first[first]
    return Listings(first=first, copies=tuple(copies))


def _met_again(shots: pd.DataFrame) -> np.ndarray:
    """Rows at a place in plan that another row has to the last digit: few, so that only these are looked at closely."""
    place = shots[_PLACE[:2]]
    return np.asarray(place.duplicated(keep=False) & place.notna().all(axis=1), dtype=bool)


def _number(table: pd.DataFrame, columns: list[str]) -> np.ndarray:
    """Number of each different row; what is missing equals what is missing."""
    there = [name for name in columns if name in table]
    return table.groupby(there, dropna=False, sort=False, observed=True).ngroup().to_numpy(np.int64)


def _same_bytes(shots: pd.DataFrame, sources: pd.DataFrame | None, first: np.ndarray) -> list[Copy]:
    """Files of the same bytes: line by line the later one repeats the earlier one."""
    if sources is None or not len(sources) or not {"source", "line"} <= set(shots.columns):
        return []
    files = sources[sources["role"].eq("shots") & sources["sha256"].notna() & sources["sha256"].ne("")]
    owner = files.groupby("sha256", sort=False)["source"].transform("first")
    copies = []
    for source, of in zip(files["source"], owner, strict=True):
        if source == of:
            continue
        mine, theirs = (np.flatnonzero(shots["source"] == name) for name in (source, of))
        at = pd.Series(theirs, index=shots["line"].to_numpy()[theirs])
        at = at[~at.index.duplicated()].reindex(shots["line"].to_numpy()[mine])
        found = at.notna().to_numpy()
        rows, before = mine[found], at[found].to_numpy(np.int64)
        first[rows] = before
        place = shots[_PLACE].to_numpy(float)
        alike = np.isclose(place[rows], place[before], rtol=0.0, atol=1e-6, equal_nan=True).all()
        variant = "bytes" if alike else "two-ways"
        copies.append(Copy(source=source, of=of, variant=variant, rows=len(rows), total=len(mine)))
    return copies


def _same_rows(shots: pd.DataFrame, narrow: pd.DataFrame, near: np.ndarray, first: np.ndarray) -> list[Copy]:
    """Files most of whose measurements stand in an earlier one, under whatever names."""
    source, unique = pd.factorize(narrow["source"])
    if len(unique) < 2:
        return []
    names = [str(name) for name in unique]
    size = [int((shots["source"] == name).sum()) for name in names]
    content = _number(narrow, ["code", "time", *_PLACE])
    rows = pd.DataFrame({"content": content, "source": source, "row": near})
    once = rows.drop_duplicates(["content", "source"])
    pairs = once.merge(once, on="content", suffixes=("_of", ""))
    pairs = pairs[pairs["source_of"] < pairs["source"]]
    copies = []
    for later, of in np.unique(pairs[["source", "source_of"]].to_numpy(np.int64), axis=0).tolist():
        mine = pairs[(pairs["source"] == later) & (pairs["source_of"] == of)]
        if len(mine) < max(FEWEST, SHARE * min(size[later], size[of])):
            continue
        at = mine.set_index("content")["row_of"]
        again = rows[(rows["source"] == later) & rows["content"].isin(at.index)]
        fresh = again[first[again["row"]] == again["row"]]
        first[fresh["row"]] = at[fresh["content"]].to_numpy(np.int64)
        if len(fresh):
            copies.append(Copy(source=names[later], of=names[of], variant="rows", rows=len(fresh), total=size[later]))
    return copies


def _rounded_rows(shots: pd.DataFrame, first: np.ndarray, foot: float) -> list[Copy]:
    """Files most of whose measurements stand in an earlier one with other decimals, or in another unit."""
    if shots["source"].nunique() < 2 or not {"shot", "code", "time"} <= set(shots.columns):
        return []
    table = pd.DataFrame(shots[["source", "shot", "code", "time", *_PLACE]]).reset_index(drop=True)
    table["row"], table["source"] = np.arange(len(table)), pd.factorize(table["source"])[0]
    names, size = pd.unique(shots["source"]), np.bincount(table["source"])
    own = table[(first == table["row"].to_numpy()) & table[_PLACE[:2]].notna().all(axis=1).to_numpy(bool)]
    timed = np.asarray(own["time"].notna().groupby(own["source"]).transform("all"), dtype=bool)
    copies: list[Copy] = []
    for key, mine, within in (
        (["time", "code"], own[timed], ROUNDED),
        (["shot", "code"], own[own["shot"].notna()], ROUNDED_NAMED),
    ):
        some = mine[mine.duplicated(key, keep=False) & ~mine.duplicated([*key, "source"], keep=False)]
        pairs = some.merge(some, on=key, suffixes=("_of", ""))
        pairs = pairs[(pairs["source_of"] < pairs["source"])]
        if key[0] == "shot":  # where both have times, those tell
            pairs = pairs[pairs["time_of"].isna() != pairs["time"].isna()]
        off = np.abs(pairs[_PLACE].to_numpy(float) - pairs[[f"{name}_of" for name in _PLACE]].to_numpy(float))
        alike = (np.nan_to_num(off) <= within.to(FOOT) * foot).all(axis=1)
        for (later, of), found in pairs[alike].groupby(["source", "source_of"], sort=True):
            fresh = found[first[found["row"]] == found["row"]]
            if len(found) < max(FEWEST, SHARE * min(size[later], size[of])) or not len(fresh):
                continue
            first[fresh["row"]] = fresh["row_of"].to_numpy(np.int64)
            copies.append(
                Copy(source=str(names[later]), of=str(names[of]), variant="rows", rows=len(fresh),
                     total=int(size[later]))
            )  # fmt: skip
    return copies


def _same_names(narrow: pd.DataFrame, near: np.ndarray, first: np.ndarray) -> None:
    """Single rows that stand twice, name, code and time included."""
    if "shot" not in narrow:
        return
    timed = narrow["time"].notna().to_numpy(bool) if "time" in narrow else np.zeros(len(narrow), bool)
    feature = np.ones(len(narrow), bool)
    if "role" in narrow:
        feature = (narrow["role"].isna() | narrow["role"].eq("feature")).to_numpy(bool)
    named = feature | timed
    rows, number = near[named], _number(narrow[named], ["shot", "code", "time", *_PLACE])
    _, at = np.unique(number, return_index=True)
    first[rows] = rows[at[np.unique(number, return_inverse=True)[1].ravel()]]
