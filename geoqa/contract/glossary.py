"""Words that geoqa prints and nobody declares elsewhere: verdicts, rules, parts of an uncertainty, heads of columns."""

from collections.abc import Mapping
from types import MappingProxyType

from geoqa.contract.glossary_pages import PAGES

VERDICTS = MappingProxyType(
    {
        "IN": "within tolerance: at least 95 % sure that the true value lies within the limits",
        "OUT": "out of tolerance: at least 95 % sure that the true value lies beyond one of the limits",
        "UNDECIDED": "too close to a limit for this measurement: neither IN nor OUT can be proven by it",
        "NO_DATA": "not judged, because something is missing or in question; the reason stands in the column why",
        "NOT_CHECKED": "a shot that no check asks about: its kind has no tolerance and no design to be compared with",
    }
)
"""Verdicts, and what stands in for one."""

RULES = MappingProxyType(
    {
        "guarded": "the rule that is used unless the job names another: IN and OUT only where that is at least 95 % "
        "sure, counted with the uncertainty of the measurement; what lies between is UNDECIDED",
        "simple": "a rule the job may choose: the number as measured against the limit; the uncertainty is printed "
        "and not counted, so that nothing is UNDECIDED",
        "guard": "a rule the job may choose, guard X: IN only within limits that are drawn in by X times the 95 % "
        "uncertainty, OUT only beyond limits that are moved out by as much",
    }
)
"""Rules by which a number becomes a verdict."""

UNCERTAINTY = MappingProxyType(
    {
        "u": "the uncertainty of the number at 1 sigma: about two of three errors are smaller. Twice that is the "
        "95 % uncertainty, which is exceeded once in twenty times",
        "U": "the uncertainty at 95 %: twice u",
        "1 sigma": "two of three errors are smaller than this; twice that is the 95 % uncertainty",
        "95 %": "one error in twenty is larger than this: twice 1 sigma",
        "common": "the part of an uncertainty that all shots of one session share (base, control, geoid, rod): more "
        "shots of the same session do not make it smaller",
        "random": "the part of an uncertainty that each shot has of its own (satellites, bubble, ground): the mean "
        "of several independent shots makes it smaller",
        "horizontal_random": "key of [uncertainty.KIND]: 1 sigma, each axis in plan, of each shot's own",
        "vertical_random": "key of [uncertainty.KIND]: 1 sigma in elevation, of each shot's own",
        "horizontal_common": "key of [uncertainty.KIND]: 1 sigma, each axis in plan, shared by a session",
        "vertical_common": "key of [uncertainty.KIND]: 1 sigma in elevation, shared by a session",
        "expected scatter": "how much check shots should scatter by their stated uncertainty: 1.0 times is as stated",
    }
)
"""Uncertainty, and its two parts."""

ANSWERS = MappingProxyType(
    {
        "named": "the diagnosis names one cause, at a probability of at least 95 %",
        "group": "several causes explain what control shows equally well; what would tell them apart is said",
        "runner-up": "the next best explanation, with the odds against it",
        "method": "the limit follows from the method, not from the job",
        "job": "the limit is one that the job states; as a unit: a length in the linear unit of the job",
        "design": "the number is compared with the design",
        "control": "the number is compared with the published control",
    }
)
"""What the diagnosis answers, and what a number is compared with."""

QUANTITIES = MappingProxyType(
    {
        "length": "a number in the linear unit of the job",
        "slope": "a rise over its run; printed in per cent",
        "ratio": "one length over another; printed in per cent",
        "count": "a number of things; it is no deviation, and has no uncertainty",
        "angle": "a number in degrees",
        "time": "a number in seconds",
        "inf": "no limit to this side; a text beside an empty number, since files hold no infinite one",
        "deg": "degrees",
    }
)
"""What kind of a number was judged."""

ROLES = MappingProxyType(
    {
        "feature": "a shot of the work, that is compared with the design",
        "check": "a shot on a control mark, that is compared with its published coordinates",
        "other": "a shot that is neither: it is shown and not judged",
        "fixed": "a shot with whole-number ambiguities, the only kind whose stated precision can be believed",
        "float": "a shot without whole-number ambiguities: decimetres off at times",
        "differential": "a shot corrected by code only: feet off",
        "autonomous": "a shot without any corrections: tens of feet off",
    }
)
"""Roles of shots, and solutions as a log words them."""

HEADS = MappingProxyType(
    {
        "number": "place in the list, worst first; in a table of facts: what was measured or counted",
        "said": "the verdict in words",
        "label": "which shots or which reach it is about",
        "point": "name of the shot as the crew wrote it",
        "station_text": "station as the trade writes it, 100 to the full station",
        "lower_text": "inf or -inf where there is no limit to the low side",
        "upper_text": "inf or -inf where there is no limit to the high side",
        "toward": "which way the deviation points on the ground: the compass side of a line, or how far north (dN) and "
        "east (dE) of a point",
        "in_words": "deviation and limits in one line",
        "what_and_where": "feature, then the place: along the centre line or the design, and the side",
        "found": "what was measured, with its direction and its 95 % uncertainty",
        "how_sure": "how sure it is that the work is so and not the shot, and what speaks for it",
        "what_next": "what happens next with it: facts for who decides, no order",
        "done_by": "left empty for a person",
        "done_on": "left empty for a person",
        "time_utc": "time of the observation, UTC",
        "correction_age_s": "age of the corrections in seconds",
        "tilt_deg": "lean of the rod from plumb in degrees",
        "tilt_azimuth_deg": "direction from tip to antenna, degrees clockwise from grid north",
        "mark_reference": "where the published values of the mark stand",
        "residual_easting": "easting measured minus published",
        "residual_northing": "northing measured minus published",
        "residual_elevation": "elevation measured minus published",
        "measured_easting": "easting of the check shot",
        "measured_northing": "northing of the check shot",
        "measured_elevation": "elevation of the check shot",
        "published_easting": "easting of the mark as published",
        "published_northing": "northing of the mark as published",
        "published_elevation": "elevation of the mark as published",
        "reason": "why the shot bears the flag, in a sentence",
        "text": "what a line of the sheet About says",
        "dN": "how far north of its design or mark, measured minus design",
        "dE": "how far east of its design or mark, measured minus design",
        "run": "neighbours along one line that are off together: found before anything is judged, and judged by their "
        "mean; as a column: the run this number is a part of",
        "place": "several shots of one place, judged as one value",
        "near": "nearest mark or design",
    }
)
"""Heads of lists, beside the columns of the tables."""

TRADE = MappingProxyType(
    {
        "gap": "a reach of a design line on which no shot was taken; listed where it is longer than the spacing",
        "again": "in the list for a collector: the place gave no number that can be judged; shoot it again",
        "spacing": "the longest reach of a line that may go without a shot, as the job states it for a kind",
        "tolerance": "how far work may be off its design: limits in plan and elevation that the job states for a kind, "
        "with the place they are written in",
        "levelled": "the elevation was measured with a level from a benchmark, not by satellites; it decides what a "
        "shot leaves open",
        "typical": "a value of common practice that stands in where nothing is stated or reported",
        "PRELIMINARY": "not yet reviewed: pages say so until the job names who reviewed it and when, in [review]",
        "grid distances": "distances as computed from map coordinates; on the ground they are longer or shorter by the "
        "scale of the map and the height, a few hundredths in a thousand feet",
        "blunder": "a mistake, not scatter: wrong mark, rod height, foot or point; one cause moves many shots alike",
        "fit": "the shift, turn and scale that bring the check shots closest to their marks",
        "session": "shots of one setting of receiver and base without a break: what is off in it is off for all",
        "mark": "a monument or benchmark whose published coordinates the survey is held against",
        "check shot": "a shot on a mark, taken to see how well the survey agrees with the published coordinates",
        "rod": "the pole with the antenna on top; a wrong rod height moves the elevations of all shots taken with it",
        "lean": "how far the rod stands from plumb; the tip is computed from it, and the error grows with it",
        "geoid": "the model that makes elevations of heights above the ellipsoid; it is off by a few hundredths of a "
        "foot, alike over a site",
        "epoch": "the date a frame's coordinates are given for: the ground moves by inches in years",
        "combined factor": "a distance on the map divided by the same distance on the ground",
        "baseline": "the centre line of the job: stations and offsets of everything are counted along it",
        "reach": "a stretch along a line, from one station to another",
        "flow line": "the bottom of a gutter, along which water runs",
        "reveal": "how high the top of a curb stands above its flow line",
        "tie-in": "where new work meets what stood there before",
        "belly": "a stretch of a pipe that sags, so that water stands in it",
        "low point": "where water stays because it can run neither way",
        "cover": "the height of ground above the top of a pipe",
        "measure-down": "the distance from a rim down to an invert, read on a tape or rod",
        "breakline": "a line along which the ground changes slope, such as a curb; a surface must not cut across it",
        "chord": "a straight piece that stands in for an arc; the design lies beside it by a little",
    }
)
"""Words of the trade that pages and notes use."""

MATTERS = MappingProxyType(
    {
        "item": "what is out, or cannot be told, at one place, under one number that people cite and every run keeps",
        "as read": "as the files say it, with no survey blunder taken off; beside it stands the number without the "
        "blunder, where one is named",
        "held": "not called out of tolerance, because a question of the survey is open that could explain it",
        "to clear first": "what the surveyor must settle before the verdicts that hang on it can be believed",
        "odds": "how likely it is the work that is off, and not the shot: from neighbours, control, repeats, lean and "
        "initialization; weights are common practice, not measured on field data",
        "may be chance": "among so many numbers a few lie beyond a limit by chance; this one could be of those",
        "older design": "the shots of a line agree with another revision of the design than the one they are "
        "held against",
        "superseded": "a design line that a later revision has replaced",
        "field change": "a change of the design that was approved on the site; the work is judged by it from "
        "its date on",
        "evidence": "whether anything was measured at all: no evidence is not the same as not built",
        "not measurable by this method": "no shot can tell it, however carefully taken; another instrument is needed",
    }
)
"""Words of ours for what a run tells."""

GROUPS: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "verdict": VERDICTS,
        "rule": RULES,
        "uncertainty": UNCERTAINTY,
        "answer": ANSWERS,
        "quantity": QUANTITIES,
        "shot": ROLES,
        "head of a list": HEADS,
        "trade": TRADE,
        "what a run tells": MATTERS,
        **PAGES,
    }
)
"""All of these by what kind of a word they are."""
