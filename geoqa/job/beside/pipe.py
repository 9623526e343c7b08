"""How the run and a process beside it talk: one pickle after another, the question before the answer."""

import pickle
import subprocess
from typing import Any, TypeAlias

from geoqa.job.beside.answering import answer_until_closed

Other: TypeAlias = "subprocess.Popen[bytes]"
BEGINS = (
    f"from {answer_until_closed.__module__} import {answer_until_closed.__name__}; {answer_until_closed.__name__}()"
)
LOST = (OSError, EOFError, pickle.PickleError, TypeError, AttributeError)
"""What is raised where the other process is gone, or what it should be told cannot go through a pipe."""


def say(other: Other, *what: Any) -> None:
    """Tell another process something."""
    assert other.stdin is not None
    pickle.dump(what, other.stdin)
    other.stdin.flush()


def ask(other: Other, *what: Any) -> Any:
    """Tell another process something, and wait for what it answers."""
    say(other, *what)
    return pickle.load(other.stdout)  # type: ignore[arg-type]


def packed(what: Any) -> bytes | None:
    """Something as another process takes it; None where a package has put into it what cannot go."""
    try:
        return pickle.dumps(what, protocol=pickle.HIGHEST_PROTOCOL)
    except (pickle.PicklingError, TypeError, AttributeError):
        return None
