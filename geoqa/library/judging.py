"""Verdicts on numbers in the light of their uncertainty."""

import numpy as np
import pandas as pd

from geoqa.kernels.judging import verdict
from geoqa.library.accepted import Lengths, Numbers
from geoqa.library.numbers import beside, column_of
from geoqa.model.tables.finding import VERDICTS
from geoqa.steps.judging.text_columns import taken


def judge(
    values: Numbers,
    *,
    lower: Lengths | None,
    upper: Lengths | None,
    u: Lengths,
    rule: str = "guarded",
    unit: str | None = None,
) -> pd.DataFrame:
    """Judge signed deviations against limits.

    Parameters
    ----------
    values : Series, (n,) array or float
        Measured minus design, in any unit.
    lower, upper : float, str, Length, (n,) array, Series or None
        Limits on the deviation; the limit itself still conforms. None is no limit on that side. A text such as
        ``"0.10 ft"`` needs `unit`. A Series stands on the index of `values`.
    u : float, str, Length, (n,) array or Series
        Standard uncertainty (1 sigma) of the deviation; 0 is an exact number.
    rule : str
        ``guarded``: IN where P(lower <= X <= upper) >= 0.95, OUT where P(X > upper) >= 0.95 or P(X < lower) >= 0.95,
        else UNDECIDED. ``simple``: IN within the limits, OUT beyond, whatever u. ``guard R``: IN where the deviation
        lies within the limits by R times U, OUT where beyond by R times U, with U = 2u.
    unit : {"m", "ft", "ftUS", "in", "cm", "mm"}, optional
        Unit of `values`, and of limits and `u` that are numbers; needed for those that are lengths.

    Returns
    -------
    DataFrame
        One row a value, on the index of `values`:

        ``verdict``
            IN, OUT, UNDECIDED, or NO_DATA where the value, a limit or u is missing or no limit is given.
        ``p_conform``
            Probability that the true value lies within the limits.
        ``excess``
            Distance beyond the nearer limit over u, negative inside; infinite for an exact number off the limit.

    Raises
    ------
    JobError
        An unknown rule, a negative u, or limits the wrong way round.
    LayerError
        Text in place of numbers, another index, or another number of rows.
    QuantityError
        A length where the unit of the values is not stated.

    Notes
    -----
    The kernel `geoqa.kernels.judging.verdict.judge`, the only place of the library where a number becomes a verdict.
    The true value is taken as normal about the measured one with standard deviation u. Rules after JCGM 106:2012 and
    ISO 14253-1:2017.

    Examples
    --------
    >>> import geoqa, pandas as pd
    >>> offsets = pd.Series([0.0, 0.16, 0.09, None], index=["a", "b", "c", "d"])
    >>> geoqa.judge(offsets, lower="-0.10 ft", upper="0.10 ft", u=0.02, unit="ft").round(3)
         verdict  p_conform  excess
    a         IN      1.000    -5.0
    b        OUT      0.001     3.0
    c  UNDECIDED      0.691    -0.5
    d    NO_DATA        NaN     NaN
    """
    numbers, index = column_of(values, name="values")
    found = verdict.judge(
        numbers,
        lower=beside(lower, index, name="lower", unit=unit, none=-np.inf),
        upper=beside(upper, index, name="upper", unit=unit, none=np.inf),
        u=beside(u, index, name="u", unit=unit),
        rule=rule,
    )
    return _table(found, index)


def judge_radial(
    distances: Numbers, *, limit: Lengths, u: Lengths, rule: str = "guarded", unit: str | None = None
) -> pd.DataFrame:
    """Judge distances of plan positions from their design place against a radius.

    Parameters
    ----------
    distances : Series, (n,) array or float
        From design to measured position, 0 or more, in any unit.
    limit : float, str, Length, (n,) array or Series
        Largest distance that conforms; a text such as ``"0.30 ft"`` needs `unit`.
    u : float, str, Length, (n,) array or Series
        Standard uncertainty (1 sigma) of the position on each of two axes, taken as equal and independent.
    rule, unit
        As in `judge`.

    Returns
    -------
    DataFrame
        As from `judge`, on the index of `distances`.

    Raises
    ------
    JobError
        An unknown rule, or a negative distance, limit or u.
    LayerError, QuantityError
        As in `judge`.

    Notes
    -----
    The kernel `geoqa.kernels.judging.verdict.judge_radial`: IN where P(|d + e| <= limit) >= 0.95, by the noncentral
    chi-square distribution with two degrees of freedom.

    Examples
    --------
    >>> import geoqa
    >>> geoqa.judge_radial([0.27, 0.40], limit=0.30, u=0.02).round(3)
         verdict  p_conform  excess
    0  UNDECIDED      0.929    -1.5
    1        OUT      0.000     5.0
    """
    numbers, index = column_of(distances, name="distances")
    found = verdict.judge_radial(
        numbers,
        limit=beside(limit, index, name="limit", unit=unit),
        u=beside(u, index, name="u", unit=unit),
        rule=rule,
    )
    return _table(found, index)


def _table(found: verdict.Judged, index: pd.Index) -> pd.DataFrame:
    return pd.DataFrame(
        {"verdict": taken(VERDICTS, found.verdict), "p_conform": found.p_conform, "excess": found.excess}
    ).set_axis(index)
