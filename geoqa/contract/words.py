"""Every declared flag and note by its name, through the plugin door: an entry is a tuple of records."""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import TypeVar

from geoqa import plugins
from geoqa.errors import CheckError, PluginError
from geoqa.model.vocabulary import Flag, Note, Word, words_of

Kind = TypeVar("Kind", Flag, Note)


def every_flag() -> Mapping[str, Flag]:
    """All declared flags by name: ours in the order in which they are listed, then those of strangers.

    Raises
    ------
    PluginError
        What is declared is no tuple of words.
    CheckError
        Two own one name.

    Examples
    --------
    >>> every_flag()["tilt"].title
    'rod tilted beyond the limit'
    """
    return _of(Flag)


def every_note() -> Mapping[str, Note]:
    """All declared notes by name; raises as `every_flag`."""
    return _of(Note)


def flag_named(name: str) -> Flag:
    """The flag of that name; one that nobody declares is known by its name alone.

    Examples
    --------
    >>> flag_named("tilt").do, flag_named("my-own").title
    ('re-shoot with the rod plumb', 'my own')
    """
    return every_flag().get(name) or Flag(name=name, title=words_of(name).lower())


def note_named(name: str) -> Note:
    """The note of that name; one that nobody declares is known by its name alone.

    Examples
    --------
    >>> note_named("my-own").order
    1000
    """
    return every_note().get(name) or Note(name=name, sentence=f"{words_of(name)}: {{written}}")


def all_words() -> None:
    """Load every flag and note: what is declared wrongly is told before a job is read, not when it has been judged."""
    every_flag()
    every_note()


def explain_word(name: str) -> str | None:
    """What a flag means, and what to do about it; None for a name that no flag bears.

    Examples
    --------
    >>> print(explain_word("clock"))
    clock: the clock goes back
      In the table of flags number is the time it goes back.
      Look at before you leave, or settle tonight: check the clock of the controller.
    """
    flag = every_flag().get(name)
    return None if flag is None else flag.explained()


@cache
def _owned() -> tuple[tuple[str, Word], ...]:
    """Every word with the package that declares it; ours first."""
    found = []
    for entry in plugins.declared("words"):
        owner = plugins.owner("words", entry)
        told = plugins.load("words", entry)
        if not isinstance(told, tuple) or not all(isinstance(each, Word) for each in told):
            raise PluginError(f"What {owner} declares as the words '{entry}' is no tuple of flags, notes or causes.")
        ours = plugins.declared("words")[entry].value.startswith("geoqa.")
        found += [(not ours, owner, each) for each in told]
    return tuple((owner, word) for _, owner, word in sorted(found, key=lambda each: each[0]))


@cache
def _of(kind: type[Kind]) -> Mapping[str, Kind]:
    made: dict[str, Kind] = {}
    owners: dict[str, str] = {}
    for owner, word in _owned():
        if not isinstance(word, kind):
            continue
        if word.name in made:
            raise CheckError(
                f"Two own the {kind.__name__.lower()} '{word.name}': {owners[word.name]} and {owner}; "
                "one of them needs another name."
            )
        made[word.name], owners[word.name] = word, owner
    return MappingProxyType(made)
