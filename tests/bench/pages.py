"""The pages of ``docs``: their blocks, what each is for, and a reader who does what a page says.

A block whose title is ``in FILE`` is written into that file, table by table, as a person would; one ``from FILE``
stands there already; one with another title is a file of that name. ``bash`` and ``python`` are typed, and a block
of text behind them is what they print, where ``…`` stands for lines that are not shown. A comment
``<!-- not run: REASON -->`` above a block excuses it.
"""

import os
import re
import subprocess
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
BLOCK = re.compile(
    r'^(?:<!-- not run: (?P<excuse>[^\n]+) -->\n)?^```(?P<language>\w*)(?: title="(?P<title>[^"]+)")?\n'
    r"(?P<text>.*?)^```$",
    re.DOTALL | re.MULTILINE,
)
FOLLOWED = "<!-- followed -->"
SKIPPED = "…"
SHELL = """set -euo pipefail
geoqa() { command geoqa "$@" || [ $? = 1 ]; }
"""


@dataclass(frozen=True)
class Block:
    """One fenced block of a page."""

    page: str
    line: int
    language: str
    title: str
    text: str
    excuse: str
    answers: bool
    """It stands directly behind another block."""

    @property
    def name(self) -> str:
        return f"{self.page}:{self.line}"


def blocks(path: Path) -> list[Block]:
    """All blocks of a page, in order."""
    text = path.read_text(encoding="utf-8")
    found, end = [], -1
    for match in BLOCK.finditer(text):
        parts = {name: part or "" for name, part in match.groupdict().items()}
        answers = end >= 0 and text[end : match.start()].strip() == ""
        found.append(Block(page=path.name, line=text.count("\n", 0, match.start()) + 1, answers=answers, **parts))
        end = match.end()
    return found


def pages() -> list[Path]:
    """Every page with blocks, those at the top of the repository too."""
    return [*sorted(DOCS.glob("*.md")), ROOT / "README.md", ROOT / "DEVELOPERS.md"]


def is_followed(path: Path) -> bool:
    """A reader can start in an empty folder and do what the page says."""
    return FOLLOWED in path.read_text(encoding="utf-8")


def _head(line: str) -> str:
    return line.strip() if re.match(r"\[[^=]*\]\s*(#.*)?$", line.strip()) else ""


def _parts(text: str) -> list[list[str]]:
    """Lines of a job file, cut before every head of a table."""
    parts: list[list[str]] = [[]]
    for line in text.splitlines():
        if _head(line):
            parts.append([])
        parts[-1].append(line)
    return parts


def _same_table(old: list[str], new: list[str]) -> bool:
    if not old or not new or _head(old[0]).partition("#")[0].strip() != _head(new[0]).partition("#")[0].strip():
        return False
    if not new[0].startswith("[["):
        return True
    files = [re.search(r"^file\s*=\s*(\S+)", "\n".join(each), re.MULTILINE) for each in (old, new)]
    return all(files) and files[0][1] == files[1][1]


def written_into(text: str, block: str) -> str:
    """A job file with the lines of a block in it: a key of its table is replaced, others come behind its head."""
    parts = _parts(text)
    for new in _parts(block)[1:]:
        old = next((part for part in parts if _same_table(part, new)), None)
        if old is None:
            parts.append(["", *new])
            continue
        for line in [line for line in new[1:] if line.strip()]:
            key = line.partition("=")[0].strip()
            at = next((i for i, each in enumerate(old) if i and each.partition("=")[0].strip() == key), None)
            if at is None:
                old.insert(1, line)
            else:
                old[at] = line
    return "\n".join(line for part in parts for line in part) + "\n"


def agrees(shown: str, printed: str) -> bool:
    """What the page shows is what was printed, but for lines that it leaves out."""
    lines = shown.strip().splitlines()
    pattern = "".join(r"(?:.*\n)*?" if line.strip() == SKIPPED else re.escape(line) + r"\n" for line in lines)
    return re.fullmatch(pattern, printed.strip() + "\n") is not None


class Reader:
    """Does what a page says, in a folder."""

    def __init__(self, folder: Path, *, python: str = sys.executable) -> None:
        self.folder = folder
        self.python = python
        self.said = ""

    def type_in(self, block: Block) -> None:
        """Run a block of a shell or of Python; what it prints is kept."""
        words = ["bash", "-c", SHELL + block.text]
        if block.language == "python":
            words = [self.python, "-c", block.text]
        home = {"PATH": os.pathsep.join([str(Path(self.python).parent), os.environ["PATH"]]), "COLUMNS": "120"}
        done = subprocess.run(
            words, cwd=self.folder, env=os.environ | home, capture_output=True, text=True, encoding="utf-8", check=False
        )
        assert done.returncode == 0, f"{block.name}: {done.stdout}\n{done.stderr}"
        self.said = "".join(line.rstrip() + "\n" for line in done.stdout.splitlines())

    def do(self, block: Block) -> None:
        """Do what one block says."""
        if block.excuse:
            return
        if block.title.startswith("in "):
            path = self.folder / block.title.removeprefix("in ")
            path.write_text(written_into(path.read_text(encoding="utf-8"), block.text), encoding="utf-8", newline="\n")
            tomllib.loads(path.read_text(encoding="utf-8"))
        elif block.title.startswith("from "):
            path = self.folder / block.title.removeprefix("from ")
            assert block.text in path.read_text(encoding="utf-8"), f"{block.name} shows what is not in {path.name}"
        elif block.title:
            path = self.folder / block.title
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(block.text, encoding="utf-8", newline="\n")
        elif block.language in ("bash", "python"):
            self.type_in(block)
        elif block.language == "text" and block.answers:
            assert agrees(block.text, self.said), f"{block.name} shows\n{block.text}\nbut printed was\n{self.said}"
        else:
            raise AssertionError(f"{block.name}: nothing can be done with this block")
