"""What a file says about itself: project, frame, review, cautions and version, in plain words."""

from importlib.metadata import version

from geoqa.model.results import Results, Title
from geoqa.model.signs import SIGNS
from geoqa.model.tables.columns import SCHEMA_VERSION
from geoqa.model.tables.reported import TEXTS, shots_by_sign
from geoqa.model.words import BURIED, CERTIFICATION, PRELIMINARY
from geoqa.write.plain import as_text


def about(results: Results) -> dict[str, str]:
    """Everything a reader of a single file must know, as label and text, in reading order."""
    title, frame = results.title, results.layers.frame
    said = {
        "title": title.name,
        "revision": title.revision,
        "date": title.date,
        "client": title.client,
        "review": review(title),
        "frame": frame.describe(),
        "horizontal": frame.horizontal,
        "horizontal_name": frame.horizontal_name,
        "unit": frame.unit.name,
        "unit_name": frame.unit.full_name,
        "unit_metres": frame.unit.metres_exact,
        "vertical": frame.vertical or "",
        "vertical_name": frame.vertical_name or "not stated",
        "elevations": f"in {frame.unit.name}, like every length here",
        "realization": frame.realization or "",
        "epoch": "" if frame.epoch is None else repr(frame.epoch),
        "geoid": frame.geoid or "",
        "combined_factor": "" if frame.combined_factor is None else repr(frame.combined_factor),
        "ground_origin": "" if frame.ground_origin is None else _pair(frame.ground_origin),
        "ground_shift": _pair(frame.ground_shift) if any(frame.ground_shift) else "",
        "ground_reference": frame.ground_reference or "",
        **_counts(results),
        "caution": CERTIFICATION,
        "caution_buried": BURIED,
        **{f"title_note_{number}": note for number, note in enumerate(title.notes, 1)},
        **{f"note_{number}": note for number, note in enumerate(results.notes, 1)},
        "schema_version": str(SCHEMA_VERSION),
        "geoqa": geoqa_version(),
        "record": as_text(results.record, indent=None),
    }
    return {label: text for label, text in said.items() if text}


def _counts(results: Results) -> dict[str, str]:
    """What is reported, and shots by the worst of it, in the words of every other output."""
    reported = results.reported["verdict"].value_counts()
    signs = shots_by_sign(results.layers)
    return {
        "findings": ", ".join(f"{reported.get(verdict, 0)} {sign.text}" for verdict, sign in SIGNS.items()),
        "shots": ", ".join(f"{count} {TEXTS[sign]}" for sign, count in signs.items()),
    }


def review(title: Title) -> str:
    """Review state in words: preliminary until the job records who reviewed it and when."""
    return PRELIMINARY if title.preliminary else f"reviewed by {title.reviewed_by} on {title.reviewed_on}"


def _pair(place: tuple[float, float]) -> str:
    return f"E {place[0]!r} N {place[1]!r}"


def geoqa_version() -> str:
    """Version of the installed geoqa."""
    return version("geoqa-survey")
