"""summary.json: counts and headline, with the title and the frame they belong to."""

import json
from pathlib import Path
from typing import Any, ClassVar

from geoqa.errors import OutputError
from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.model.tables.columns import SCHEMA_VERSION
from geoqa.write.about import geoqa_version, review
from geoqa.write.plain import as_text, plain
from geoqa.write.readback import opening_again

FILE = "summary.json"


class Summary(Output):
    """The results' summary as one JSON file, for programs and for batches of jobs."""

    name: ClassVar[str] = "summary"
    format: ClassVar[Format | None] = Format(
        title="JSON of the summary",
        keeps="counts, headline, title and frame",
        loses="everything a row would be needed for",
    )

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write ``summary.json`` into `folder`."""
        ours = {
            "schema_version": SCHEMA_VERSION,
            "geoqa": geoqa_version(),
            "title": vars(results.title),
            "review": review(results.title),
            "frame_facts": results.layers.frame.facts(),
            "notes": results.notes,
        }
        if clash := sorted(set(ours) & set(results.summary)):
            raise OutputError(f"The summary may not hold {clash}; those names belong to the file. Rename them.")
        text = as_text({**ours, **plain(results.summary)}) + "\n"
        Path(folder, FILE).write_text(text, encoding="utf-8", newline="\n")
        return (FILE,)

    @opening_again
    def read_back(self, results: Results, folder: Path) -> dict[str, Any]:
        """Read the file with a strict parser and compare the summary in it."""
        found = json.loads(Path(folder, FILE).read_text(encoding="utf-8"), parse_constant=_refuse)
        for name, value in plain(results.summary).items():
            if found.get(name) != value:
                raise OutputError(f"{FILE} gives back another '{name}' than the results hold; do not use it.")
        return {FILE: {"values": len(results.summary)}}


def _refuse(constant: str) -> None:
    raise OutputError(f"{FILE} holds {constant}, which is not JSON; do not use it.")
