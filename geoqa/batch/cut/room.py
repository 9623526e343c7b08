"""How much memory a job in parts takes, said before it is begun: measured on a season of work, and not promised."""

from collections.abc import Sequence
from dataclasses import dataclass

from geoqa.model.words import many

GIGABYTE = 1e9
ASKS, ASKS_A_SHOT = 0.45e9, 1_250
"""Bytes of the process that asks, and more for each shot of the whole job: its dearest step, of a million shots."""
WORKER, WORKER_A_SHOT = 0.45e9, 5_000
"""Bytes of a worker, and more for each shot of the largest part."""


@dataclass(frozen=True, kw_only=True)
class Room:
    """Memory that a job in parts takes.

    Attributes
    ----------
    shots, largest : int
        Shots of the whole job, and of its largest part.
    workers : int
        Processes of this machine that judge parts.
    """

    shots: int
    largest: int
    workers: int

    @property
    def asks(self) -> float:
        """Bytes of the process that asks, which looks at all shots."""
        return ASKS + ASKS_A_SHOT * self.shots

    @property
    def work(self) -> float:
        """Bytes of all workers of this machine."""
        return self.workers * (WORKER + WORKER_A_SHOT * self.largest)

    @property
    def whole(self) -> float:
        """Bytes of all of them."""
        return self.asks + self.work

    def said(self) -> str:
        """The arithmetic.

        Examples
        --------
        >>> print(Room(shots=10_060_000, largest=250_000, workers=2).said())
        about 16 GB: 13.0 GB where all shots are looked at (0.45 GB, and 1,250 bytes a shot), 3.4 GB in 2 workers
        """
        asks = f"{ASKS / GIGABYTE:.2f} GB, and {ASKS_A_SHOT:,} bytes a shot"
        workers = f", {self.work / GIGABYTE:.1f} GB in {many(self.workers, 'worker')}" if self.workers else ""
        return (
            f"about {self.whole / GIGABYTE:.0f} GB: {self.asks / GIGABYTE:.1f} GB where all shots are looked at "
            f"({asks}){workers}"
        )


def room(shots: Sequence[int], workers: int) -> Room:
    """Memory that parts of so many shots take."""
    return Room(shots=sum(shots), largest=max(shots), workers=min(workers, len(shots)))
