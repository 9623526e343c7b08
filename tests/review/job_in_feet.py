"""The curb and its valves in US survey feet, in another zone, with other names and codes."""

import re

from tests.review.job_of_rounds import write as write_in_metres

WORDS = (
    (r"\b500(\d{3}\b)", r"2300\1"),
    (r"\b4500(\d{3}\b)", r"10000\1"),
    ("EPSG:32614", "EPSG:2277"),
    (r'"0\.05 m"', '"0.05 ftUS"'),
    (r'"0\.10 m"', '"0.10 ftUS"'),
    (r'name = "A curb"', 'name = "Kerb, east"'),
    (r"\bC-1\b", "EAST-KERB"),
    (r"\bV-(\d)", r"GATE \1"),
    (r"\bCRB\b", "TBC"),
    (r"\bVLV\b", "WV"),
    (r"\bM1\b", "BM 12"),
)


def in_feet(text):
    for old, new in WORDS:
        text = re.sub(old, new, text)
    return text


def write(folder, files, **options):
    """Write the job of a round; returns its job file."""
    job = write_in_metres(folder, files, **options)
    for path in folder.iterdir():
        if path.is_file() and path.suffix in (".csv", ".geojson", ".toml"):
            path.write_text(in_feet(path.read_text("utf-8")), "utf-8")
    return job
