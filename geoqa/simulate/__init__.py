"""Jobs with planted truth: what the tool is trained and scored on."""

from geoqa.simulate.job_folder import write
from geoqa.simulate.make import Simulated, make

__all__ = ["Simulated", "make", "write"]
