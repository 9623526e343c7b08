"""A LandXML file as a stream of elements: bounded in size and depth, without document types and entities.

The whole tree is never held. What the caller wants comes as a small tree of its own; the points and faces of a
surface go to the caller as text, in blocks; everything else is skipped, and counted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol
from xml.parsers import expat

from geoqa.errors import SourceError

NAMESPACES = {f"http://www.landxml.org/schema/LandXML-{version}": version for version in ("1.0", "1.1", "1.2")}
"""The three versions that are read, by namespace."""

DEEPEST = 64
"""Elements inside each other; the schema needs about twelve."""
LONGEST_MARK = 1 << 20
"""Bytes of one tag with its attributes, or of one comment."""
LARGEST_TREE = 256 << 20
"""Characters of one element with all in it, surfaces left out."""
_PASSED_ON = ("state", "code")
"""Attributes of a collection that hold for each thing in it, unless that says otherwise."""
_BLOCK = 1 << 18


@dataclass(slots=True)
class Node:
    """One element: its name without namespace, attributes, text, children, and the line it begins on."""

    name: str
    attributes: Mapping[str, str]
    line: int
    text: str = ""
    children: list[Node] = field(default_factory=list)

    def get(self, key: str) -> str:
        """An attribute, trimmed; empty where there is none."""
        return self.attributes.get(key, "").strip()

    def find(self, name: str) -> Node | None:
        """The first child of a name."""
        return next((each for each in self.children if each.name == name), None)

    def all(self, *names: str) -> list[Node]:
        """Children of these names, in file order."""
        return [each for each in self.children if each.name in names]

    def words(self) -> str:
        """Element and name, as a message says it."""
        called = self.get("name") or self.get("id")
        return f"{self.name} '{called[:60]}', line {self.line}" if called else f"{self.name}, line {self.line}"


class Bulk(Protocol):
    """Takes the many small elements of a surface as they come."""

    def begin(self, name: str, attributes: Mapping[str, str], line: int) -> Handlers | None:
        """An element begins inside a surface: handlers for its children, or None to go on."""

    def block(self) -> None:
        """A block of the file was read: make numbers of what has come."""

    def end(self, name: str) -> None:
        """The element that was begun with handlers ends."""


Handlers = tuple[Callable[[str, Mapping[str, str]], Any], Callable[[str], Any], Callable[[str], Any]]
"""What to call at the start of a child, with its text, and at its end."""


@dataclass
class Account:
    """What a stream saw besides what it gave.

    Attributes
    ----------
    version : str
        1.0, 1.1 or 1.2.
    skipped : Counter
        Elements of this standard that nobody asked for, by name, with all in them.
    foreign : Counter
        Elements of other namespaces, by namespace; and `Feature` extensions.
    """

    version: str = ""
    unqualified: bool = False
    skipped: Counter[str] = field(default_factory=Counter)
    foreign: Counter[str] = field(default_factory=Counter)


def refusal(path: Path, line: int, what: str) -> SourceError:
    """Say what is wrong with a file, and where."""
    return SourceError(f"'{path.name}', line {line}: {what}")


class _Parser:
    """Callbacks of the parser: keeps the way down to where it is, and the tree that is being made."""

    def __init__(self, path: Path, wanted: Collection[str], through: Collection[str], bulk: Bulk | None) -> None:
        self.path, self.wanted, self.through, self.bulk = path, frozenset(wanted), frozenset(through), bulk
        self.account = Account()
        self.ready: list[Node] = []
        self.depth = self.aside = self.size = 0
        self.prefix: str | None = None
        self.open: list[Node] = []
        self.pieces: list[list[str]] = []
        self.way: list[str] = []
        self.shared: list[dict[str, str]] = []
        self.bulked = ""
        self.parser = expat.ParserCreate(namespace_separator="|")
        self.parser.buffer_text = True
        self.parser.buffer_size = 1 << 16
        self.parser.StartDoctypeDeclHandler = self._doctype
        self.parser.EntityDeclHandler = self._entity
        self.parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
        self._listen()

    def _listen(self) -> None:
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._text

    def refused(self, what: str) -> SourceError:
        return refusal(self.path, self.parser.CurrentLineNumber, what)

    def _doctype(self, *_: object) -> None:
        raise self.refused(
            "it has a document type (DOCTYPE); LandXML needs none, and entities are not read. Remove that line."
        )

    def _entity(self, *_: object) -> None:
        raise self.refused("it declares an entity; none is read. Remove it.")

    def _root(self, name: str, attributes: Mapping[str, str]) -> None:
        space, _, own = name.rpartition("|")
        stated = attributes.get("version", "").strip()
        allowed = "LandXML 1.0, 1.1 and 1.2 are read: " + ", ".join(NAMESPACES)
        if own != "LandXML":
            raise self.refused(f"its root is '{own[:60]}', not LandXML; {allowed}.")
        if space in NAMESPACES:
            self.account.version = NAMESPACES[space]
        elif not space and stated in NAMESPACES.values():
            self.account.version, self.account.unqualified = stated, True
        else:
            raise self.refused(f"it is LandXML of the namespace '{space[:80]}', version '{stated[:20]}'; {allowed}.")
        self.prefix = f"{space}|" if space else ""

    def _start(self, name: str, attributes: Mapping[str, str]) -> None:
        self.depth += 1
        if self.depth > DEEPEST:
            raise self.refused(f"elements stand more than {DEEPEST} deep in each other; no LandXML does.")
        if self.aside:
            self.aside += 1
            return
        if self.prefix is None:
            self._root(name, attributes)
            self.way.append("LandXML")
            self.shared.append({})
            return
        own = self._own(name)
        if own is None:
            self.aside = 1
        elif self.open:
            self._grow(own, attributes)
        elif self.bulk is not None and "Surface" in self.way:
            self._surface(own, attributes)
        elif own in self.wanted:
            self.size = 0
            self._grow(own, {**self.shared[-1], **attributes})
        elif own in self.through:
            self.way.append(own)
            passed = {key: attributes[key] for key in _PASSED_ON if key in attributes}
            self.shared.append({**self.shared[-1], **passed})
            if own == "Surface" and self.bulk is not None:
                self.bulk.begin(own, {**self.shared[-1], **attributes}, self.parser.CurrentLineNumber)
        else:
            self.account.skipped[own] += 1
            self.aside = 1

    def _own(self, name: str) -> str | None:
        """Name in this standard; None, and counted, for another's and for extensions."""
        assert self.prefix is not None
        if self.prefix and not name.startswith(self.prefix):
            self.account.foreign[name.rpartition("|")[0][:200] or "no namespace"] += 1
            return None
        own = name[len(self.prefix) :]
        if "|" in own:
            self.account.foreign[own.rpartition("|")[0][:200]] += 1
            return None
        if own == "Feature":
            self.account.foreign["Feature"] += 1
            return None
        return own

    def _grow(self, name: str, attributes: Mapping[str, str]) -> None:
        node = Node(name, attributes, self.parser.CurrentLineNumber)
        if self.open:
            self.open[-1].children.append(node)
        self.open.append(node)
        self.pieces.append([])
        self._weigh(200 + sum(map(len, attributes.values())))

    def _weigh(self, size: int) -> None:
        self.size += size
        if self.size > LARGEST_TREE:
            raise self.refused(
                f"{self.open[0].words()} holds more than {LARGEST_TREE >> 20} MB; only surfaces may. Divide the file."
            )

    def _surface(self, name: str, attributes: Mapping[str, str]) -> None:
        assert self.bulk is not None
        self.way.append(name)
        self.shared.append({})
        handlers = self.bulk.begin(name, attributes, self.parser.CurrentLineNumber)
        if handlers is None:
            return
        start, text, end = handlers
        closing, namespace, opened = f"{self.prefix}{name}", self.prefix or "", len(self.prefix or "")

        def child(own: str, attributes: Mapping[str, str]) -> None:
            if own.startswith(namespace):
                start(own[opened:], attributes)
            else:
                raise self.refused(f"'{own.rpartition('|')[2][:60]}' does not belong into {name}.")

        def closed(own: str) -> None:
            if own == closing:
                self.bulked = ""
                self._listen()
                self._end(own)
            else:
                end(own)

        self.bulked = name
        self.parser.StartElementHandler = child
        self.parser.CharacterDataHandler = text
        self.parser.EndElementHandler = closed

    def _end(self, _: str) -> None:
        self.depth -= 1
        if self.aside:
            self.aside -= 1
        elif self.open:
            node, pieces = self.open.pop(), self.pieces.pop()
            node.text = "".join(pieces)
            if not self.open:
                self.ready.append(node)
        else:
            name = self.way.pop()
            self.shared.pop()
            if self.bulk is not None and (name == "Surface" or "Surface" in self.way):
                self.bulk.end(name)

    def _text(self, text: str) -> None:
        if self.open and not self.aside:
            self.pieces[-1].append(text)
            self._weigh(len(text))


def elements(
    path: Path,
    *,
    wanted: Collection[str],
    through: Collection[str],
    bulk: Bulk | None = None,
    at_most: int | None = None,
) -> Iterator[Node | Account]:
    """Give the wanted elements of a file as small trees, in file order, and at the end the account of all others.

    Parameters
    ----------
    path : Path
    wanted : collection of str
        Elements to give, with everything in them.
    through : collection of str
        Elements whose children are looked at; all others are skipped.
    bulk : Bulk, optional
        Takes what stands in a `Surface`; then `Surface` must be among `through`.
    at_most : int, optional
        Bytes after which to stop, wherever that is.

    Raises
    ------
    SourceError
        The file is no LandXML of a version that is read, is cut off, has a document type, or is out of all measure.
    """
    state = _Parser(path, wanted, through, bulk)
    read = 0
    with path.open("rb") as file:
        try:
            while True:
                block = file.read(_BLOCK)
                read += len(block)
                state.parser.Parse(block, not block)
                if bulk is not None and state.bulked:
                    bulk.block()
                yield from state.ready
                state.ready.clear()
                if not block or (at_most is not None and read >= at_most):
                    break
                if read - max(state.parser.CurrentByteIndex, 0) > LONGEST_MARK + _BLOCK:
                    raise state.refused(f"a tag, an attribute or a comment is longer than {LONGEST_MARK >> 20} MB.")
        except SourceError:
            raise
        except (expat.ExpatError, ValueError, LookupError) as error:  # of bytes, or of an encoding nobody knows
            raise _unsound(path, state, error) from None
    yield state.account


def _unsound(path: Path, state: _Parser, error: Exception) -> SourceError:
    why = expat.errors.messages.get(error.code, str(error)) if isinstance(error, expat.ExpatError) else str(error)
    line = error.lineno if isinstance(error, expat.ExpatError) else state.parser.CurrentLineNumber
    cut = " It seems to be cut off; export it again." if why in _CUT else " Export it again."
    inside = f" inside {state.open[0].words()}" if state.open else ""
    return refusal(path, line, f"no sound XML{inside}: {why}.{cut}")


_CUT = ("no element found", "unclosed token", "unclosed CDATA section", "partial character")
