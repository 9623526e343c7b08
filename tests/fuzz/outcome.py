"""What may come of a bad input, and how long it may take."""

import re
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from types import FrameType

SECONDS = 20.0


class End(StrEnum):
    """Ending of a case; the last three may never be."""

    REFUSED = "refused"
    SAID = "ran and said"
    SAME = "nothing to say"
    AS_WRITTEN = "another sound file"
    SILENT = "silent difference"
    CRASH = "crash"
    HANG = "hang"


NEVER = (End.SILENT, End.CRASH, End.HANG)


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """How one case ended; `words` are the refusal, or what is wrong."""

    case: str
    end: End
    words: str = ""


class Hang(BaseException):
    """Time is up; no `except Exception` takes it for a trouble of a file."""


@contextmanager
def at_most(seconds: float = SECONDS) -> Iterator[None]:
    """End what takes longer, in seconds of the processor: another process's work is no hang.

    Where the system has no such alarm, or in another thread, the test's own limit holds, and so it does for what waits.
    """
    if not hasattr(signal, "SIGPROF") or threading.current_thread() is not threading.main_thread():
        yield
        return

    def ring(_number: int, _frame: FrameType | None) -> None:
        raise Hang

    before = signal.signal(signal.SIGPROF, ring)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


_OURS = re.compile(r"\b(KeyError|TypeError|IndexError|AttributeError|ValueError|NoneType|0x[0-9a-f]{6,})\b|Traceback")
_NEXT = re.compile(
    r"\b(state|name|write|export|save|open|make|give|add|lower|remove|take|use|need|needed|needs|allowed|expected|"
    r"is it|draw|"
    r"split|close|check|put|must|may|are|rename|fill|set|ask|convert|repair|copy|where|only|choose|declare|move|"
    r"keep|leave|try|start|ask|takes|did you mean|installed)\b",
    re.IGNORECASE,
)


def unclear(words: str, file: str, folder: str) -> str:
    """What a refusal lacks: the file, what helps; or what it says too much; empty where it is as it must be."""
    if folder in words:
        return "names a folder of this computer"
    if file and file not in words:
        return "names no file"
    if found := _OURS.search(words):
        return f"speaks of our own insides: {found[0]}"
    if not _NEXT.search(words):
        return "says neither what is allowed nor what to do"
    return ""
