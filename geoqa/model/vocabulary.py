"""Words that facts are told with: a flag of a shot, a note that is read first, a cause of a survey blunder."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields
from string import Formatter

from geoqa.errors import CheckError
from geoqa.model.check import SUBJECTS
from geoqa.model.tables.fact import Fact, amount, sentence_of
from geoqa.model.tables.shot_flags import BETWEEN

NOW, LOOK, KNOW = 1, 2, 3
URGENCY = {
    NOW: "Before you leave",
    LOOK: "Look at before you leave, or settle tonight",
    KNOW: "Good to know",
}
"""Urgency in words, most urgent first."""

NOTHING = (
    "Nothing to re-shoot was found. That is no proof that the shots are right: it says that none of the checks "
    "listed here found anything."
)
"""What a crew reads at the end of a day in which nothing was noticed."""

Sentence = str | Callable[[Fact, str], str]
"""Text with names of facts in braces; or what makes a sentence of a fact and the name of the job's unit."""

METHOD = "method"
"""Subject of a note about how the job was judged, beside those of checks."""


def beyond_limit(fact: Fact, unit: str) -> str:
    """What is said of a number beyond its limit, or of a word that is not allowed.

    Examples
    --------
    >>> fact = Fact(name="correction_age", number=12.0, unit="s", written="5 s", reference="C-101", variant="more")
    >>> beyond_limit(fact, "ft")
    'correction age 12 s is more than 5 s (C-101)'
    """
    name = fact.name.replace("_", " ").replace("-", " ")
    source = f" ({fact.reference})" if fact.reference else ""
    if fact.variant == "allowed":
        return f"{name} {fact.other}, allowed is {fact.written}{source}"
    if fact.written and fact.number != fact.number:
        return f"{name}: {fact.written}{source}"
    if fact.written:
        side = "fewer than" if fact.variant == "fewer" else "more than"
        return f"{name} {fact.amount(unit)} is {side} {fact.written}{source}"
    held = "" if fact.limit != fact.limit else f", limit {amount(fact.limit, fact.unit, unit)}"
    said = "" if fact.number != fact.number else f" {fact.amount(unit)}"
    return f"{name}{said}{held}{source}"


def words_of(name: str) -> str:
    """A name as words.

    Examples
    --------
    >>> words_of("my-own"), words_of("rod_height")
    ('My own', 'Rod height')
    """
    return name.replace("-", " ").replace("_", " ").capitalize()


def _refuse_strange(name: str, sentence: Sentence) -> None:
    """A template that names what no fact holds, or cannot be filled, would only fail when it is printed."""
    if not isinstance(sentence, str):
        return
    known = [each.name for each in fields(Fact)]
    try:
        asked = [field_name for _, field_name, _, _ in Formatter().parse(sentence) if field_name is not None]
    except ValueError as error:
        raise CheckError(f"'{name}': its sentence cannot be read: {error}.") from None
    for each in asked:
        if each not in known:
            raise CheckError(f"'{name}': no fact is called '{each}'; use one of {', '.join(known)}.")
    try:
        sentence_of(sentence, Fact(count=1, total=1), "ft")
    except ValueError as error:
        raise CheckError(f"'{name}': its sentence cannot be filled with facts: {error}.") from None


@dataclass(frozen=True, kw_only=True)
class Word:
    """A name that facts bear.

    Attributes
    ----------
    name : str
    """

    name: str


@dataclass(frozen=True, kw_only=True)
class Flag(Word):
    """What may be noticed about a shot.

    Attributes
    ----------
    name : str
        The word in the column `flag`; compared as a whole.
    title : str
        A few words.
    sentence : str or callable
        The reason with its numbers, made of the facts of a row.
    numbers : tuple of str
        What `number`, `limit`, `second`, `third` and `fourth` are, where that is not plain.
    urgency : {1, 2, 3}
        For the crew at the end of its day: before leaving, look at, good to know.
    heading, do : str
        The same for the crew in plain words, and what to do.
    """

    title: str
    sentence: Sentence = beyond_limit
    numbers: tuple[str, ...] = ()
    urgency: int = LOOK
    heading: str = ""
    do: str = "look at it"

    def __post_init__(self) -> None:
        if BETWEEN in self.name or not self.name:
            raise CheckError(f"'{self.name}' is no name of a flag: it may hold no '{BETWEEN}'.")
        _refuse_strange(self.name, self.sentence)
        if self.urgency not in URGENCY:
            raise CheckError(f"Flag '{self.name}': no urgency {self.urgency}; use one of {list(URGENCY)}.")
        if not self.heading:
            object.__setattr__(self, "heading", words_of(self.name))

    def explained(self) -> str:
        """What the flag means, what its numbers are, and what a crew does about it."""
        columns = zip(("number", "limit", "second", "third", "fourth"), self.numbers, strict=False)
        told = "; ".join(f"{column} is the {meaning}" for column, meaning in columns if meaning)
        lines = [f"{self.name}: {self.title}", f"  In the table of flags {told}." if told else ""]
        lines.append(f"  {URGENCY[self.urgency]}: {self.do}.")
        return "\n".join(line for line in lines if line)


@dataclass(frozen=True, kw_only=True)
class Note(Word):
    """What a reader must know before the numbers.

    Attributes
    ----------
    name : str
        The word in the column `note`.
    sentence : str or callable
        Of the facts of one row.
    listing : callable, optional
        Of the facts of all rows that agree in `together`, and the name of the job's unit; in place of `sentence`.
    together : tuple of str
        Names of facts.
    subject : {"work", "survey", "evidence", "method"}
        What it is about.
    order : int
        Place among the notes, worst first.
    about : str
        What stands behind it, for who asks; without one, what its sentence, or the function that makes it, says.
    """

    sentence: Sentence = ""
    listing: Callable[[Sequence[Fact], str], str] | None = None
    together: tuple[str, ...] = ()
    subject: str = "work"
    order: int = 1000
    about: str = ""

    def __post_init__(self) -> None:
        if self.subject not in (*SUBJECTS, METHOD):
            raise CheckError(f"Note '{self.name}': no subject '{self.subject}'.")
        if strange := set(self.together) - {each.name for each in fields(Fact)}:
            raise CheckError(f"Note '{self.name}': no fact is called '{min(strange)}'.")
        _refuse_strange(self.name, self.sentence)


@dataclass(frozen=True, kw_only=True)
class Cause(Word):
    """A known cause of a survey blunder, or an answer that names none.

    Attributes
    ----------
    name : str
        The word in the column `cause`, or `status`.
    title : str
        A few words.
    remedy : str
        The change to make, mostly in the job file; braces are filled with what was found.
    tells : str
        The log field, or the cheapest measurement, that would tell it from its rivals.
    prior : float
        Probability before anything is measured, shared by its variants; NaN for an answer that names none.
        Common practice, no source.
    now : bool
        Only a re-shoot, or a field record, cures it: the crew must know before it leaves.
    alike : tuple of str
        Causes that make the same of every shot; it stands for all of them, and none of them is named.
    brief : str
        The remedy in few words, for a line that would be too long; empty where the remedy is short.
    asks : str
        How the line that is read first begins.
    """

    title: str
    remedy: str
    tells: str = ""
    prior: float = field(default=float("nan"))
    now: bool = False
    alike: tuple[str, ...] = ()
    brief: str = ""
    asks: str = "Survey blunder?"
