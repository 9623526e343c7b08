"""The report is read back: what it prints is what the tables hold, in the words of every other output."""

import html
import math
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.checks import check_named
from geoqa.contract.items import headline
from geoqa.contract.meanings import explain_any
from geoqa.model import words
from geoqa.model.signs import SIGNS
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.present.report.control import accuracy, control
from geoqa.present.report.items import items
from geoqa.present.report.metadata import every_item, metadata
from geoqa.present.report.page import page
from geoqa.present.report.plots import BARS, Along, Spread, histogram, profile
from geoqa.present.report.red_line import red_line


class Read(HTMLParser):
    """Tables by name and row, texts by class, and every tag of a page."""

    def __init__(self, text):
        super().__init__()
        self.tables, self.tags, self.heads, self._row, self._cell, self.text = {}, [], [], None, None, []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        held = dict(attributes)
        self.tags.append((tag, held))
        if tag == "table":
            self._table = self.tables.setdefault(held["data-table"], {})
        elif tag == "tr":
            self._row = self._table.setdefault(held.get("data-row", f"row {len(self._table)}"), [])
        elif tag in ("td", "th"):
            self._cell = []
        elif tag == "br":
            self.handle_data(" ")

    def handle_endtag(self, tag):
        if tag in ("td", "th"):
            self._row.append(" ".join("".join(self._cell).split()))
            self._cell = None
        elif tag == "p" and self._cell is not None:
            self._cell.append(" ")

    def handle_data(self, data):
        self.text.append(data)
        if self._cell is not None:
            self._cell.append(data)


def chapter(made, results):
    return Read("".join(made(results)))


def with_tables(results, **tables):
    return replace(results, layers=Layers({**dict(results.layers), **tables}, frame=results.layers.frame))


@pytest.fixture(scope="module")
def read(street):
    return Read(page(street))


def test_headline_and_counts_are_those_of_the_findings(street, read):
    assert headline(street.layers) in "".join(read.text)
    counts = street.reported["verdict"].value_counts()
    for verdict in SIGNS:
        assert int(read.tables["counts"][verdict][2]) == counts.get(verdict, 0)


def test_every_finding_that_is_out_stands_in_the_list_with_its_number_and_its_limit(street, read):
    unit = street.layers.frame.unit.name
    out = street.reported[street.reported["verdict"] == "OUT"]
    assert len(out) > 3
    listed = {**read.tables["items-work"], **read.tables["items-evidence"], **read.tables["items-survey"]}
    for row in out.to_dict("records"):
        cells = listed[row["finding"]]
        check = check_named(row["check"])
        assert words.judged(row, check, unit) in cells[2]
        assert words.limits(row["lower"], row["upper"], check, "length", unit).removeprefix("within ") in cells[2]
    assert set(listed) - {"row 0"} == set(out["finding"])


def test_what_is_open_is_listed_with_its_reason(street, read):
    mine = street.reported[street.reported["verdict"].isin(("UNDECIDED", "NO_DATA"))]
    listed = read.tables["open-work"]
    for row in mine.head(20).to_dict("records"):
        assert check_named(row["check"]).reason(row["why"]).text in listed[row["finding"]][3]


def test_what_a_reviewer_decided_stands_beside_the_item(street):
    findings = street.findings.copy()
    out = findings.index[(findings["verdict"] == "OUT") & findings["run"].isna() & (findings["check"] == "offset")]
    findings["item"] = None
    findings.loc[out[0], "item"] = "4"
    findings = findings.astype({"item": "str"})
    row = {"item": "4", "state": "open", "chapter": "work", "verdict": "OUT", "finding": findings["finding"][out[0]],
           "check": "offset", "subject": "CTB-L", "why": "proven", "findings": 1, "members": "", "decision": "fix",
           "decided_on": "2026-05-20"}  # fmt: skip
    told = with_tables(street, findings=findings, items=pd.DataFrame([row]))
    cells = chapter(items, told).tables["items-work"][row["finding"]]
    assert cells[0] == "4 ▲ outto be fixed 2026-05-20"  # a line of its own
    assert "next: " in cells[3]


def test_counts_by_kind_add_up_to_what_is_reported(street, read):
    rows = [cells for key, cells in read.tables["by-kind"].items() if key != "row 0"]
    for place, verdict in enumerate(SIGNS, 2):
        total = sum(int(cells[place] or 0) for cells in rows)
        assert total == (street.reported["verdict"] == verdict).sum()


def test_text_of_a_file_is_shown_and_never_obeyed(street, lines, read):
    assert not [tag for tag, _ in read.tags if tag in ("script", "img", "iframe", "link", "object")]
    findings = street.findings.copy()
    findings.loc[findings["verdict"] == "OUT", ["label", "reference", "remedy"]] = lines.hostile
    named = replace(with_tables(street, findings=findings), title=replace(street.title, name=lines.hostile))
    text = page(named)
    told = Read(text)
    assert not [tag for tag, _ in told.tags if tag in ("script", "img")]
    assert "".join(told.text).count("window.harm = 1") > 6  # as text
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL).group(1)
    assert "window.harm" not in style


@pytest.mark.long
def test_it_certifies_nothing_and_leaves_the_signature_empty(street, reviewed_street):
    for results in (street, reviewed_street):
        text = page(results)
        said = "".join(Read(text).text).lower()
        assert "complian" not in said
        assert not re.search(r"\b(we|hereby|i) certif", said)
        block = text[text.index('<div class="signature">') :]
        block = block[: block.index("</section>")]
        assert re.findall(r"<span>([^<]+)</span>", block) == [
            "Name", "Licence number and state", "Date", "Statement of the licensee", "Signature and seal"
        ]  # fmt: skip
    assert words.PRELIMINARY in page(street)
    assert words.PRELIMINARY not in page(reviewed_street)


def test_everything_a_rule_asks_for_is_stated_or_named_as_missing(street):
    """Items of 21 NCAC 56.1607: class, accuracy, procedure, dates, datum and epoch, control, geoid, factor, units."""
    asked = {each.name: each for each in every_item(street)}
    assert list(asked) == [
        "Class of survey", "Positional accuracy", "Field procedure", "Dates of survey", "Horizontal datum and epoch",
        "Vertical datum", "Fixed control", "Geoid model", "Combined grid factor", "Units",
    ]  # fmt: skip
    assert all(each.stated or each.missing for each in asked.values())
    assert "realization and epoch" in asked["Horizontal datum and epoch"].missing
    assert asked["Geoid model"].missing
    assert asked["Dates of survey"].stated.startswith("2026-03-18")
    lead = "".join(chapter(metadata, street).text)
    assert f"Missing in whole or in part: {sum(bool(each.missing) for each in asked.values())} of 10" in lead


@pytest.mark.parametrize(
    ("key", "value", "name"), [("geoid", "GEOID18", "Geoid model"), ("epoch", 2010.0, "Horizontal")]
)
def test_what_the_job_states_is_missing_no_more(street, key, value, name):
    frame = replace(street.layers.frame, **{key: value, "realization": "NAD83(2011)"})
    told = replace(street, layers=Layers(dict(street.layers), frame=frame))
    item = next(each for each in every_item(told) if each.name.startswith(name))
    assert not item.missing
    assert str(value) in item.stated


def accuracy_of(allowed):
    rows = [
        {"standard": "NSSDA, 95 %", "component": each, "allowed": allowed, "value": 0.1234 if allowed else math.nan,
         "rmse": 0.05, "points": 24, "reason": "" if allowed else "1 check point; 20 are needed"}
        for each in ("horizontal", "vertical")
    ]  # fmt: skip
    return conform("accuracy", pd.DataFrame(rows))


def test_accuracy_is_stated_only_where_a_standard_lets_it_be(street):
    for allowed in (True, False):
        told = with_tables(street, accuracy=accuracy_of(allowed))
        cells = chapter(accuracy, told).tables["accuracy"]["NSSDA, 95 % vertical"]
        assert ("0.123 ft" in cells[2]) is allowed
        assert ("may not be stated" in cells[2]) is not allowed
        assert (
            bool(next(each for each in every_item(told) if each.name == "Positional accuracy").missing) is not allowed
        )


def test_residuals_are_those_of_the_control_table(street):
    shots = street.shots[street.shots["role"] == "check"]
    rows = [
        {"session": "A", "mark": f"CP-{n}", "shot_key": key, "time": time, "easting": 0.0123 * n, "northing": -0.0061,
         "elevation": 0.031, "horizontal": 0.014, "held": False, "independent": False, "limit_h": 0.1, "limit_v": 0.15,
         "left_out": "mark disturbed" if n == 2 else None, "left_out_elevation": None}
        for n, (key, time) in enumerate(zip(shots["shot_key"], shots["time"], strict=True), 1)
    ]  # fmt: skip
    axes = ("easting", "northing", "elevation")
    means = dict.fromkeys((f"mean_{axis}" for axis in axes), 0.01)
    spread = dict.fromkeys((f"rmse_{each}" for each in (*axes, "horizontal")), 0.02)
    by_session = {"session": "A", "shots": 2, "marks": 2, **means, **spread, "h_95": 0.03, "v_95": 0.04, "over_h": 0,
                  "over_v": 0, "outlying": "", "horizontal_says": "2 marks agree", "vertical_says": "2 marks agree",
                  "left_out": 1, "left_out_elevation": 0, "without": "C2"}  # fmt: skip
    by_mark = {
        "mark": "CP-1",
        "session": "A",
        "shots": 1,
        "left_out": 0,
        "left_out_elevation": 0,
        **means,
        "worst": 0.02,
    }
    told = with_tables(
        street,
        control_table=conform("control_table", pd.DataFrame(rows)),
        control_sessions=conform("control_sessions", pd.DataFrame([by_session])),
        control_residuals=conform("control_residuals", pd.DataFrame([by_mark])),
    )
    tables = chapter(control, told).tables
    for row in rows:
        cells = tables["control-checks"][row["shot_key"]]
        assert cells[4:7] == [words.number(row[axis], 3, signed=True) for axis in axes]
        assert (cells[-1] == "mark disturbed") is (row["mark"] == "CP-2")
    assert tables["control-sessions"]["A"][3:6] == ["+0.010"] * 3
    assert "No check on control" not in "".join(chapter(control, told).text)
    assert "No check on control" in "".join(chapter(control, street).text)


def matched(street, moved):
    """Shots of the street's inverts matched with their design, the second moved, the third not shot."""
    points = street.layers["design_points"]
    names = points["point"].tolist()[:2]
    keys = street.shots.loc[street.shots["kind"] == "invert", "shot_key"].tolist()[:2]
    shots = street.shots.set_index("shot_key")
    place = points.set_index("point").loc[names]
    table = pd.DataFrame({"shot_key": keys, "design": names, "chosen": True, "ambiguous": False})
    pinned = street.shots.copy()
    for axis, by in zip(("easting", "northing"), moved, strict=True):
        rows = [pinned.index[pinned["shot_key"] == key][0] for key in keys]
        pinned.loc[rows, axis] = place[axis].to_numpy() + np.array([0.0, by])
    return with_tables(street, point_matches=conform("point_matches", table), shots=pinned), names, shots.loc[keys]


def test_a_design_value_is_struck_only_where_the_record_differs(street):
    told, (same, moved), _ = matched(street, (3.25, -0.5))
    text = "".join(red_line(told))
    tables = Read(text).tables["red-line"]
    rows = {(cells[0], cells[1]): (cells, key) for key, cells in tables.items()}
    cells, _ = rows[f"invert {moved}", "position"]
    assert "dN -0.500" in cells[4]
    assert "dE +3.250" in cells[4]
    parts = re.findall(r"<tr data-row=[^>]*><td[^>]*>(.*?)</tr>", text)
    struck = {
        tuple(re.sub("<[^>]+>", "|", each).split("|")[:1]) for each in parts if "<del>" in each and "position" in each
    }
    assert (f"invert {moved}",) in struck
    assert (f"invert {same}",) not in struck


def test_a_point_that_nobody_shot_keeps_its_design_value_and_says_so(street):
    told, _, _ = matched(street, (0.0, 0.0))
    other = street.layers["design_points"]["point"].tolist()[2]
    cells = next(each for each in chapter(red_line, told).tables["red-line"].values() if each[0] == f"invert {other}")
    assert cells[3] == "no record: not measured"
    assert cells[2].endswith("D")


def test_a_value_under_an_open_blunder_is_no_record(street):
    told, names, _ = matched(street, (0.0, 0.0))
    findings = told.findings.copy()
    mine = (findings["check"] == "elevation") & (findings["subject"] == names[0])
    assert mine.sum() == 1
    findings.loc[mine, ["verdict", "why"]] = ["NO_DATA", "open-blunder"]
    cells = [each for each in chapter(red_line, with_tables(told, findings=findings)).tables["red-line"].values()
             if each[:2] == [f"invert {names[0]}", "elevation"]]  # fmt: skip
    assert len(cells) == 1
    assert cells[0][3].startswith("no record: a survey blunder")


@pytest.mark.parametrize(("rise", "off", "withheld"), [
    (0.5, math.nan, True), (math.nan, math.nan, True), (0.0, math.nan, False), (0.0, 0.2, True),
])  # fmt: skip
def test_a_shot_that_waits_gives_no_record_even_where_no_check_asks_about_it(street, rise, off, withheld):
    told, names, shots = matched(street, (0.0, 0.0))
    findings = told.findings[told.findings["subject"] != names[0]]  # no tolerance for its elevation
    cause = {"cause": "rod", "subject": "session A", "shot_key": shots.index[0], "sure": True, "holds": True,
             "shift_easting": 0.0, "shift_northing": 0.0, "shift_elevation": rise}  # fmt: skip
    doubt = {"shot_key": shots.index[0], "off_plan": math.nan, "off_elevation": off, "together_plan": 0.0,
             "together_elevation": 0.0, "widened": 1.0}  # fmt: skip
    held = with_tables(told, findings=findings, cause_shots=pd.DataFrame([cause]), survey_doubt=pd.DataFrame([doubt]))
    rows = {tuple(cells[:2]): cells for cells in chapter(red_line, held).tables["red-line"].values()}
    assert rows[f"invert {names[0]}", "elevation"][3].startswith("no record") is withheld
    assert not rows[f"invert {names[0]}", "position"][3].startswith("no record")
    assert not rows[f"invert {names[1]}", "elevation"][3].startswith("no record")


@pytest.mark.parametrize(("question", "withheld"), [("whole-feet", True), (None, False)])
def test_the_slope_of_a_pipe_whose_end_looks_misread_is_no_record(street, question, withheld):
    pipe = {"pipe": "P-1", "kind": "storm-top", "upper": "IN-1", "lower": "MH-1", "length": 20.0, "slope": 0.0429,
            "u_slope": 0.002, "design_slope": 0.01, "diameter": 1.0, "wall": 0.17, "material": "concrete",
            "why": ""}  # fmt: skip
    end = {"structure": "IN-1", "pipe": "P-1", "shot_key": "day1/I-001", "question": question}
    told = with_tables(street, pipes=pd.DataFrame([pipe]), structures=pd.DataFrame([end]))
    rows = {tuple(cells[:2]): cells for cells in chapter(red_line, told).tables["red-line"].values()}
    cells = rows["pipe P-1, IN-1 to MH-1", "slope"]
    assert cells[3].startswith("no record: the invert at IN-1 looks misread") is withheld
    assert ("4.29 %" in cells[3]) is not withheld
    assert rows["pipe P-1, IN-1 to MH-1", "size, material"][3].endswith("R")  # reported by others


def test_bars_of_a_histogram_hold_every_number():
    values = np.array([-0.5, -0.04, 0.0, 0.01, 0.02, 0.12, 0.4])
    verdicts = np.array(["OUT", "IN", "IN", "IN", "IN", "UNDECIDED", "OUT"], dtype=object)
    spread = Spread(title="curb: offset", unit="ft", values=values, verdicts=verdicts, lower=-0.1, upper=0.1)
    drawn = histogram(spread)
    heights = [float(each) for each in re.findall(r'<rect class="[A-Z_]+"[^>]*height="([0-9.]+)"', drawn)]
    one = min(heights)
    assert round(sum(heights) / one) == len(values)
    assert "n = 7; 2 beyond the ends" in drawn
    assert len(re.findall(r'<line class="limit"', drawn)) == 2
    assert drawn.count('class="OUT"') == 2
    assert BARS % 2 == 1


def test_a_side_without_a_limit_has_no_line():
    values = np.linspace(0.0, 0.3, 12)
    spread = Spread(title="rim: position", unit="ft", values=values, verdicts=np.full(12, "IN", dtype=object),
                    lower=-np.inf, upper=0.2)  # fmt: skip
    assert histogram(spread).count('class="limit"') == 1
    none = replace(spread, lower=math.nan, upper=math.nan)
    assert histogram(none).count('class="limit"') == 0


def test_a_profile_marks_each_shot_by_its_verdict():
    station = np.arange(1000.0, 1100.0, 10.0)
    design = 1460.0 - 0.01 * (station - 1000.0)
    measured = design + np.where(station == 1050.0, -0.3, 0.01)
    verdicts = np.where(station == 1050.0, "OUT", "IN").astype(object)
    u = np.full(10, 0.03)
    along = Along(title="curb-flow A: elevation", unit="ft", station=station, design=design, measured=measured, u=u,
                  lower=np.full(10, -0.08), upper=np.full(10, 0.08), verdicts=verdicts)  # fmt: skip
    drawn = profile(along)
    assert drawn.count('<polygon class="OUT"') == 2  # as elevation, and as deviation
    assert drawn.count('<circle class="IN"') == 18
    assert drawn.count('class="limit"') == 2
    assert "drawn" in drawn


def test_heads_repeat_and_pages_are_numbered_on_paper(street):
    text = page(street)
    assert page(street) == text  # the same results give the same text
    assert "size: letter" in text
    assert "counter(page)" in text
    assert "table-header-group" in text
    ids = re.findall(r'<section id="([^"]+)"', text)
    assert re.findall(r'<a href="#([^"]+)"', text) == ids
    assert len(ids) >= 12


def test_every_chapter_and_every_head_of_a_table_is_explained(street):
    text = page(street)
    heads = re.findall(r"<(?:th|h2|h3|caption)[ >].*?</(?:th|h2|h3|caption)>", text, re.DOTALL)
    said = {re.sub(r"<span class=\"(?:no|quiet)\">.*?</span>|<[^>]+>", "", head).strip() for head in heads}
    words_of = {html.unescape(re.sub(r" \((?:ft|UTC|the first .*)\).*$", "", each)) for each in said if each}
    plain = {
        "Contents", "Found, and allowed", "Is", "It is", "Shots, by the worst of theirs", "Sheet, revision, date",
        "Value is", "What and where", "What and where, worst first", "What is compared with what", "Which means",
        "Why not, and what was left out", "Why, what next", "First", "Last", "Length of lines shot", "File",
        "Shots: file, line, as read", "Held against", "Changed", "Was", "Why", "Mean Elev.",
    }  # fmt: skip
    without = sorted(each for each in words_of - plain if not explain_any(each))
    assert not without, ", ".join(without)


def test_behind_each_item_stand_its_shots_with_file_and_line(street, read):
    shots = street.shots.set_index("shot_key")
    findings = street.findings.set_index("finding")
    out = [name for name in read.tables["behind"] if name in findings.index]
    assert out
    assert set(findings.loc[out, "verdict"]) == {"OUT"}
    seen = 0
    for name in out:
        key, cell = findings.loc[name, "shot"], read.tables["behind"][name][2]
        if isinstance(key, str):
            assert f"line {shots.loc[key, 'line']}, " in cell
            assert shots.loc[key, "raw_easting"] in cell
            seen += 1
    assert seen
