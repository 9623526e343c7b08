"""A page printed to PDF by a browser that is on this machine: no library of ours lays out paper a second time."""

import os
import re
import shutil
import signal
import subprocess
import tempfile
from pathlib import Path

from geoqa.errors import OutputError

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
"""Browsers that print without a window, in the order in which they are looked for."""
LONGEST = 180.0
"""Seconds after which a browser that has not printed is stopped."""
_QUIET = (
    "--headless", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update",
    "--disable-sync", "--host-resolver-rules=MAP * ~NOTFOUND", "--no-pdf-header-footer",
)  # fmt: skip
_DATES = re.compile(rb"(/(?:CreationDate|ModDate) \(D:)\d{14}")


def browser() -> str | None:
    """Path of a browser that prints; None where none is found."""
    return next((found for name in BROWSERS if (found := shutil.which(name))), None)


def printed(page: Path, date: str) -> bytes:
    """Print a page, and give the file the date of the job: the same page and browser make the same bytes.

    Parameters
    ----------
    page : Path
    date : str
        Of the job, as ``2026-05-15``; empty where none is known.

    Raises
    ------
    OutputError
        There is no such browser, or it did not print.
    """
    program = browser()
    if program is None:
        raise OutputError(f"{page.name} cannot be printed here: {nobody()}.")
    with tempfile.TemporaryDirectory(prefix="geoqa-print-") as place:
        paper = Path(place, "page.pdf")
        asked = [
            program,
            *_QUIET,
            f"--user-data-dir={place}/profile",
            f"--print-to-pdf={paper}",
            page.resolve().as_uri(),
        ]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            asked.insert(1, "--no-sandbox")  # the browser refuses to start otherwise; the page has no script
        _run(asked, page.name)
        if not paper.is_file():
            raise OutputError(f"{page.name} was not printed: {Path(program).name} ended without a file.")
        return dated(paper.read_bytes(), date)


def nobody() -> str:
    """Say that no browser was found, and what to do."""
    return (
        f"no browser that prints without a window was found (looked for {', '.join(BROWSERS)}); "
        "print report.html from a browser instead"
    )


def dated(content: bytes, date: str) -> bytes:
    """Give a PDF the date of a day in the place of the moment it was made.

    Examples
    --------
    >>> dated(b"/CreationDate (D:20260601101112+00'00')", "2026-05-15")
    b"/CreationDate (D:20260515000000+00'00')"
    """
    day = date.replace("-", "") if re.fullmatch(r"\d{4}-\d{2}-\d{2}", date) else "19800101"
    return _DATES.sub(rb"\g<1>" + day.encode("ascii") + b"000000", content)


def _run(asked: list[str], name: str) -> None:
    """Run the browser, and stop all that it started if it takes too long."""
    try:
        with subprocess.Popen(
            asked, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        ) as process:
            try:
                process.wait(LONGEST)
            except BaseException as error:
                _stop(process)
                if isinstance(error, subprocess.TimeoutExpired):
                    raise OutputError(f"{name} was not printed within {LONGEST:.0f} s.") from None
                raise
    except OSError as error:
        raise OutputError(f"{name} was not printed: {error.strerror or error}.") from error


def _stop(process: "subprocess.Popen[bytes]") -> None:
    if hasattr(os, "killpg"):
        os.killpg(process.pid, signal.SIGKILL)
    else:
        process.kill()
