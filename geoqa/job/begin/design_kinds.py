"""What each layer, block and attribute value of a design file may be as a kind, with counts and what it is told by."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from geoqa import plugins
from geoqa.errors import GeoqaError
from geoqa.job.begin.attributes import kinds_in
from geoqa.job.begin.comment import one_line
from geoqa.job.begin.kinds import kind_of
from geoqa.job.begin.listing import Found
from geoqa.model.kind_guess import guessed_kind
from geoqa.model.source import Source
from geoqa.model.words import many

TOLD_BY = ("layers", "blocks", "values")
"""Keys of a design table that say what a word stands for; by linetype or colour only a person asks."""
MOST_WORDS = 40
"""Words of one file that are listed; the count of the rest is told."""


@dataclass(frozen=True)
class KindGuess:
    """Kinds of one design file as they may be.

    Attributes
    ----------
    options : dict of str to dict
        Keys of the file's table, as they would be written.
    listed : tuple of str
        A line a word: how many lines and points, and what the guess is made of.
    source : Source or None
        The file read with them; None where its reader does not take them.
    """

    options: dict[str, dict[str, str]] = field(default_factory=dict)
    listed: tuple[str, ...] = ()
    source: Source | None = None


def kind_guess(file: Found, source: Source) -> KindGuess:
    """Guess the kinds of a design file that was read; a word nothing is known of keeps itself as its kind."""
    words = _words(file)
    if words:
        return _by_words(file, words)
    if "kinds" in type(file.reader()).model_fields and "element" in file.peek.columns:
        return _by_names(file, source)
    if "kinds" in type(file.reader()).model_fields:
        return _by_column(file, source)
    counts = kinds_in(source)
    key = "values" if "kind_field" in file.options or file.peek.columns != ("layer", "entity", "count") else "layers"
    mapped = {value: kind_of(value) for value in sorted(counts)}
    listed = [f"{one_line(value)}: {counts[value]}" for value in list(mapped)[:MOST_WORDS]]
    if all(value == kind for value, kind in mapped.items()):
        return KindGuess({}, tuple(listed))
    return KindGuess({key: mapped}, tuple(listed), _read(file, {key: mapped}))


def _by_column(file: Found, source: Source) -> KindGuess:
    """Guess the kinds of a table by what its column of kinds says."""
    counts: Counter[tuple[str, str]] = Counter((kind, form) for _, kind, form in _things(source))
    kinds: dict[str, str] = {}
    listed = []
    for (word, form), count in sorted(counts.items()):
        kind, why = _of_words(word, form)
        kinds.setdefault(word, kind)
        listed.append(f"{one_line(word)}: {many(count, form)}; {kinds[word] or 'left out'}: {one_line(why)}")
    if (more := len(listed) - MOST_WORDS) > 0:
        listed = [*listed[:MOST_WORDS], f"and {more} more"]
    if all(word == kind for word, kind in kinds.items()):
        return KindGuess({}, tuple(listed))
    return KindGuess({"kinds": kinds}, tuple(listed), _read(file, {"kinds": kinds}))


def _by_names(file: Found, source: Source) -> KindGuess:
    """Kinds of things whose own words say none: patterns on their names, codes or descriptions, with counts."""
    described = {row[1]: row[3] for row in file.peek.rows if row[3]}
    codes, bare = _points_of(file)
    patterns: dict[str, tuple[str, str]] = {}
    counts: Counter[tuple[str, str]] = Counter()
    for name, kind, form in _things(source):
        stem = name.rstrip("0123456789")
        if kind not in UNTOLD or name in codes:
            pattern = codes.get(name, kind)
        elif name and not set(name) & set("*?[]"):
            pattern = f"{stem}*" if stem and stem != name else name
        else:
            continue
        counts[pattern, form] += 1
        word = codes.get(name) or (kind if kind not in UNTOLD else described.get(name) or stem or name)
        patterns.setdefault(pattern, _of_words(word, form))
    for name, said in bare.items():
        kind, why = guessed_kind(said or name.rstrip("0123456789"), geometry="point")
        if why == "its words" and not set(pattern := said or f"{name.rstrip('0123456789')}*") & set("?[]"):
            counts[pattern, "point"] += 1
            patterns.setdefault(pattern, (kind, why))
    listed = [
        f"{one_line(pattern)}: {many(count, form)}; {kind or 'left out'}: {one_line(why)}"
        for (pattern, form), count in counts.items()
        for kind, why in [patterns[pattern]]
    ]
    if (more := len(listed) - MOST_WORDS) > 0:
        listed = [*listed[:MOST_WORDS], f"and {more} more"]
    told = {pattern: kind for pattern, (kind, _) in patterns.items() if kind != pattern}
    if not told:
        return KindGuess({}, tuple(listed))
    return KindGuess({"kinds": told}, tuple(listed), _read(file, {"kinds": told}))


def _points_of(file: Found) -> tuple[dict[str, str], dict[str, str]]:
    """Codes of the points of a file of elements by their names, and of those without a code what is said of them."""
    name = f"shots.{file.path.suffix.lower().removeprefix('.')}"
    if not any(row[0] == "CgPoint" for row in file.peek.rows) or name not in plugins.declared("readers"):
        return {}, {}
    try:
        points = plugins.load("readers", name)().read(file.path, source="").layers["shots"].dropna(subset=["shot"])
    except GeoqaError:
        return {}, {}
    coded = points["code"].notna()
    held, bare = points[coded], points[~coded]
    codes = dict(zip(held["shot"].astype("str"), held["code"].astype("str"), strict=True))
    return codes, dict(zip(bare["shot"].astype("str"), bare["note"].fillna("").astype("str"), strict=True))


UNTOLD = ("plan-feature", "alignment", "point")
"""Kinds that say only what sort of thing was drawn."""


def _things(source: Source) -> Iterator[tuple[str, str, str]]:
    """Name, kind and geometry of every line and point of a design file."""
    for table, key, form in (("design_lines", "line", "line"), ("design_points", "point", "point")):
        if table in source.layers:
            rows = source.layers[table]
            yield from zip(rows[key].astype("str"), rows["kind"].astype("str"), [form] * len(rows), strict=True)


def _of_words(word: str, form: str) -> tuple[str, str]:
    """A kind by words of the trade, where all of them are there or it says that it is not new; else the word itself."""
    kind, because = guessed_kind(word, geometry=form)
    if because == "its words" or because.startswith("says "):
        return kind, because
    return kind_of(word), "its own words"


def _words(file: Found) -> tuple[Any, ...]:
    reader = file.reader()
    list_words = getattr(reader, "words", None)
    if list_words is None:
        return ()
    try:
        return tuple(list_words(file.path, kinds={}, codes={}))
    except Exception:  # whatever a format library raises over a strange file, it is the file
        return ()


def _by_words(file: Found, words: Iterable[Any]) -> KindGuess:
    attribute = file.options.get("kind_field", ("kind", ""))[0]
    has_kinds = "kind_field" in file.options or attribute in file.peek.columns
    told = [
        word
        for word in words
        if word.option in TOLD_BY
        and (word.option != "values" or (has_kinds and word.field == attribute))
        and not (word.option == "layers" and has_kinds)
    ]
    blocks = {word.word for word in told if word.option == "blocks"}
    options: dict[str, dict[str, str]] = {}
    listed = []
    for word in told:
        kind = word.kind or ("" if _aside(word) else kind_of(word.word))
        if (
            word.option == "layers"
            and word.points
            and word.points == word.blocks
            and not word.lines
            and len(blocks) > 1
        ):
            listed.append(f"layer {one_line(word.word)}: {_counted(word)}; told apart by block below")
            continue
        options.setdefault(word.option, {})[word.word] = kind
        why = word.because or "its own words"
        listed.append(
            f"{word.option[:-1]} {one_line(word.word)}: {_counted(word)}; {kind or 'left out'}: {one_line(why)}"
        )
    more = len(listed) - MOST_WORDS
    shown = [*listed[:MOST_WORDS], *([f"and {more} more"] if more > 0 else [])]
    changed = {key: table for key, table in options.items() if any(value != kind for value, kind in table.items())}
    return KindGuess(changed, tuple(shown), _read(file, changed) if changed else None)


def _aside(word: Any) -> bool:
    """Whether it draws nothing that is compared, or says itself that it is not new work."""
    return not (word.lines or word.points) or str(word.because).startswith("says ")


def _counted(word: Any) -> str:
    counts = ((word.lines, "line"), (word.points, "point"), (word.others, "other"))
    said = [f"{count} {name}{'s' * (count != 1)}" for count, name in counts if count]
    return ", ".join(said) or "nothing"


def _read(file: Found, options: dict[str, dict[str, str]]) -> Source | None:
    stated = {key: value for key, (value, _) in file.options.items()}
    name = file.use or f"design.{file.path.suffix.lower().removeprefix('.')}"
    made = plugins.load("readers", name)
    if not set(options) <= set(made.model_fields):
        return None
    try:
        source: Source = made.model_validate({**stated, **options}).read(file.path, source=file.path.stem)
    except (GeoqaError, OSError, ValueError):
        return None
    return source
