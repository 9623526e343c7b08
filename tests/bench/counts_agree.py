"""What every output counts, held against the tables: the same things, with the same words, in all of them."""

import json
import re
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from click import unstyle

from geoqa.cli.terminal import summary
from geoqa.contract.causes import cause_named
from geoqa.contract.items import headline
from geoqa.model import words
from geoqa.model.signs import SIGNS
from geoqa.model.tables.finding import VERDICTS
from geoqa.model.tables.reported import NOT_CHECKED, UNASKED, shots_by_sign, signs_of_shots
from geoqa.model.vocabulary import NOW
from geoqa.present.day.page import page as day_page
from geoqa.present.map.content import content
from geoqa.present.map.curve import hilbert_order
from geoqa.present.map.places import worst_verdicts
from geoqa.write.about import about
from geoqa.write.cad.drawing import TILT_TEST, drawing_of
from geoqa.write.sheets.lists import findings_list

if TYPE_CHECKING:
    from geoqa.model.results import Results


def hold_counts(results: "Results") -> None:
    """Assert that summary, map, drawing, sheets, notebook and terminal count findings and shots alike."""
    findings = {sign: int((results.reported["verdict"] == sign).sum()) for sign in SIGNS}
    shots = shots_by_sign(results.layers)
    assert sum(findings.values()) == len(results.reported) < len(results.findings)
    assert sum(shots.values()) == len(results.shots)
    assert results.summary["reported"] == findings
    assert results.summary["shots_by_sign"] == shots

    page = json.loads(content(results).about)
    assert page["reported"] == findings
    assert page["signs"] == shots
    assert [sign["text"] for sign in page["verdicts"]] == [SIGNS[verdict].text for verdict in VERDICTS]
    assert _marks_of_map(results) == shots

    sheet = drawing_of(results, spacing=1.0, exaggeration=20)
    drawn = Counter(mark.verdict for mark in sheet.marks)
    undrawn = results.shots[["easting", "northing"]].isna().any(axis=1) | (results.shots["kind"] == TILT_TEST)
    assert sum(drawn.values()) + undrawn.sum() == len(results.shots)
    for sign, count in drawn.items():
        assert count == (signs_of_shots(results.findings, results.shots)[~undrawn] == sign).sum()
        ends = f"_{sign.replace('_', '-')}"
        assert all(ends in mark.layer for mark in sheet.marks if mark.verdict == sign)
    listed = Counter(findings_list(results)["said"])
    said = unstyle(summary(results, Path("nowhere")))
    told = about(results)
    for sign, count in findings.items():
        text = SIGNS[sign].text
        assert listed[text] == count
        assert re.search(rf" {count} findings? +{shots[sign]} shots? +{text}(: .*)?\n", said)
        assert f"{text}: {words.many(count, 'finding')}, {words.many(shots[sign], 'shot')}" in "\n".join(sheet.note)
        assert f"{count} {text}" in told["findings"]
        assert f"{shots[sign]} {text}" in told["shots"]
        cells = f"<td style='text-align:right'>{count}</td><td style='text-align:right'>{shots[sign]}</td>"
        assert cells in results._repr_html_()
    if shots[NOT_CHECKED]:
        assert re.search(rf" {shots[NOT_CHECKED]} shots? +{UNASKED}", said)
    _hold_headline(results, said, findings)


def _hold_headline(results: "Results", said: str, findings: dict[str, int]) -> None:
    """The sentence on top counts items, and what is open as the chapters below it do."""
    first = headline(results.layers)
    assert f"\n{first}\n" in said
    items = results.layers["items"]
    out = items[(items["state"] == "open") & (items["verdict"] == "OUT")]["chapter"].value_counts()
    told = {"place": "work", "reach": "evidence", "matter": "survey"}
    for word, chapter in told.items():
        found = re.search(rf"(\d+) {word}(s|es)?\b", first)
        assert (int(found[1]) if found else 0) == out.get(chapter, 0)
    for end, sign in (("cannot be decided", "UNDECIDED"), ("not judged", "NO_DATA")):
        found = re.search(rf"(\d+) numbers? (is|are)? ?{end}", first)
        assert (int(found[1]) if found else 0) == findings[sign]
    chapters = Counter()
    for line in re.findall(r"^(?:The work|What was not measured|The survey): (.*)$", said, flags=re.MULTILINE):
        for part in line.split(", "):
            sign = "UNDECIDED" if "undecided" in part else "NO_DATA" if "not judged" in part else "OUT"
            chapters[sign] += int(part.split()[0])
    assert chapters == Counter({sign: count for sign, count in findings.items() if sign != "IN" and count})


def hold_day_page(results: "Results") -> None:
    """Assert that the page of the day counts shots, things and what a blunder acts on as all others do."""
    text, items = day_page(results), results.layers["day_items"]
    assert f"{words.many(len(results.shots), 'shot was', 'shots were')} looked at" in text
    urgent = int((items["urgency"] == NOW).sum())
    lead = re.search(r"(\d+) things? to do before you leave", text)
    assert (int(lead[1]) if lead else 0) == urgent
    causes = results.layers["causes"]
    named = causes[(causes["explanation"] == 1) & (causes["status"] == "named")]
    for row in named.to_dict("records"):
        mine = items[items["title"] == cause_named(row["cause"]).title]
        assert int(row["shots"]) in mine["shots"].tolist()
        label = f"{cause_named(row['cause']).title}, {words.many(int(row['shots']), 'shot')}"
        assert results.reported["label"].str.startswith(label).any() or row["doubtful"]


def _marks_of_map(results: "Results") -> dict[str, int]:
    """How many shots the map draws with each sign, unpacked as the page unpacks them."""
    signs = signs_of_shots(results.findings, results.shots)
    order = hilbert_order(results.shots["easting"], results.shots["northing"])
    codes = worst_verdicts(results.findings, results.shots.iloc[order])
    names = [*VERDICTS, NOT_CHECKED]
    assert [names[code] for code in codes] == signs[order].tolist()
    return {**dict.fromkeys(names, 0), **Counter(names[code] for code in codes)}
