"""The test bench: faults a demo does not hold, stories, a season of work, and the scores.

It stands on `geoqa.simulate` and no command reaches it. Importing it enters its plants, always in the same
order, since the order of the register is the order of sowing.
"""

from bench import blunders, field_faults, leaning, variants
from bench.variants import write
from geoqa.simulate import Simulated, make

__all__ = ["Simulated", "blunders", "field_faults", "leaning", "make", "variants", "write"]
