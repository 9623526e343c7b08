"""Kinds a map is not to hold, such as water lines whose places may not be published: all of them, and it says so."""

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from geoqa.contract.sentences import note_lines
from geoqa.model import words
from geoqa.model.results import Results

if TYPE_CHECKING:
    import pandas as pd

_TEXTS = ("subject", "place", "other", "written", "label")
"""Where rows name lines and kinds in their words."""


def left_out(results: Results, kinds: Sequence[str]) -> Results:
    """Results without some kinds: their shots, design and findings, and what was judged with them.

    Parameters
    ----------
    results : Results
    kinds : sequence of str

    Returns
    -------
    Results
        The same object where there is nothing to leave out. Counts are those of what is left, and the first note says
        what is not there.
    """
    if not kinds:
        return results
    layers = results.layers
    theirs = layers["shots"]["kind"].isin(kinds)
    shots, others = set(layers["shots"].loc[theirs, "shot_key"]), layers["shots"][~theirs]
    lines = {each for name, column in (("design_lines", "line"), ("design_points", "point")) if name in layers
             for each in layers[name].loc[layers[name]["kind"].isin(kinds), column]}  # fmt: skip
    for name in ("line_id", "code"):  # as the crew calls them
        lines |= set(layers["shots"].loc[theirs, name].dropna()) - set(others[name]) - {""}
    findings = _findings(layers["findings"], layers["evidence"], shots, lines, kinds)
    tables = {name: _kept(table, kinds, shots, lines, findings) for name, table in layers.items()}
    shown = type(layers)(tables, frame=layers.frame)
    gone = [words.many(len(findings), "finding"), words.many(len(shots), "shot")]
    said = words.listed([kind.replace("-", " ") for kind in kinds])
    told = f"Left out of this map: {said} ({', '.join(gone)}). It does not show that nothing is there."
    notes = note_lines(shown["notes"], layers.frame.unit.name) if "notes" in shown else results.notes
    summary = {name: value for name, value in results.summary.items() if name != "reported"}
    return replace(results, layers=shown, notes=(told, *notes), summary=summary)


def _findings(
    findings: "pd.DataFrame", evidence: "pd.DataFrame", shots: set[str], lines: set[str], kinds: Collection[str]
) -> set[str]:
    """Findings about these kinds, or judged from one of their shots or lines."""
    mine = evidence.loc[evidence["key"].isin(shots | lines), "finding"]
    about = findings["kind"].isin(kinds) | findings["shot"].isin(shots) | findings["finding"].isin(mine)
    return set(findings.loc[about | _names(findings, lines), "finding"])


def _kept(
    table: "pd.DataFrame", kinds: Collection[str], shots: set[str], lines: set[str], findings: set[str]
) -> "pd.DataFrame":
    """Rows of a table that say nothing of what is left out."""
    gone = _names(table, {*lines, *kinds})
    keys = {"kind": kinds, "finding": findings, "line": lines, "point": lines, "pipe": lines}
    keys |= dict.fromkeys(("shot_key", "shot", "key"), shots)
    for name, values in keys.items():
        if name in table.columns:
            gone |= table[name].isin(values)
    return table[~gone]


def _names(table: "pd.DataFrame", names: Collection[str]) -> "pd.Series":
    """Rows whose words name one of these."""
    import re

    import pandas as pd

    gone = pd.Series(False, index=table.index)
    if not names:
        return gone
    one = re.compile(r"(?<![\w-])(?:" + "|".join(map(re.escape, sorted(names))) + r")(?![\w-])")
    for name in _TEXTS:
        if name in table.columns:
            gone |= table[name].astype("str").str.contains(one, na=False)
    return gone
