"""The page of a tilt test as an output: one file, ``tilt.html``, that works offline."""

from collections.abc import Mapping
from html import escape
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from geoqa.model import words
from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.quantity import LengthUnit
from geoqa.model.results import Results
from geoqa.model.tables.layer import Layers
from geoqa.present.tilt import tables
from geoqa.present.tilt.plots import BY_SIZE, PANELS, Panel, error_plot, rose, scatter, shade

if TYPE_CHECKING:
    import pandas as pd


FILE = "tilt.html"


class TiltPage(Output):
    """Write what a crew's tilt test says: how far the rod may lean, and why, with its plots.

    Examples
    --------
    >>> TiltPage().name
    'tilt'
    """

    name: ClassVar[str] = "tilt"
    files: ClassVar[Mapping[str, str]] = {FILE: "how far the rod may lean, by the crew's tilt test"}
    format: ClassVar[Format | None] = Format(
        title="page of a tilt test in one file",
        keeps="the test’s shots, the model and its bands",
        loses="everything but the tilt test",
    )

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write ``tilt.html`` into `folder`.

        Parameters
        ----------
        results : Results
            With the layers of the step tilt-study; without a test in them the page says so.
        folder : path
            An existing folder.

        Returns
        -------
        tuple of str
            Names of the files written.
        """
        Path(folder, FILE).write_text(page(results), encoding="utf-8", newline="\n")
        return (FILE,)


def page(results: Results) -> str:
    """Write the whole page; the same text for the same results."""
    layers = results.layers
    body = [_head(results)]
    if "tilt_test" not in layers or not len(layers["tilt_test"]):
        body.append('<p class="conclusion">This job has no shots of a tilt test.</p>')
    elif not len(layers["tilt_pairs"]):
        body += [_conclusion(layers["tilt_test"].iloc[0]), _plan(layers)]
    else:
        test = layers["tilt_test"].iloc[0]
        body += [*_learned(layers, test), _plan(layers), _setting(test)]
    style = (resources.files("geoqa.present.tilt") / "static" / "tilt.css").read_text(encoding="utf-8")
    head = (
        '<meta charset="utf-8">\n<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(results.title.name)} – tilt test</title>\n<style>\n{style}</style>"
    )
    caution = f'<footer class="quiet"><p>{escape(words.CERTIFICATION)}</p></footer>'
    whole = "\n".join(["<main>", *body, caution, "</main>"])
    return f'<!doctype html>\n<html lang="en">\n<head>\n{head}\n</head>\n<body>\n{whole}\n</body>\n</html>\n'


def _head(results: Results) -> str:
    title = results.title
    said = " · ".join(part for part in (title.revision, title.date, title.client) if part)
    lines = [f"<h1>{escape(title.name)}</h1>", f"<p>{escape(said)}</p>"]
    if title.preliminary:
        lines.append(f'<p class="banner">{escape(words.PRELIMINARY)}</p>')
    else:
        lines.append(f"<p>Reviewed by {escape(title.reviewed_by)} on {escape(title.reviewed_on)}</p>")
    lines.append(f'<p class="quiet">{escape(results.layers.frame.describe())}</p>')
    return "<header>\n" + "\n".join(lines) + "\n</header>"


def _conclusion(test: "pd.Series") -> str:
    return f'<p class="conclusion">{escape(test["conclusion"])}</p>'


def _learned(layers: Layers, test: "pd.Series") -> list[str]:
    unit, pairs, classes = layers.frame.unit, layers["tilt_pairs"], layers["tilt_classes"]
    parts = [_conclusion(test), _tiles(test, unit)]
    if len(layers["tilt_limits"]):
        parts.append("<h2>How far may the rod lean?</h2>")
        parts.append(
            "<p>Largest tilt from plumb at which a shot still proves the tolerance at 95 %, if the work is exactly "
            "right (zero deviation), and if it uses up half of the tolerance. <b>≥</b>: proven up to the largest tilt "
            "tested. Cautious: with shift and scatter together at the upper end of what the test leaves open (95 %), "
            "and so also with biases too small to be told. Set right: once the biases found here are gone.</p>"
        )
        parts.append(tables.limits_table(layers["tilt_limits"], unit))
    parts.append("<h2>Round the plumb shot</h2>")
    parts.append(
        "<p>Every tilted shot minus the mean plumb shot of its point. Arrowheads point the way the rod leaned, from "
        "tip to antenna. Each ellipse holds the next shot of its class of tilt with 95 %.</p>"
    )
    parts.append(
        f'<div class="side"><figure>{scatter(pairs, classes, unit)}</figure>'
        f"<div>{_key(pairs, classes)}<figure>{rose(pairs)}</figure>"
        '<p class="quiet">Rose of lean: shots by the way the rod leaned.</p></div></div>'
    )
    parts += _against_tilt(layers, test)
    parts += ["<h2>By class of tilt</h2>", tables.class_table(classes, unit)]
    parts += ["<h2>What was learned</h2>", tables.model_table(layers["tilt_model"], unit)]
    return parts


def _tiles(test: "pd.Series", unit: LengthUnit) -> str:
    rod = "not in the log"
    if np.isfinite(test["rod_low"]):
        ends = dict.fromkeys(words.number(test[each], 3) for each in ("rod_low", "rod_high"))
        rod = f"{' to '.join(ends)} {unit.name}"
    shown = (
        (f"{test['tilted_shots']}", "tilted shots"),
        (f"{test['plumb_shots']}", "plumb shots"),
        (f"{test['points']}", "points, by session"),
        (f"{test['tilt_low']:.0f}° to {test['tilt_high']:.0f}°", "tilt tested"),
        (rod, "rod tested"),
        (f"{test['left_out']}", "shots left out"),
    )
    return f'<div class="tiles">{"".join(f"<div><b>{escape(a)}</b><span>{b}</span></div>" for a, b in shown)}</div>'


def _key(pairs: "pd.DataFrame", classes: "pd.DataFrame") -> str:
    rows = []
    for row in classes.to_dict("records"):
        mine = pairs[(pairs["tilt"] >= row["low"]) & (pairs["tilt"] < row["high"])]
        sign = f'<path class="mark {shade(classes, row["low"])}" d="M13 1L20 13L13 10L6 13Z"/>'
        rows.append(
            f'<li><svg viewBox="0 0 26 14" aria-hidden="true">{sign}</svg>'
            f"{mine['tilt'].min():.0f}° to {mine['tilt'].max():.0f}°, {words.many(row['shots'], 'shot')}</li>"
        )
    plumb = '<circle class="plumb" cx="13" cy="7" r="4.5"/>'
    rows.append(f'<li><svg viewBox="0 0 26 14" aria-hidden="true">{plumb}</svg>mean plumb shot</li>')
    return f'<ul class="key">{"".join(rows)}</ul>'


def _against_tilt(layers: Layers, test: "pd.Series") -> list[str]:
    unit, pairs, classes = layers.frame.unit, layers["tilt_pairs"], layers["tilt_classes"]
    parts = ["<h2>Error against tilt</h2>"]
    panels: tuple[Panel, ...] = PANELS if test["with_azimuths"] else BY_SIZE
    if test["with_azimuths"]:
        parts.append(
            "<p>Line: what the biases found here do. Band: where 95 % of shots fall by the fitted scatter. Dashed: the "
            "same with the upper end of that scatter's own band. n is the number of shots behind each class.</p>"
        )
    else:
        pairs = pairs.assign(size_h=np.hypot(pairs["difference_e"], pairs["difference_n"]))
        parts.append(
            "<p>The log has no azimuths of the lean: only the sizes of the differences can be told, not whether "
            "heading, angle or rod are wrong, and no curve is fitted. n is the number of shots of each class.</p>"
        )
    for panel in panels:
        drawn = error_plot(panel, pairs, layers["tilt_curve"], classes, float(test["tilt_high"]), unit)
        parts.append(f"<figure>{drawn}</figure>")
    return parts


def _plan(layers: Layers) -> str:
    return "<h2>What to test next</h2>\n" + tables.plan_list(layers["tilt_plan"])


def _setting(test: "pd.Series") -> str:
    if not test["setting"]:
        return ""
    return (
        "<h2>To use this in a job</h2>\n<p>Write these lines into the job file. Biases that were found are counted as "
        "uncertainty until they are set right, and so is what the test leaves open of scatter and biases. geoqa never "
        "takes them over by itself.</p>\n"
        f'<pre tabindex="0">{escape(test["setting"])}</pre>'
    )
