"""How a result was made: inputs with hashes, settings, steps, versions. No clock, host, user or absolute path."""

import hashlib
import json
import platform
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from geoqa import plugins
from geoqa.job.document.load import LoadedJob
from geoqa.job.inputs.intake import Intake
from geoqa.job.plan import Plan
from geoqa.model.photos import Photos
from geoqa.model.tables.columns import SCHEMA_VERSION
from geoqa.model.tables.in_rows import in_rows
from geoqa.version import VERSION

_PACKAGES = (
    "numpy",
    "scipy",
    "pandas",
    "geopandas",
    "shapely",
    "pyproj",
    "pyogrio",
    "fiona",
    "rasterio",
    "folium",
    "ezdxf",
    "openpyxl",
    "pyarrow",
    "pydantic",
)

LAST_DIGITS = (
    "may differ on another processor, and with other versions of numpy and scipy, which add up in another order; "
    "geoqa verify names the files in which they do"
)
"""Said in every record, for whoever makes the result again elsewhere."""


def make_record(loaded: LoadedJob, intake: Intake, done: Plan, photos: Photos | None = None) -> dict[str, Any]:
    """Everything that decided the result, or that it links, JSON-ready."""
    sources = intake.layers["sources"].drop(columns=["detected"]).astype(object)
    pictures = photos.hashes.items() if photos is not None else ()
    return {
        "schema_version": SCHEMA_VERSION,
        "geoqa": VERSION,
        "job": {
            "file": loaded.name,
            "sha256": hashlib.sha256(loaded.text.encode("utf-8")).hexdigest(),
            "text": loaded.text,
        },
        "frame": intake.layers.frame.facts(),
        "inputs": [
            *({key: value for key, value in row.items() if value == value} for row in in_rows(sources)),
            *({"source": path, "role": "photo", "path": path, "sha256": digest} for path, digest in pictures),
        ],
        "rule_sets": [
            {
                "name": rules.name,
                "title": rules.title,
                "edition": rules.edition,
                "date": str(rules.date),
                "verified": rules.verified,
                "kinds": kinds,
                "file": rules.file,
                "sha256": rules.sha256,
            }
            for rules, kinds in loaded.job.rules_in_force()
        ],
        "steps": [
            {
                "step": step.name,
                "from": plugins.owner("steps", step.name) if step.name in plugins.declared("steps") else "",
                "options": json.loads(step.model_dump_json()),
            }
            for step in done.order
        ],
        "left_out": {name: list(needs) for name, needs in sorted(done.lacking.items())},
        "evidence": list(intake.evidence),
        "troubles": [*intake.asked, *intake.troubles],
        "versions": versions(_PACKAGES),
        "last_digits": LAST_DIGITS,
    }


def versions(packages: Iterable[str]) -> Mapping[str, str]:
    """Installed versions, of Python and of the packages named."""
    found = {"python": platform.python_version()}
    for name in packages:
        try:
            found[name] = _version(name)
        except PackageNotFoundError:
            continue
    return found


@cache
def _version(package: str) -> str:
    return version(package)
