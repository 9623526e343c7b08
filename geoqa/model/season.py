"""What many jobs say together, as tables: made once, and told by a page and by files of delimited text."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

LEVEL = 0.05
"""Chance that a batch in which nothing is wrong names any mark or any receiver: 5 % for each of the two questions."""
FEWEST_JOBS = 2
"""Jobs on either side of a move: what one job alone shows may be that job's own."""
FEWEST_OF_RECEIVER = 3
"""Jobs of a receiver, and of others beside it, below which it is compared with nobody."""
AXES = ("easting", "northing", "elevation")


@dataclass(frozen=True, kw_only=True, eq=False)
class Season:
    """Tables of a batch; lengths are in one unit, residuals measured minus published.

    Attributes
    ----------
    unit : str
    jobs : DataFrame
        A row a job: job, name, date, owner, state (judged, kept, refused), shots, OUT, UNDECIDED, NO_DATA, IN,
        rows_left_out, trouble, kind_of_trouble.
    shares : DataFrame
        Numbers of the work by owner and kind: owner, kind, numbers, OUT, UNDECIDED, NO_DATA, IN.
    achieved : DataFrame
        by (all, receiver, session, hours, crew), name, jobs, sessions, shots, u_h, u_h_low, u_h_high, u_v, u_v_low,
        u_v_high, mean_easting, mean_northing, mean_elevation.
    marks : DataFrame
        A row a mark and axis: mark, easting, northing, axis, jobs, sessions, state (moved, still, few), size, u, low,
        high, t, p, after, before (dates between which it moved, most likely), published (how many places were
        published for it).
    mark_values : DataFrame
        mark, axis, job, session, time, value, u: a mark against the others of its session, from before it moved.
    receivers : DataFrame
        receiver, axis, jobs, state (off, agrees, alone), size, u, low, high, t, p, others (receivers beside it).
    causes : DataFrame
        cause, title, jobs, shots, receivers, where.
    alone : int
        Sessions that checked one mark only: they say nothing of a mark.
    without_time : int
        Check shots without a time, in jobs without a date.
    clocks : tuple of str
        Zones of the hours of the day.
    frames : int
        Frames of the jobs; marks of two are never taken for one.
    without_receiver : int
        Files of shots whose job does not state a receiver.
    crews : bool
        Whether crews were asked for.
    others : tuple of str
        TOML files that are no jobs.
    """

    unit: str
    jobs: "pd.DataFrame"
    shares: "pd.DataFrame"
    achieved: "pd.DataFrame"
    marks: "pd.DataFrame"
    mark_values: "pd.DataFrame"
    receivers: "pd.DataFrame"
    causes: "pd.DataFrame"
    alone: int = 0
    without_time: int = 0
    clocks: tuple[str, ...] = ()
    frames: int = 1
    without_receiver: int = 0
    crews: bool = False
    others: tuple[str, ...] = ()
