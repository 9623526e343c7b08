"""Which measure-downs look misread, and what of the numbers that rest on them waits."""

from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

from geoqa.contract.utility_sentences import end_name, misread, other_rim, waits
from geoqa.kernels.utilities.readings import PROVEN, TENTH, UNIT, WHOLE, misreadings, other_tape
from geoqa.model.reasons import WHY
from geoqa.model.tables.layer import Layers
from geoqa.steps.linework.observed import observed
from geoqa.steps.utilities.ends import WANTS, pipe_ends
from geoqa.steps.utilities.other_rims import other_rims

_NAMES = {WHOLE: "whole-feet", TENTH: "tenths", UNIT: "unit"}
_FILE = "file"
RIM = "rim"
"""Question of an end whose rim shot is noted for another structure too, while a shot that nobody noted fits."""
_STATE = "state the unit of the measure-downs under [[structures]], or "
_NAME_RIM = "write the rim shot of this structure into the column rim_shot, or "
_IF_RIM = "that is its rim"
_UPHILL = 1.645
"""Standard uncertainties by which water must run uphill."""


def questions(layers: Layers) -> pd.DataFrame:
    """What is asked about each end of `pipe_ends`, a row each.

    Returns
    -------
    DataFrame
        upper : int
            1 where water enters the pipe at this end, -1 where it leaves, 0 not known.
        u : float
            1 sigma of the invert, common and random part together.
        question : str
            whole-feet, tenths, unit or rim, the one that fits best; empty for none.
        slip : float
            Read less true of the measure-down if it was misread so; 0 without a question.
        left : float
            By the rim shot that fits, the invert less its design; NaN without the question rim.
        between : float
            How far a second slip that explains it as well lies from that; 0 without one.
        of_file : bool
            All of its file look so: their unit is asked for.
        title : str
            All that explains it in words; empty without a question.
    """
    made: pd.DataFrame = layers.derived("questioned ends", ("shots", *WANTS), lambda: _questions(layers))
    return made


def _questions(layers: Layers) -> pd.DataFrame:
    ends, shots, unit = pipe_ends(layers), observed(layers), layers.frame.unit
    count = len(ends)
    upper = np.select(
        [ends["direction"] == "out", ends["direction"] == "in"], [1, -1],
        np.sign(np.nan_to_num(ends["design_fall"].to_numpy(float))),
    ).astype(int)  # fmt: skip
    row = ends["row"].to_numpy()
    at = np.where(row >= 0, row, 0)
    total = np.hypot(shots["u_v_random"].to_numpy(float), shots["u_v_common"].to_numpy(float))
    known = total[at] if len(shots) else np.full(count, np.nan)
    u = np.where(row >= 0, np.hypot(known, ends["u_down"]), np.nan)
    invert, down = ends["invert"].to_numpy(float), ends["measure_down"].to_numpy(float)
    off = invert - ends["design_invert"].to_numpy(float)
    found = misreadings(off, down, u, metres=unit.metres_float)
    kind, slip = found.kind.copy(), found.slip.copy()
    for each in np.flatnonzero(kind > 0).tolist():
        others = _others(ends, each)
        agree = [abs(off[other]) <= PROVEN * u[other] for other in others if np.isfinite(off[other])]
        mended = invert.copy()
        mended[each] += slip[each]
        uphill = [_runs_uphill(level, ends, upper, each, u) for level in (invert, mended)]
        if not agree or not all(agree) or not uphill[0] or uphill[1] or pd.notna(ends["invert_shot"].iloc[each]):
            kind[each], slip[each] = 0, 0.0
    of_file = _of_files(ends, off, u, unit.metres_float)
    whole = of_file != 0
    kind, slip = np.where(whole, UNIT, kind), np.where(whole, of_file, slip)
    found.other[whole] = 0
    names = [_NAMES.get(int(each), "") for each in kind]
    as_well = [_NAMES.get(int(each), "") if name else "" for each, name in zip(found.other, names, strict=True)]
    between = np.where([bool(each) for each in as_well], np.abs(found.other_slip - slip), 0.0)
    title = [
        misread(
            end_name(*ends.loc[each, ["structure", "pipe", "direction"]]), down[each],
            {_FILE if whole[each] else name: slip[each]} | ({other: found.other_slip[each]} if other else {}),
            unit.name,
        )
        if name
        else ""
        for each, (name, other) in enumerate(zip(names, as_well, strict=True))
    ]  # fmt: skip
    rims = other_rims(layers, ends, off, u)
    slip = np.where(rims.row >= 0, rims.slip, slip)
    between[rims.row >= 0] = 0.0
    for each in np.flatnonzero(rims.row >= 0).tolist():
        end, (noted, fits) = (
            end_name(*ends.loc[each, ["structure", "pipe", "direction"]]),
            (str(shots["name"].iloc[at]) for at in (row[each], rims.row[each])),
        )
        names[each], title[each] = RIM, other_rim(end, down[each], noted, fits, rims.left[each], unit.name)
    return pd.DataFrame(
        {"upper": upper, "u": u, "question": pd.Series(names, dtype="str", index=ends.index), "slip": slip}
        | {"between": between, "of_file": whole, "left": rims.left}
        | {"title": pd.Series(title, dtype="str", index=ends.index)}
    )


def _of_files(ends: pd.DataFrame, off: np.ndarray, u: np.ndarray, metres: float) -> np.ndarray:
    """Slip of every measure-down of a file of which all are in the other unit; 0 for others."""
    down = ends["measure_down"].where(ends["invert_shot"].isna()).to_numpy(float)
    return other_tape(off, down, u, pd.factorize(ends["source"])[0], metres=metres)


def _others(ends: pd.DataFrame, each: int) -> list[int]:
    """The other ends of its structure, and of its pipe."""
    names = ("structure", "pipe")
    same = [(ends[name] == ends[name].iloc[each]).to_numpy(bool, na_value=False) for name in names]
    near = (same[0] | same[1]) & ~ends["alone"].to_numpy()
    near[each] = False
    return [int(one) for one in np.flatnonzero(near)]


def _runs_uphill(invert: np.ndarray, ends: pd.DataFrame, upper: np.ndarray, each: int, u: np.ndarray) -> bool:
    """Whether water would have to run uphill in the pipe of an end, or through its structure, beyond uncertainty."""
    for name, sign in (("pipe", 1), ("structure", -1)):
        mine = (ends[name] == ends[name].iloc[each]).to_numpy(bool, na_value=False, copy=True)
        mine[each] = False
        for other in np.flatnonzero(mine & (upper == -upper[each])).tolist():
            # in a pipe the end that water enters lies higher, in a structure the one that it leaves by lies lower
            fall = (invert[each] - invert[other]) * upper[each] * sign
            if fall < -_UPHILL * float(np.hypot(u[each], u[other])):
                return True
    return False


def held(
    rows: pd.DataFrame,
    ends: Sequence[Sequence[int]],
    effect: np.ndarray,
    questioned: pd.DataFrame,
    *,
    show: Callable[[float], str],
    by_rim: np.ndarray | None = None,
) -> pd.DataFrame:
    """Let rows wait that rest on a questioned measure-down; each is shown both ways.

    Parameters
    ----------
    rows : DataFrame
        Of `derived_rows`.
    ends : sequence of sequence of int
        Rows of `pipe_ends` that each rests on.
    effect : (m,) array
        What the numbers change by once the slips are taken off.
    questioned : DataFrame
        Of `questions`.
    show : callable
        A number in words with its unit.
    by_rim : (m,) array, optional
        Deviations by the rim shots that fit, where those noted are of another structure. The place is another one then:
        without them it is not known what such a number would be.
    """
    titles = [[text for one in each if (text := questioned["title"].iloc[one])] for each in ends]
    asks = np.array([bool(each) for each in titles], dtype=bool) & (rows["why"] == 0).to_numpy(bool)
    if not asks.any():
        return rows
    rows = rows.copy()
    number = rows["measured"].to_numpy(float)
    rim = (questioned["question"] == RIM).to_numpy(bool)
    of_rim = np.array([any(rim[one] for one in each) for each in ends], dtype=bool)
    without = np.where(of_rim, np.nan if by_rim is None else by_rim, rows["deviation"] + effect)
    effect = np.where(of_rim & (by_rim is None), np.nan, effect)
    rows["without"] = np.where(asks, without, rows["without"])
    # which of two slips it was is not known: what is out both ways has to be out either way
    slip, between = (questioned[name].to_numpy(float) for name in ("slip", "between"))
    share = [max((between[one] / abs(slip[one]) for one in each if slip[one]), default=0.0) for each in ends]
    doubt = np.where(asks, np.nan_to_num(np.abs(np.asarray(effect, float))) * share, 0.0)
    if "u_without" in rows and doubt.any():
        rows["u_without"] = np.hypot(rows["u_without"].to_numpy(float), doubt)
    rows["why"] = np.where(asks, WHY["open-blunder"], rows["why"])
    said = [
        waits(each, show(value), show(value + change), **({"how": _IF_RIM} if by_rim else {})) if ask else (None, None)
        for each, value, change, ask, by_rim in zip(titles, number, effect, asks, of_rim, strict=True)
    ]
    for nth, name in enumerate(("cause", "cause_both")):
        rows[name] = rows[name].mask(asks, pd.Series([pair[nth] for pair in said], dtype="str", index=rows.index))
    of_file = questioned["of_file"].to_numpy(bool)
    first = [
        _STATE if any(of_file[one] for one in each) else _NAME_RIM if by_rim else ""
        for each, by_rim in zip(ends, of_rim, strict=True)
    ]
    told = [f"{desk}re-measure: {'; '.join(each)}" for desk, each in zip(first, titles, strict=True)]
    again = pd.Series(told, dtype="str", index=rows.index)
    rows["remedy"] = again.where(pd.Series(asks, index=rows.index))
    return rows
