"""The scripts of a page, which import each other, as one script that a page can hold inside.

Each script is an ECMAScript module. A page that opens from disk cannot load modules, because a browser
takes every file for a stranger to the others, so they are joined when the page is written: each becomes a
function of its own, run once, after all that it imports. Nothing leaks from one to the next, and what a
script exports is to be seen under one name of the page, as ``geoqa.view.digit``. The order follows from the
imports alone.

Only the plainest forms are understood, each at the start of a line, and all others are refused::

    import { sees, digit as lastDigit } from "./view.js";
    import * as words from "./words.js";

    export const MOST = 40;
    export function paint(ctx) {}
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from geoqa.errors import OutputError

PAGE = "geoqa"
"""The one name that a page holds; what each script exports lies under it by the script's name."""
NAME = r"[A-Za-z_$][\w$]*"
IMPORT = re.compile(rf'import\s+(?:\{{([^{{}}"]+)\}}|\*\s+as\s+({NAME}))\s+from\s+"\./([a-z][a-z0-9]*\.js)";\n*')
IMPORTED = re.compile(rf"({NAME})(?:\s+as\s+({NAME}))?")
EXPORT = re.compile(rf"export (?=(?:const|class|(?:async )?function) ({NAME}))")
"""No `let`: a name is handed over once, so one that changes later would be seen as it was."""
DECLARED = re.compile(rf"^(?:export )?(?:const|let|var|class|(?:async )?function\*?) ({NAME})", re.MULTILINE)
MODULE_WORD = re.compile(r"^[ \t]*(?:import|export)\b|\bimport\s*\(|\bimport\.meta\b", re.MULTILINE)
ENDS_SCRIPT = re.compile(r"</?script|<!--", re.IGNORECASE)


@dataclass(frozen=True)
class Import:
    """One name in a script that stands for another's: for one of its exports, or for all where `wanted` is empty."""

    local: str
    source: str
    wanted: str = ""


@dataclass(frozen=True)
class Script:
    """One script, taken apart: its own text without what it imports and the words that export."""

    name: str
    body: str
    imports: tuple[Import, ...]
    exports: tuple[str, ...]


def joined(read: Callable[[str], str], entries: Iterable[str]) -> str:
    r"""Join scripts, and all that they import, to one.

    Parameters
    ----------
    read : callable
        Text of a script from its file name; a `FileNotFoundError` where there is none.
    entries : iterable of str
        File names of the scripts that a page begins with.

    Returns
    -------
    str
        A classic script; the same for the same texts and entries.

    Raises
    ------
    OutputError
        A script that is not there, a circle, a name imported that is not exported or that two things have,
        a form of import or export that is not understood, or text that would end the script in a page.

    Examples
    --------
    >>> texts = {"a.js": 'import { b } from "./b.js";\nexport const a = b + 1;\n', "b.js": "export const b = 1;\n"}
    >>> print(joined(texts.__getitem__, ["a.js"]))
    "use strict";
    const geoqa = {};
    geoqa.b = (() => {
    const b = 1;
    return { b };
    })();
    geoqa.a = (() => {
    const { b } = geoqa.b;
    const a = b + 1;
    return { a };
    })();
    <BLANKLINE>
    """
    scripts = {script.name: script for script in ordered(read, entries)}
    for script in scripts.values():
        _refuse_unknown_names(script, scripts)
    return f'"use strict";\nconst {PAGE} = {{}};\n' + "".join(_as_function(script) for script in scripts.values())


def ordered(read: Callable[[str], str], entries: Iterable[str]) -> list[Script]:
    r"""Scripts in the order they run: each after all that it imports, else as the imports name them.

    Parameters
    ----------
    read : callable
        Text of a script from its file name.
    entries : iterable of str
        File names to begin with.

    Returns
    -------
    list of Script

    Raises
    ------
    OutputError
        A script that is not there or not understood, or a circle.

    Examples
    --------
    >>> texts = {"a.js": 'import * as b from "./b.js";\n', "b.js": ""}
    >>> [script.name for script in ordered(texts.__getitem__, ["a.js"])]
    ['b.js', 'a.js']
    """
    done: dict[str, Script] = {}

    def visit(name: str, way: tuple[str, ...]) -> None:
        if name in way:
            raise OutputError(f"Scripts import each other in a circle: {' > '.join([*way[way.index(name) :], name])}.")
        if name in done:
            return
        try:
            text = read(name)
        except FileNotFoundError as error:
            raise OutputError(
                f"The script {name}, which {way[-1] if way else 'a page'} asks for, is not there."
            ) from error
        script = taken_apart(name, text)
        for source in dict.fromkeys(part.source for part in script.imports):
            visit(source, (*way, name))
        done[name] = script

    for name in entries:
        visit(name, ())
    return list(done.values())


def taken_apart(name: str, text: str) -> Script:
    r"""Read the imports and exports of a script.

    Parameters
    ----------
    name : str
        File name.
    text : str
        The script.

    Returns
    -------
    Script

    Raises
    ------
    OutputError
        A form that is not understood, two things of one name, or text that would end the script in a page.

    Examples
    --------
    >>> taken_apart("a.js", 'import { b as c } from "./b.js";\nexport const a = c;\n')
    Script(name='a.js', body='const a = c;\n', imports=(Import(local='c', source='b.js', wanted='b'),), exports=('a',))
    """
    if found := ENDS_SCRIPT.search(text):
        raise OutputError(f"{_at(name, text, found)}: {found[0]} would end the script inside a page.")
    imports: list[Import] = []
    exports: list[str] = []
    pieces, after = [], 0
    for word in MODULE_WORD.finditer(text):
        if found := EXPORT.match(text, word.start()):
            exports.append(found[1])
        elif (found := IMPORT.match(text, word.start())) and _is_head(text[after : word.start()], exports):
            imports += _imports_of(name, text, found)
        else:
            raise OutputError(f"{_at(name, text, word)}: this form of import or export is not understood here.")
        pieces.append(text[after : found.start()])
        after = found.end()
    body = "".join([*pieces, text[after:]])
    names = [part.local for part in imports] + DECLARED.findall(body)
    if twice := sorted({local for local in names if names.count(local) > 1}):
        raise OutputError(f"{name}: {', '.join(twice)} stands for two things.")
    return Script(name, body, tuple(imports), tuple(exports))


def _imports_of(name: str, text: str, match: re.Match[str]) -> list[Import]:
    listed, whole, source = match.groups()
    if whole:
        return [Import(whole, source)]
    imports = []
    for part in listed.strip().removesuffix(",").split(","):
        if not (names := IMPORTED.fullmatch(part.strip())):
            raise OutputError(f"{_at(name, text, match)}: this form of import or export is not understood here.")
        imports.append(Import(names[2] or names[1], source, names[1]))
    return imports


def _is_head(before: str, exports: list[str]) -> bool:
    """Whether only comments stand before an import."""
    return not exports and all(not line or line.startswith("//") for line in before.splitlines())


def _at(name: str, text: str, match: re.Match[str]) -> str:
    return f"{name}, line {text.count(chr(10), 0, match.start()) + 1}"


def _refuse_unknown_names(script: Script, scripts: dict[str, Script]) -> None:
    for part in script.imports:
        # what is taken from a whole script is one of its exports too; three dots before its name spread it
        taken = re.compile(rf"(?<![\w$])(?<!(?<!\.\.)\.){re.escape(part.local)}\.({NAME})")
        for wanted in [part.wanted] if part.wanted else taken.findall(script.body):
            if wanted not in scripts[part.source].exports:
                raise OutputError(f"{script.name} asks {part.source} for {wanted}, which it does not export.")


def _as_function(script: Script) -> str:
    heads = []
    for source in dict.fromkeys(part.source for part in script.imports):
        there = f"{PAGE}.{source.removesuffix('.js')}"
        parts = [part for part in script.imports if part.source == source]
        heads += [f"const {part.local} = {there};" for part in parts if not part.wanted]
        if names := ", ".join(_renamed(part) for part in parts if part.wanted):
            heads.append(f"const {{ {names} }} = {there};")
    lines = [f"{PAGE}.{script.name.removesuffix('.js')} = (() => {{", *heads, bare(script.body)]
    return "\n".join([*lines, f"return {{ {', '.join(script.exports)} }};", "})();\n"])


def bare(text: str) -> str:
    """A script without lines of comment and without indents, which a page is carried with; texts over lines stay."""
    lines = text.rstrip("\n").split("\n")
    if any(line.count("`") % 2 for line in lines):
        return "\n".join(lines)
    stripped = [line.strip() for line in lines]
    return "\n".join(line for line in stripped if line and not line.startswith("//"))


def _renamed(part: Import) -> str:
    return part.wanted if part.wanted == part.local else f"{part.wanted}: {part.local}"
