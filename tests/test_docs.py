"""Pages in docs that are made from the code are what the code says today."""

import os
import re
from pathlib import Path

import click
import pytest

import geoqa
from geoqa.cli import COMMANDS, main
from geoqa.contract.checks import every_check
from geoqa.contract.explain import RULE, SUBJECTS, felt_in_words, limits_in_words
from geoqa.model.reasons import SHARED
from geoqa.model.tables.columns import PLACED, TABLES

DOCS = Path(__file__).resolve().parent.parent / "docs"


def held(name: str, text: str) -> None:
    path = DOCS / name
    if os.environ.get("GEOQA_WRITE_DOCS"):
        path.write_text(text, encoding="utf-8", newline="\n")
    assert path.read_text(encoding="utf-8") == text, f"docs/{name} is old: GEOQA_WRITE_DOCS=1 pytest tests/test_docs.py"


def test_the_page_of_tables_is_the_list_of_columns():
    parts = [
        "# Tables and columns\n\nMade from `geoqa/model/tables/columns.py`. `job` is the linear unit of the job's "
        "frame; `quantity` is decided by the row.\n"
    ]
    for name, columns in TABLES.items():
        placed = f" (geometry: 2D {PLACED[name]})" if name in PLACED else ""
        rows = [
            f"| `{each.name}` | {each.dtype} | {each.unit or '–'} | {each.meaning} | {each.null} |" for each in columns
        ]
        parts.append(
            "\n".join(
                [
                    f"## {name}{placed}\n",
                    "| column | dtype | unit | meaning | null |",
                    "|---|---|---|---|---|",
                    *rows,
                    "",
                ]
            )
        )
    held("columns.md", "\n".join(parts))


def sentence(text: str) -> str:
    return text if text.endswith((".", "?")) else f"{text}."


def test_the_page_of_checks_is_what_they_declare():
    parts = [
        "# Checks\n\nMade from the declared checks (`geoqa/contract/`, entry points `geoqa.checks`); a check from "
        "another package is declared the same way and explained by `geoqa explain NAME`.\n\n"
        f"{RULE}\n"
    ]
    for check in every_check().values():
        facts = [
            ("asks about", SUBJECTS[check.subject]),
            ("judges", f"{check.quantity}{', a distance in plan without a sign' * check.radial}"),
            ("says", " / ".join(check.directions) if check.directions else "the number alone"),
            ("limit", limits_in_words(check)),
            ("how it is judged", f"{check.judged} {felt_in_words(check)}"),
            ("cannot show", check.cannot_show),
            ("where one shot cannot decide", check.better),
            ("source", sentence(check.source)),
        ]
        rows = [f"| {name} | {text} |" for name, text in facts]
        own = [f"| `{each.name}` | {each.text} | {each.remedy or '–'} |" for each in check.reasons]
        parts.append(
            "\n".join(
                [f"## {check.title} (`{check.name}`)\n", check.compared, "", "| | |", "|---|---|", *rows, ""]
                + (["| its own reason | meaning | what helps |", "|---|---|---|", *own, ""] if own else [])
            )
        )
    shared = [f"| `{each.name}` | {each.text} | {each.remedy or '–'} |" for each in SHARED]
    parts.append(
        "\n".join(
            [
                "## Reasons that every check may give\n",
                "| reason | meaning | what helps |",
                "|---|---|---|",
                *shared,
                "",
            ]
        )
    )
    held("checks.md", "\n".join(parts))


def test_the_schema_of_job_files_is_that_of_the_installed_plugins():
    from geoqa.job.document.schema import schema_text

    held("job.schema.json", schema_text())


def test_the_page_of_formats_is_the_record_beside_each_reader_and_writer():
    from geoqa.contract.formats import UNSAID, every_format, format_page

    ours = [each for each in every_format() if each.package.startswith("geoqa")]
    assert not [each.names for each in ours if UNSAID in (each.keeps, each.loses)]
    held("formats.md", format_page(ours))


FOR = {
    "Jobs": ("run", "check", "load", "Job", "Results"),
    "Tables in memory": ("assess",),
    "Beside lines and points": ("station_offset", "match", "match_points", "deviations", "design_elevation"),
    "Judging": ("judge", "judge_radial", "runs", "coverage", "tolerance_bands"),
    "Control, causes, precision": (
        "control_residuals", "site_fit", "diagnose", "repeat_statistics", "tilt_study",
    ),
    "Frames": ("convert", "frame_candidates", "combined_factor"),
    "Steps": ("steps", "Layers", "Step", "default_steps", "plan", "execute"),
    "Quantities and errors": ("Length", "Slope", "GeoqaError"),
}  # fmt: skip
"""What the page of functions shows, by what a reader is after."""


def test_the_page_of_functions_names_every_public_name():
    assert sorted(name for names in FOR.values() for name in names) == [
        name for name in sorted(geoqa.__all__) if not name.startswith("_")
    ]
    parts = [
        "# Functions\n\nWhat `import geoqa` offers, made from the docstrings; `help(geoqa.judge)` says the same. "
        "The [Cookbook](cookbook.md) has recipes. Of the other public names, `geoqa.checks` and `geoqa.testing`, "
        "[A check of your own](outside_check.md) shows the use.\n"
    ]
    for title, names in FOR.items():
        shown = "\n\n".join(f"::: geoqa.{name}" for name in names)
        parts.append(f"## {title}\n\n{shown}\n")
    held("api.md", "\n".join(parts))


def test_the_page_of_commands_is_their_help():
    parts = [
        "# Commands\n\nWhat each says with `--help`. They end with 0 where nothing is out, undecided or missing; "
        "1 findings, or something to do; 2 usage or job file; 3 data, frame or output folder refused; 4 our fault; "
        "130 stopped by hand.\n"
    ]
    top = click.Context(main, info_name="geoqa", **main.context_settings)
    for name in COMMANDS:
        command = main.get_command(click.Context(main), name)
        context = click.Context(command, info_name=name, parent=top, terminal_width=100, max_content_width=100)
        said = "\n".join(line.rstrip() for line in command.get_help(context).splitlines())
        parts.append(f"## geoqa {name}\n\n<!-- not run: help, made from the command -->\n```text\n{said}\n```\n")
    held("commands.md", "\n".join(parts))


@pytest.mark.parametrize("page", sorted(DOCS.glob("*.md")), ids=lambda page: page.name)
def test_no_table_of_a_page_is_cut_by_a_blank_line(page):
    lines = page.read_text(encoding="utf-8").splitlines()
    rows = [line.startswith("|") for line in lines]
    heads = [at for at, row in enumerate(rows) if row and not (at and rows[at - 1])]
    cut = [lines[at] for at in heads if not re.fullmatch(r"[|:\s-]+", lines[at + 1] if at + 1 < len(lines) else "")]
    assert cut == []
