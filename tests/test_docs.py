"""Pages in docs that are made from the code are what the code says today."""

import os
from pathlib import Path

from geoqa.model.columns import PLACED, TABLES

DOCS = Path(__file__).resolve().parent.parent / "docs"


def held(name: str, text: str) -> None:
    path = DOCS / name
    if os.environ.get("GEOQA_WRITE_DOCS"):
        path.write_text(text, encoding="utf-8", newline="\n")
    assert path.read_text(encoding="utf-8") == text, f"docs/{name} is old: GEOQA_WRITE_DOCS=1 pytest tests/test_docs.py"


def test_the_page_of_tables_is_the_list_of_columns():
    parts = [
        "# Tables and columns\n\nMade from `geoqa/model/columns.py`. `job` is the linear unit of the job's frame; "
        "`quantity` is decided by the row.\n"
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


def test_the_schema_of_job_files_is_that_of_the_installed_plugins():
    from geoqa.job.schema import schema_text

    held("job.schema.json", schema_text())
