"""Every error geoqa raises on purpose.

One root, so that ``except GeoqaError`` catches all of them; a builtin twin as
second parent, so that ``except ValueError`` works for those who expect it.
Anything else that escapes is our fault, and the command line says so.
"""

import traceback


class GeoqaError(Exception):
    """Root of every error geoqa raises on purpose."""

    def _render_traceback_(self) -> list[str]:
        """What IPython shows of it in a notebook: its words, which are meant for the reader; ``%debug`` still works."""
        return [f"{type(self).__name__}: {self}"]


class GeometryInputError(GeoqaError, ValueError):
    """Coordinates or shapes that a kernel cannot work with."""


class QuantityError(GeoqaError, ValueError):
    """A length, slope or unit that cannot be read."""


class FrameError(GeoqaError, ValueError):
    """A coordinate system, unit or conversion that is unknown, in conflict or unsafe."""


class AreaError(FrameError):
    """Positions that lie where their coordinate system is not meant to be used."""


class JobError(GeoqaError, ValueError):
    """A job file asks for something that cannot be run."""


class SourceError(GeoqaError, ValueError):
    """An input file that cannot be read as what the job says it is."""


class OrderError(SourceError):
    """Columns that can be read in more than one order, with nothing in the file to tell which.

    Parameters
    ----------
    message : str
        With every reading, and the line that settles it.
    orders : tuple of tuple of str
        Our columns in file order, a tuple for each reading.
    """

    def __init__(self, message: str, orders: tuple[tuple[str, ...], ...]) -> None:
        super().__init__(message)
        self.orders = orders


class LinesAboveError(SourceError):
    """A table whose header is not its first line.

    Parameters
    ----------
    message : str
        With the header, and the line that settles it.
    skip : int
        Lines above the header, blank ones counted.
    sheet : str
        Of a workbook, the sheet; else empty.
    """

    def __init__(self, message: str, skip: int, sheet: str = "") -> None:
        super().__init__(message)
        self.skip, self.sheet = skip, sheet


class LayerError(GeoqaError, ValueError):
    """A table that does not keep the promises made for it.

    Parameters
    ----------
    message : str
    brief : str, optional
        What is wrong, without what else there is.
    """

    def __init__(self, message: str, brief: str = "") -> None:
        super().__init__(message)
        self.brief = brief or message


class PlanError(GeoqaError, ValueError):
    """Steps that cannot be put in an order, or lack what they need."""


class StepError(GeoqaError, RuntimeError):
    """A step that did something other than it declared."""

    def _render_traceback_(self) -> list[str]:
        """All of it also in a notebook: who wrote the step needs the line that failed."""
        return traceback.format_exception(self)


class CheckError(GeoqaError, ValueError):
    """A check, flag or note that is declared in contradiction to itself or to another."""


class PluginError(GeoqaError, LookupError):
    """A reader, step, writer or page that is not there, or cannot be imported."""


class OutputError(GeoqaError, OSError):
    """A result that could not be written; the previous one is still whole."""
