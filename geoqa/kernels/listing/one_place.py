"""Which findings are of one place: they share a shot, or lie beside one another on one subject."""

import numpy as np
import numpy.typing as npt


def one_place(
    subject: npt.NDArray[np.int64],
    start: npt.NDArray[np.float64],
    end: npt.NDArray[np.float64],
    place: npt.NDArray[np.float64],
    finding: npt.NDArray[np.int64],
    shot: npt.NDArray[np.int64],
    *,
    near: float,
    pairs: npt.NDArray[np.int64] | None = None,
) -> npt.NDArray[np.int64]:
    """Group findings that share a shot, and those of one subject that are no farther apart than `near`.

    Parameters
    ----------
    subject : (n,) int64
        What each finding is about, as a number.
    start, end : (n,) float64
        Stations along the subject, in the unit of `near`; NaN where it has none: then its place counts.
    place : (n, 2) float64
        Easting and northing; NaN where it lies nowhere.
    finding, shot : (k,) int64
        Pairs: this finding was made with that shot.
    near : float
        Largest distance between two findings of one place.
    pairs : (m, 2) int64, optional
        Findings known to be of one place.

    Returns
    -------
    (n,) int64
        Groups numbered from 0 in the order of their first finding.

    Examples
    --------
    >>> station = np.array([10.0, 35.0, 90.0, np.nan])
    >>> place = np.array([[0.0, 0.0], [0.0, 25.0], [0.0, 80.0], [50.0, 0.0]])
    >>> finding, shot = np.array([2, 3]), np.array([7, 7])
    >>> one_place(np.array([0, 0, 0, 1]), station, station, place, finding, shot, near=30.0).tolist()
    [0, 0, 1, 1]
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    count = len(subject)
    if not count:
        return np.zeros(0, dtype=np.int64)
    found = [_along(subject, start, end, near), _beside(subject, start, place, near), _sharing(finding, shot)]
    both = np.concatenate(found if pairs is None else [*found, pairs])
    joined = coo_array((np.ones(len(both), dtype=np.int8), both.T), shape=(count, count))
    group = connected_components(joined, directed=False)[1]
    _, first, inverse = np.unique(group, return_index=True, return_inverse=True)
    return np.argsort(np.argsort(first))[inverse].astype(np.int64)


def unbroken(
    line: npt.NDArray[np.int64],
    start: npt.NDArray[np.float64],
    end: npt.NDArray[np.float64],
    alike: npt.NDArray[np.int64],
    *,
    reach: float,
) -> npt.NDArray[np.int64]:
    """Neighbours along a line that say the same: nothing that says otherwise lies between them.

    Parameters
    ----------
    line : (n,) int64
        Which line, as a number.
    start, end : (n,) float64
        Stations along it, in the unit of `reach`; NaN where it has none: it is no neighbour of anything.
    alike : (n,) int64
        What each says, as a number; 0 says nothing that joins.
    reach : float
        Largest distance between two neighbours.

    Returns
    -------
    (m, 2) int64
        Pairs of neighbours.

    Examples
    --------
    >>> station = np.array([0.0, 50.0, 100.0, 150.0, 300.0])
    >>> unbroken(np.zeros(5, int), station, station, np.array([1, 1, 0, 1, 1]), reach=110.0).tolist()
    [[0, 1]]
    """
    rows = np.flatnonzero(np.isfinite(start))
    last = np.where(np.isfinite(end[rows]), end[rows], start[rows])
    low, high = np.minimum(start[rows], last), np.maximum(start[rows], last)
    order = np.lexsort((low, line[rows]))
    rows, low, high = rows[order], low[order], high[order]
    same = (line[rows[1:]] == line[rows[:-1]]) & (alike[rows[1:]] == alike[rows[:-1]]) & (alike[rows[1:]] != 0)
    joined = same & (low[1:] <= high[:-1] + reach)
    return np.column_stack([rows[:-1], rows[1:]])[joined].astype(np.int64)


def _along(subject: np.ndarray, start: np.ndarray, end: np.ndarray, near: float) -> np.ndarray:
    """Neighbours along one subject: each with the one that reached farthest before it."""
    rows = np.flatnonzero(np.isfinite(start))
    last = np.where(np.isfinite(end[rows]), end[rows], start[rows])
    low, high = np.minimum(start[rows], last), np.maximum(start[rows], last)
    order = np.lexsort((low, subject[rows]))
    rows, low, high = rows[order], low[order], high[order]
    if len(rows) < 2:
        return np.zeros((0, 2), dtype=np.int64)
    # a step between subjects that no station can bridge keeps the farthest reach of one from the next
    step = (high.max() - low.min() + 2 * near) * np.unique(subject[rows], return_inverse=True)[1]
    reach = np.maximum.accumulate(high + step)
    joined = low[1:] + step[1:] <= reach[:-1] + near
    return np.column_stack([rows[:-1], rows[1:]])[joined]


def _beside(subject: np.ndarray, start: np.ndarray, place: np.ndarray, near: float) -> np.ndarray:
    """Pairs of one subject that lie near one another, where one has no station."""
    from scipy.spatial import cKDTree

    there = np.isfinite(place).all(axis=1)
    mine = np.isin(subject, subject[there & ~np.isfinite(start)])
    rows = np.flatnonzero(there & mine)
    if len(rows) < 2:
        return np.zeros((0, 2), dtype=np.int64)
    from_first = place[rows] - place[rows[0]]
    apart = 10 * near * np.unique(subject[rows], return_inverse=True)[1]
    pairs = cKDTree(np.column_stack([from_first, apart])).query_pairs(near, output_type="ndarray")
    return rows[pairs]


def _sharing(finding: np.ndarray, shot: np.ndarray) -> np.ndarray:
    """Neighbours among the findings of each shot."""
    order = np.argsort(shot, kind="stable")
    same = shot[order][1:] == shot[order][:-1]
    return np.column_stack([finding[order][:-1], finding[order][1:]])[same]
