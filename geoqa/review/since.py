"""What changed since the round that a job names as the one before, told while its own round is being made."""

import json
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from geoqa import plugins
from geoqa.job.earlier import RECORD
from geoqa.model.results import Results
from geoqa.review.rounds import STATES, compare

TABLES = "csv"
"""The writer whose tables `compare` reads."""


def since(results: Results, before: Path) -> dict[str, Any]:
    """Compare results with the output folder of the round before, by what `geoqa compare` does with two folders.

    Parameters
    ----------
    results : Results
        Of the round that is being made.
    before : path
        Output folder of the other.

    Returns
    -------
    dict
        ``states``: numbers of items by their state in words, what needs a reader most first; ``numbers``, ``same``,
        ``new_shots`` and ``shots`` as in `Compared`.

    Raises
    ------
    OutputError
        The folder is none of a run, or the rounds are in different systems or units.
    """
    with TemporaryDirectory() as folder:
        now = Path(folder)
        plugins.load("writers", TABLES)().write(results, now)
        (now / RECORD).write_text(json.dumps({**results.record, "outputs": {}}), encoding="utf-8")
        found = compare([before, now])
    states = {said: [each.item for each in found.of(state)] for state, said in STATES.items()}
    return {
        "states": {said: items for said, items in states.items() if items},
        "numbers": found.numbers,
        "same": found.same,
        "new_shots": found.new_shots,
        "shots": found.shots,
    }
