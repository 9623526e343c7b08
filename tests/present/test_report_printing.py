"""The report on paper: asked of a browser that is there, refused before the run where none is."""

import pytest
from pydantic import ValidationError

from geoqa.errors import OutputError
from geoqa.present.report import printing
from geoqa.present.report.page import ReportPage


def test_without_a_browser_a_job_that_asks_for_paper_is_refused_before_it_runs(monkeypatch, tmp_path):
    monkeypatch.setattr(printing.shutil, "which", lambda name: None)
    with pytest.raises(ValidationError, match=r"print report\.html from a browser instead"):
        ReportPage(pdf=True)
    assert ReportPage().pdf is False  # the page itself needs none
    with pytest.raises(OutputError, match="no browser"):
        printing.printed(tmp_path / "report.html", "")


def test_a_browser_that_prints_nothing_is_told_of(monkeypatch, tmp_path):
    monkeypatch.setattr(printing.shutil, "which", lambda name: "/bin/true")
    with pytest.raises(OutputError, match="ended without a file"):
        printing.printed(tmp_path / "report.html", "")


def test_a_browser_that_hangs_is_stopped(monkeypatch, tmp_path):
    program = tmp_path / "slow"
    program.write_text("#!/bin/sh\nsleep 60\n")
    program.chmod(0o755)
    monkeypatch.setattr(printing.shutil, "which", lambda name: str(program))
    monkeypatch.setattr(printing, "LONGEST", 0.2)
    with pytest.raises(OutputError, match="not printed within"):
        printing.printed(tmp_path / "report.html", "")


@pytest.mark.parametrize(("date", "kept"), [("2026-05-15", b"20260515000000"), ("", b"19800101000000")])
def test_the_paper_bears_the_date_of_the_job(date, kept):
    content = b"x /CreationDate (D:20300101121314+00'00')\n/ModDate (D:20300101121314+00'00') y"
    dated = printing.dated(content, date)
    assert dated.count(kept) == 2
    assert len(dated) == len(content)


@pytest.mark.browser
@pytest.mark.long
@pytest.mark.skipif(printing.browser() is None, reason="no browser that prints is on the path")
def test_a_report_is_printed_on_letter_paper_and_the_same_each_time(street, tmp_path):
    assert ReportPage(pdf=True).write(street, tmp_path) == ("report.html", "report.pdf")
    paper = (tmp_path / "report.pdf").read_bytes()
    assert paper.startswith(b"%PDF")
    assert b"/MediaBox [0 0 612 792]" in paper
    assert b"D:20260319000000" in paper
    ReportPage(pdf=True).write(street, tmp_path)
    assert (tmp_path / "report.pdf").read_bytes() == paper
