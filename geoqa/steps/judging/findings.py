"""The one place where steps turn measured numbers into rows of findings.

A step hands over a table of what it measured; limits are looked up here, the decision rule
is applied, and the reason, the remedy, the source of the limit and the name of the finding are added.
"""

from collections.abc import Hashable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from geoqa.kernels.judging.verdict import IN, NO_DATA, OUT, UNDECIDED, Judged, judge, judge_radial, provable
from geoqa.model.check import Check
from geoqa.model.reasons import OF_THE_DESIGN
from geoqa.model.tables.column import bare
from geoqa.model.tables.columns import conform, conformed, empty
from geoqa.model.tables.finding import VERDICTS, finding_id, finding_ids
from geoqa.steps.judging.remedies import SHOT, deciding
from geoqa.steps.judging.second_readings import (
    SECOND,
    also_read,
    has_second,
    held_to_both,
    held_without_shift,
    what_hangs,
)
from geoqa.steps.judging.text_columns import codes_of, filled, taken

METHOD = "method"
"""Rule set of limits that a step's own method sets, not the job."""


def with_limits(rows: pd.DataFrame, limits: pd.DataFrame, *, check: Check) -> pd.DataFrame:
    """Rows with the place of their limit in `limits`; one row for each rule set that has one.

    Parameters
    ----------
    rows : DataFrame
        With a column `kind`.
    limits : DataFrame
        The `limits` layer.
    check : Check
        Its limits stand under the kind of the row, or under the one kind the check is for.

    Returns
    -------
    DataFrame
        `rows` with a column `limit`; -1 where no limit is known.
    """
    mine = np.flatnonzero(limits["check"] == check.name)
    by_kind: dict[Hashable, list[int]] = {}
    for place, name in zip(mine.tolist(), limits["kind"].to_numpy(dtype=object)[mine].tolist(), strict=True):
        by_kind.setdefault(name, []).append(place)
    code, names = pd.factorize(rows["kind"] if check.of_kind is None else filled(check.of_kind, len(rows)))
    found = [by_kind.get(name, [-1]) for name in names] + [[-1]]
    table = np.full((len(found), max(len(each) for each in found)), -1)
    for number, each in enumerate(found):
        table[number, : len(each)] = each
    count = np.array([len(each) for each in found])[code]
    if (count == 1).all():
        return rows.reset_index(drop=True).assign(limit=table[code, 0])
    row = np.repeat(np.arange(len(rows)), count)
    nth = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    return rows.take(row).reset_index(drop=True).assign(limit=table[code[row], nth])


def asked(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows whose kind has a limit for the check: what nobody set a tolerance for is measured, and not judged."""
    return rows[rows["limit"] >= 0].reset_index(drop=True)


def findings_of(
    rows: pd.DataFrame,
    *,
    check: Check,
    limits: pd.DataFrame,
    unit: str,
    quantity: str | None = None,
    keys: list[list[str]] | None = None,
    again: str = SHOT,
    u_tied: float = 0.0,
) -> pd.DataFrame:
    """Judge rows and make findings of them.

    Parameters
    ----------
    rows : DataFrame
        Needs `kind`, `subject`, `source` (of the design), `shot`, `limit` (place in `limits`, -1 none),
        `deviation`, `u_common`, `u_random`, and `why` (code of `Check.why`; not 0 where the row cannot be
        judged or where it has a reason of its own). May have any other column of findings; `lower`, `upper`, `rule`,
        `remedy` and `reference` stand in place of what is found here where they are not missing. Rows that wait for
        an open blunder may have the number as it would be `without` it, the u of that shift `u_without`, and
        `cause_both`, the words where both readings are out: such a row is OUT, not withheld, and the finding is that of
        the number without it, of `without_own` against its own design where that is there. For the remedy a row may
        have `u_more`, the u of one more measurement like it (else its own u), and `u_stays`, the part of it that no
        further measurement makes smaller (else 0). A number that was chosen may have `u_unchosen`, its u without what
        the choice adds: that alone tells what the method can prove. Rows that can be read against the design in a
        second way have the columns of `second_readings`; so have those of a session without a check that lies off the
        design as a whole, `of_session` and `hangs_on`.
    check : Check
    limits : DataFrame
        The `limits` layer.
    unit : str
        Name of the job's unit, for texts.
    quantity : str, optional
        Of these rows, where it is not that of the check: a line that nobody shot is counted, not measured.
    keys : list of list of str, optional
        Keys of the evidence of each row; the shot alone if left out.
    again : str
        What would have to be repeated to decide an undecided row.
    u_tied : float
        Standard uncertainty of what the better method of the check starts from: a level run feels its mark.

    Returns
    -------
    DataFrame
        Findings, in the order of the rows (of `with_limits`).

    Notes
    -----
    A row with a reason that keeps it from being judged is NO_DATA whatever its number.
    """
    if not len(rows):
        return empty("findings")
    made = _limited(rows, limits)
    quantity = quantity or check.quantity
    u = _felt(made["u_common"].to_numpy(float), made["u_random"].to_numpy(float), check)
    milder = _out_both_ways(made, u, check)
    judged = _both_read(made, u, check)
    if milder is not None:
        judged = replace(
            judged,
            p_conform=np.fmax(judged.p_conform, milder.p_conform),
            excess=np.fmin(judged.excess, milder.excess),
        )
        u = _told_without(made, u, check)
    why = _why(made, judged, u, check)
    if "hangs_on" in made:
        what_hangs(made, judged.verdict, why, check, quantity=quantity, unit=unit)
    spare = {"limit", "source", "of_session", "checked", *_BOTH, *_MORE, *SECOND}
    if "hangs_on" in made and made["hangs_on"].isna().all():
        spare.add("hangs_on")
    columns = {name: column for name, column in made.items() if name not in spare}
    told: dict[Hashable, Any] = {
        "u": u,
        "p_conform": judged.p_conform,
        "excess": judged.excess,
        "verdict": taken(VERDICTS, judged.verdict),
        "why": taken(["", *(reason.name for reason in check.every_reason)], why),
        "check": filled(check.name, len(made)),
        "quantity": filled(quantity, len(made)),
        "finding": _names(made, check.name, keys),
    }
    told["remedy"] = _remedies(made, judged, why, u, check, quantity=quantity, unit=unit, again=again, u_tied=u_tied)
    return conformed("findings", {**columns, **told}, index=made.index)


BOTH_WAYS = ("open-blunder", *OF_THE_DESIGN)
"""Reasons of a number that waits, unless it is out as read and out without what it waits for."""
_BOTH = ("without", "without_own", "u_without", "cause_both", "deviation_read", "u_common_read")
_MORE = ("u_more", "u_stays", "u_unchosen")


def _out_both_ways(rows: pd.DataFrame, u: np.ndarray, check: Check) -> Judged | None:
    """Let rows under a blunder be judged that are out as read and out without it; their reading without it, judged.

    Numbers of the other rows are NaN in what is returned.
    """
    if "without" not in rows:
        return None
    waits = rows["why"].isin([check.why(name) for name in BOTH_WAYS]).to_numpy(bool)
    waits = waits & rows["without"].notna().to_numpy(bool)
    if not waits.any():
        return None
    free = rows.assign(why=0)
    read = _judged(free, u, check)
    bare = _judged(free.assign(deviation=rows["without"]), np.hypot(u, rows["u_without"].to_numpy(float)), check)
    out = waits & (read.verdict == OUT) & (bare.verdict == OUT)
    rows["why"] = np.where(out, check.why("out-both-ways"), rows["why"])
    rows["cause"] = rows["cause"].mask(out, rows["cause_both"])
    return Judged(
        verdict=bare.verdict, p_conform=np.where(out, bare.p_conform, np.nan), excess=np.where(out, bare.excess, np.nan)
    )


def _told_without(rows: pd.DataFrame, u: np.ndarray, check: Check) -> np.ndarray:
    """Tell rows that are out both ways by their number without the blunder: size and side are the work's; their u."""
    out = (rows["why"] == check.why("out-both-ways")).to_numpy(bool)
    if not out.any():
        return u
    number, more = rows["without"].to_numpy(float), rows["u_without"].to_numpy(float)
    if "without_own" in rows:
        own = rows["without_own"].to_numpy(float)
        number = np.where(np.isfinite(own), own, number)
    change = number - rows["deviation"].to_numpy(float)
    for name, told in (
        ("deviation", number),
        ("measured", rows["measured"].to_numpy(float) + change),
        ("u_common", np.hypot(rows["u_common"].to_numpy(float), more)),
    ):
        rows[name] = np.where(out, told, rows[name].to_numpy(float))
    return np.where(out, np.hypot(u, more), u)


def verdicts_of(rows: pd.DataFrame, *, check: Check, limits: pd.DataFrame) -> pd.Series:
    """What `findings_of` would say of rows that can be judged, and nothing else about them.

    Parameters
    ----------
    rows, check, limits
        As in `findings_of`.

    Returns
    -------
    Series of str
    """
    return judged_rows(rows, check=check, limits=limits)["verdict"]


def judged_rows(rows: pd.DataFrame, *, check: Check, limits: pd.DataFrame) -> pd.DataFrame:
    """`verdict`, `deviation`, `p_conform` and `excess` as `findings_of` would give them; as for `verdicts_of`."""
    if not len(rows):
        return empty("findings")[["verdict", "deviation", "p_conform", "excess"]]
    made = _limited(rows, limits)
    u = _felt(made["u_common"].to_numpy(float), made["u_random"].to_numpy(float), check)
    found = _both_read(made, u, check)
    return pd.DataFrame({"verdict": taken(VERDICTS, found.verdict), "deviation": made["deviation"].to_numpy(float),
                         "p_conform": found.p_conform, "excess": found.excess})  # fmt: skip


def verdicts_by_name(rows: pd.DataFrame, *, check: Check, limits: pd.DataFrame) -> pd.DataFrame:
    """`finding` and `verdict` as `findings_of` would give them, and nothing else about them."""
    if not len(rows):
        return empty("findings")[["finding", "verdict"]]
    made = _limited(rows, limits)
    u = _felt(made["u_common"].to_numpy(float), made["u_random"].to_numpy(float), check)
    _out_both_ways(made, u, check)
    verdict = taken(VERDICTS, _both_read(made, u, check).verdict)
    return pd.DataFrame({"finding": _names(made, check.name, None), "verdict": verdict})


def _both_read(rows: pd.DataFrame, u: np.ndarray, check: Check) -> Judged:
    """Verdicts of rows, held to the second reading where a row has one."""
    judged = _judged(rows, u, check)
    two = has_second(rows)
    second = rows["second"].where(two) if two.any() else None
    shift = rows["of_session"].where(rows["of_session"] != 0) if "of_session" in rows else None
    if second is not None:
        judged = held_to_both(rows, judged, _judged(rows.assign(deviation=second), u, check), check)
    if shift is not None and shift.notna().any():
        less = _judged(rows.assign(deviation=rows["deviation"] - shift), u, check)
        judged = held_without_shift(rows, judged, less, check)
        if second is not None:
            less = _judged(rows.assign(deviation=second - shift), u, check)
            judged = held_without_shift(rows, judged, less, check)
    return judged


def _felt(common: np.ndarray, random: np.ndarray, check: Check) -> np.ndarray:
    """Uncertainty a number is judged with: what both shots of a difference share cancels, and so on."""
    if check.feels == "random":
        return random
    return common if check.feels == "common" else np.hypot(common, random)


def _names(rows: pd.DataFrame, check: str, keys: list[list[str]] | None) -> pd.Series:
    if keys is None:
        return finding_ids(check, rows["against"], rows["subject"], rows["shot"])
    named = zip(rows["against"].tolist(), rows["subject"].tolist(), keys, strict=True)
    return pd.Series([finding_id(check, *each) for each in named], dtype="str")


def _limited(rows: pd.DataFrame, limits: pd.DataFrame) -> pd.DataFrame:
    """Rows with limits, rule, source of the limit and what they are judged against."""
    place = rows["limit"].to_numpy()
    known = place >= 0
    own = rows.reset_index(drop=True)
    made: dict[Hashable, Any] = dict(own.items())
    for name in ("lower", "upper"):
        column = limits[name].to_numpy(float)
        found = np.where(known, column[place], np.nan) if len(column) else np.full(len(own), np.nan)
        made[name] = np.where(own[name].notna(), own[name], found) if name in made else found
    for name in ("rule", "reference", "edition"):
        written = taken(limits[name], place)
        made[name] = own[name].where(own[name].notna(), written) if name in made else written
    made["reference"] = made["reference"].fillna("no source: no limit is stated")
    verified = pd.array(limits["verified"].to_list(), dtype="boolean")
    made["verified"] = verified.take(place, allow_fill=True)
    ruleset = taken(limits["ruleset"], place)
    ruleset = ruleset.mask(~known & ~np.isnan(made["lower"]), METHOD).fillna("no rule")
    code, pairs = codes_of(ruleset, own["source"].fillna("no design"))
    made["against"] = taken(["; ".join(pair) for pair in pairs], code)
    return pd.DataFrame({name: bare(column) for name, column in made.items()}, index=own.index)


def _judged(rows: pd.DataFrame, u: np.ndarray, check: Check) -> Judged:
    """The decision rule, once for each rule in use."""
    blocked = np.isin(rows["why"], [check.why(reason.name) for reason in check.every_reason if not reason.judged])
    deviation = np.where(blocked, np.nan, rows["deviation"].to_numpy(float))
    lower, upper = rows["lower"].to_numpy(float), rows["upper"].to_numpy(float)
    verdict = np.full(len(rows), NO_DATA, dtype=np.int8)
    p_conform, excess = np.full((2, len(rows)), np.nan)
    code, rules = pd.factorize(rows["rule"])
    for number, rule in enumerate(rules):
        mine = np.flatnonzero(code == number)
        if check.radial:
            part = judge_radial(deviation[mine], limit=upper[mine], u=u[mine], rule=rule)
        else:
            part = judge(deviation[mine], lower=lower[mine], upper=upper[mine], u=u[mine], rule=rule)
        verdict[mine], p_conform[mine], excess[mine] = part.verdict, part.p_conform, part.excess
    return Judged(verdict=verdict, p_conform=p_conform, excess=excess)


def _why(table: pd.DataFrame, judged: Judged, u: np.ndarray, check: Check) -> np.ndarray:
    """Reason of every row: what is missing first, then what the verdict says about itself."""
    own, verdict = table["why"].to_numpy(), judged.verdict
    no_limit = table["rule"].isna() | table["lower"].isna() | table["upper"].isna()
    simple = (table["rule"] == "simple").to_numpy(bool)
    hopeless = np.zeros(len(table), dtype=bool)
    least = table["u_unchosen"].to_numpy(float) if "u_unchosen" in table else u
    waiting = np.flatnonzero(verdict == UNDECIDED)
    for rule, rows in table["rule"].iloc[waiting].groupby(table["rule"].iloc[waiting]) if len(waiting) else ():
        at = rows.index.to_numpy()
        lower, upper = table["lower"].to_numpy(float)[at], table["upper"].to_numpy(float)[at]
        hopeless[at] = ~provable(lower=lower, upper=upper, u=least[at], rule=str(rule), radial=check.radial)
    return np.select(
        [
            no_limit & (own != check.why("no-design")),
            own != 0,
            np.isnan(u) & (verdict == NO_DATA),
            table["deviation"].isna().to_numpy(bool),
            verdict == NO_DATA,
            simple,
            (verdict == IN) | (verdict == OUT),
            hopeless,
        ],
        [
            check.why("no-limit"),
            own,
            check.why("no-uncertainty"),
            check.why("no-number"),
            check.why("no-limit"),
            check.why("as-measured"),
            check.why("proven"),
            check.why("u-too-large"),
        ],
        check.why("near-limit"),
    )


def _remedies(
    table: pd.DataFrame, judged: Judged, why: np.ndarray, u: np.ndarray, check: Check, *, quantity: str, unit: str,
    again: str, u_tied: float,
) -> pd.Series:  # fmt: skip
    remedies = ["", *(reason.remedy for reason in check.every_reason)]
    names = np.array(["", *(reason.name for reason in check.every_reason)], dtype=object)
    helps = np.array([bool(each) for each in remedies])[why] & (judged.verdict == NO_DATA)
    remedy = taken(remedies, np.where(helps, why, -1))
    open_rows = np.flatnonzero(np.isin(why, [check.why("near-limit"), check.why("u-too-large")]))
    if len(open_rows):
        texts = remedy.to_numpy(dtype=object)
        mine = table.iloc[open_rows].assign(u=u[open_rows], why=names[why[open_rows]])
        for (rule, reason), rows in mine.groupby(["rule", "why"]):
            numbers = {name: rows[name].to_numpy(float) for name in ("deviation", "lower", "upper", "u")}
            more = rows["u_more"].to_numpy(float) if "u_more" in rows else numbers["u"]
            stays = rows["u_stays"].to_numpy(float) if "u_stays" in rows else np.zeros(len(rows))
            read, else_read = also_read(rows, check)
            texts[rows.index] = deciding(
                check, str(reason), **numbers, u_more=more, stays=stays, rule=str(rule), quantity=quantity, unit=unit,
                again=again, read=read, else_read=else_read, u_tied=u_tied,
            )  # fmt: skip
        remedy = pd.Series(texts, dtype="str")
    return table["remedy"].where(table["remedy"].notna(), remedy) if "remedy" in table else remedy


def evidence_of(
    findings: pd.Series | list[str],
    keys: pd.Series | list[str],
    *,
    role: str,
    layer: str,
    weights: ArrayLike | None = None,
) -> pd.DataFrame:
    """Rows of `evidence`: which rows of which layer a finding rests on."""
    count = len(findings)
    return conform(
        "evidence",
        pd.DataFrame(
            {
                "finding": pd.Series(list(findings), dtype="str"),
                "role": filled(role, count),
                "layer": filled(layer, count),
                "key": pd.Series(list(keys), dtype="str"),
                "weight": np.full(count, np.nan) if weights is None else np.asarray(weights, float),
            }
        ),
    )
