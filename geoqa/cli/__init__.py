"""The command line: a door to job, review, simulate and batch.

Only click is imported here; a command's module is imported when the command is used,
so that help answers at once.
"""

import atexit
import gc
from collections.abc import Iterator
from contextlib import contextmanager
from difflib import get_close_matches
from typing import Any

import click

from geoqa import plugins
from geoqa.cli.ending import ending
from geoqa.cli.streams import forgive
from geoqa.version import VERSION

COMMANDS = {
    "init": ("geoqa.cli.init", "Draft a commented job file from the files in a folder."),
    "demo": ("geoqa.cli.demo", "Write a simulated job whose truth is known, to try all this on."),
    "check": ("geoqa.cli.check", "Look at a job file, then at the head of each file it names."),
    "day": ("geoqa.cli.day", "Say what to re-shoot before leaving, from a day's file of shots."),
    "run": ("geoqa.cli.run", "Run a job: judge the shots, write layers and map."),
    "batch": ("geoqa.cli.batch", "Run many jobs at once, and say what they tell together."),
    "parts": ("geoqa.cli.parts", "Judge one very large job in parts, with the findings of a single run."),
    "capability": ("geoqa.cli.capability", "Say before field work what a shot can prove under each tolerance."),
    "sensitivity": ("geoqa.cli.sensitivity", "Say which verdicts hang on rod, geoid, marks or the foot."),
    "trace": ("geoqa.cli.trace", "Say where a number comes from: files, lines, limits, settings."),
    "decide": ("geoqa.cli.decide", "Apply decisions that reviewers saved from the map; or take one back."),
    "compare": ("geoqa.cli.compare", "Say what changed from round to round: closed, new, reopened, untouched."),
    "verify": ("geoqa.cli.verify", "Say whether an output folder is what its job makes."),
    "steps": ("geoqa.cli.steps", "List the processing steps and their options."),
    "formats": ("geoqa.cli.formats", "List what is read and written, with what each format keeps and loses."),
    "schema": ("geoqa.cli.schema", "Print the JSON Schema of job files, for editors."),
    "explain": ("geoqa.cli.explain", "Say in plain words how a check works."),
}

_BETWEEN_COLLECTIONS = 50_000


class _Doors(click.Group):
    """Commands by name; each is imported when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            if close := get_close_matches(cmd_name, COMMANDS, 1):
                ctx.fail(f"No such command '{cmd_name}'. Did you mean {close[0]}?")
            return None
        return plugins.imported(COMMANDS[cmd_name][0], "command")

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> Any:
        forgive()
        with ending(debug=ctx.params.get("debug", False)), _seldom_collected():
            return super().invoke(ctx)


@contextmanager
def _seldom_collected() -> Iterator[None]:
    """Look for circles of objects less often: a run makes hundreds of thousands of objects, and hardly a circle."""
    atexit.register(gc.freeze)  # all of it goes with the process: to look through it first takes a third of a second
    before = gc.get_threshold()
    gc.set_threshold(_BETWEEN_COLLECTIONS, *before[1:])
    try:
        yield
    finally:
        gc.set_threshold(*before)


@click.group(cls=_Doors, context_settings={"help_option_names": ["-h", "--help"]})
@click.option("--debug", is_flag=True, help="Show where an error comes from.")
@click.version_option(VERSION, prog_name="geoqa")
def main(debug: bool) -> None:
    """Check collected survey shots against control and design.

    Exit codes: 0 nothing out, undecided or missing; 1 findings; 2 usage or job file; 3 data, frame or
    output folder refused; 4 our fault; 130 stopped by hand.
    """
