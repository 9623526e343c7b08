"""One job file: load it, plan it, run it, record it."""

from geoqa.job.check import check
from geoqa.job.document.load import load
from geoqa.job.execute import execute
from geoqa.job.plan import default_steps, plan
from geoqa.job.run import run

__all__ = ["check", "default_steps", "execute", "load", "plan", "run"]
