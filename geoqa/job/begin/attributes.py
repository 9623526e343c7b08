"""Which attribute of a vector file holds the kind, and which the name: told by what they hold."""

from collections import Counter
from dataclasses import replace

from geoqa.job.begin.kinds import kind_of
from geoqa.job.begin.listing import Found
from geoqa.model.source import Source
from geoqa.model.words import many

MOST_KINDS = 60
"""Different values of an attribute that may be kinds."""
FEW = 3
"""Features that may all be of different kinds, or all differ in name alone."""
LEAST_WORDS = 0.8
"""Share of the values that must hold a letter."""


def attributes_of(file: Found) -> tuple[Found, Source] | None:
    """The file with the attribute of its kinds, and of its names where one is different for each; None if none fits.

    A kind is a word that several features share, or that differs from feature to feature in a file of few.
    """
    best: tuple[tuple[int, int, float, int], str, Source] | None = None
    counts: dict[str, Counter[str]] = {}
    for order, name in enumerate(each for each in file.peek.columns if each):
        source = _with(file, {"kind_field": name})
        if source is None:
            continue
        counts[name] = kinds_in(source)
        score = _likeliness(counts[name])
        if score is not None and (best is None or (*score, -order) > best[0]):
            best = (*score, -order), name, source
    if best is None:
        return None
    _, kind, source = best
    options: dict[str, tuple[object, str]] = {
        "kind_field": (kind, f"{len(counts[kind])} different values on {many(sum(counts[kind].values()), 'feature')}")
    }
    options |= _naming(file, kind, counts)
    read = _with(file, {key: value for key, (value, _) in options.items()})
    return None if read is None else (replace(file, options=options), read)


def _likeliness(values: Counter[str]) -> tuple[int, int, float] | None:
    """How much the values of an attribute look like kinds; None where they are numbers, names or notes.

    Left and right of one thing are one kind. Several kinds speak for it, then words that are known.
    """
    total = sum(values.values())
    words = sum(count for value, count in values.items() if any(mark.isalpha() for mark in value))
    kinds = {kind_of(value) for value in values}
    numbered = len(kinds) == 1 and len(values) == total > FEW
    if not total or numbered or words < LEAST_WORDS * total or len(kinds) > min(MOST_KINDS, max(FEW, total // 2 + 1)):
        return None
    return int(len(kinds) > 1), -sum(each.isdigit() for each in kinds), total - len(kinds) / 2


def _naming(file: Found, kind: str, counts: dict[str, Counter[str]]) -> dict[str, tuple[object, str]]:
    """An attribute that is different for every feature, where there is one and the reader finds none by itself."""
    if "name" in file.peek.columns and _unique(counts.get("name", Counter())):
        return {}
    total = sum(counts[kind].values())
    own = [name for name, values in counts.items() if len(values) == total and _unique(values)]
    if own:
        return {"name_field": (own[0], "different for every feature")}
    if "name" in file.peek.columns:
        return {"name_field": ("", "the attribute 'name' repeats itself; features are numbered by kind")}
    return {}


def _unique(values: Counter[str]) -> bool:
    return bool(values) and max(values.values()) == 1


def _with(file: Found, options: dict[str, object]) -> Source | None:
    from geoqa import plugins

    suffix = file.path.suffix.lower().removeprefix(".")
    try:
        reader = plugins.load("readers", file.use or f"design.{suffix}").model_validate({"name_field": "", **options})
        source: Source = reader.read(file.path, source=file.path.stem)
    except Exception:  # whatever a format library raises over a strange file, it is the file
        return None
    return source


def kinds_in(source: Source) -> Counter[str]:
    """How many lines and points of each kind a design has."""
    found: Counter[str] = Counter()
    for name in ("design_lines", "design_points"):
        table = source.layers.get(name)
        if table is not None and "kind" in table:
            found.update(str(each) for each in table["kind"].dropna())
    return found
