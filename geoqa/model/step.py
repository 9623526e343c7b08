"""A step: one piece of processing that says what it needs and what it makes."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, ClassVar

from pydantic import BaseModel, ConfigDict

if TYPE_CHECKING:
    import pandas as pd


class Step(BaseModel):
    """Base of every step: a frozen record of method options with one method, `run`.

    A step holds no state, opens no file and keeps no limits; limits are in the `limits` layer.

    Attributes
    ----------
    name : str
        The name a job file uses.
    needs : tuple of str
        Layers, or ``layer.column``, that must be there.
    wants : tuple of str
        Layers or columns it waits for if some step makes them, and can do without.
    only_with : tuple of str
        Layers of a job without which nobody misses it: it is then no part of the plan, and nothing is said of it.
    gives : tuple of str
        New layers.
    extends : tuple of str
        ``layer.column``: same rows, exactly these new columns.
    adds : tuple of str
        Tables that exist from the start, to which rows are appended.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: ClassVar[str] = ""
    needs: ClassVar[tuple[str, ...]] = ()
    wants: ClassVar[tuple[str, ...]] = ()
    only_with: ClassVar[tuple[str, ...]] = ()
    gives: ClassVar[tuple[str, ...]] = ()
    extends: ClassVar[tuple[str, ...]] = ()
    adds: ClassVar[tuple[str, ...]] = ()

    def run(self, layers: Any) -> "Mapping[str, pd.DataFrame]":
        """Table to arrays to kernels to table; returns only what it made.

        A step may say `geoqa.Layers` of what it is given, or the plain layers below it.
        """
        raise NotImplementedError

    def makes(self) -> frozenset[str]:
        """Everything other steps may need from this one."""
        return frozenset({*self.gives, *self.extends, *self.adds})
