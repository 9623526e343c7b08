"""What a reader must know before the numbers, worst first; what the log does not hold comes last."""

from geoqa.contract import control_sentences as control
from geoqa.contract import design_sentences as design
from geoqa.contract import file_sentences as files
from geoqa.contract import precision_sentences as precision
from geoqa.contract import together_sentences as together
from geoqa.contract import tolerance_sentences as tolerances
from geoqa.contract.decisions import decisions_apart, decisions_changed
from geoqa.contract.level_sentences import level_run
from geoqa.contract.linework_sentences import (
    line_shift,
    lines_not_drawn,
    linework,
    loose_session,
    passes_differ,
    session_mean,
)
from geoqa.contract.surface_sentences import asbuilt_surface
from geoqa.contract.utility_sentences import drawn_at
from geoqa.model.vocabulary import Note

_LISTED = (
    Note(name="survey-blunder", sentence=control.blunder, subject="survey", order=10),
    Note(name="design-apart", sentence=design.design_apart, subject="survey", order=15),
    Note(
        name="design-revisions",
        sentence="Sheet {subject} is listed in several revisions: {written}. Shots are held against all of them; take "
        "the [[design]] that no longer holds out of the job.",
        subject="survey",
        order=18,
    ),
    Note(name="older-design", sentence=design.older_design, subject="survey", order=17,
         about="Lines of one design file that all shots miss by one shift, in two sessions or more, while other lines "
         "of these sessions are sound: a superseded revision looks so. Verdicts wait only where the register says that "
         "the file is older."),
    Note(name="other-foot", sentence=design.other_foot, subject="survey", order=16,
         about="A design file read in one of the two feet whose lines and points nearly all shots miss by what the two "
         "feet differ by at these coordinates, and fit in the other. Verdicts against it wait."),
    Note(name="field-change", sentence=together.field_change, subject="method", order=19),
    Note(name="decisions-changed", sentence=decisions_changed, subject="method", order=22,
         about="A reviewer decided on an item, and what is judged of it has changed since: another verdict, another "
         "number, other limits, or more or fewer findings. The decision is kept in the register of decisions and is "
         "shown nowhere else until it is taken again."),
    Note(name="decisions-apart", sentence=decisions_apart, subject="method", order=22,
         about="Reviewers decided otherwise on the same item. None of them holds, whoever was first or last, until "
         "they say the same or one is taken back."),
    Note(name="frame-doubt", sentence=files.frame_doubt, subject="survey", order=20,
         about="The check shots of a file fit their marks better in another frame or unit than in the declared one."),
    Note(name="session-mean", sentence=session_mean, subject="survey", order=27,
         about="What the shots of a session share against the design over three lines or more: proven beyond what its "
         "shots are stated to share, and not what its check shots tell."),
    Note(name="loose-session", sentence=loose_session, subject="survey", order=14,
         about="A session without a check shot most of whose elevations lie off the design together: the work or the "
         "session is off, and nothing tells which. Each elevation of it is read both ways, and a verdict that only one "
         "of the two gives is none. Where no shift is measurable, its elevations share at least what is left open."),
    Note(name="passes-differ", sentence=passes_differ, subject="survey", order=29,
         about="A line was shot again, and the later pass lies higher or lower than the first one by more than twice "
         "what the uncertainties of both allow. Each pass keeps numbers of its own."),
    Note(name="rule-sets-differ", listing=together.rule_sets_differ, together=("subject", "place"), subject="method",
         order=21,
         about="Several rule sets limit one number, and say different things of it. Each verdict is kept; the "
         "strictest is reported and counted, once for each number. Stricter is a set whose limits lie within those "
         "of the others, whatever was measured."),
    Note(name="session-shift", sentence=control.session_shift, subject="survey", order=25),
    Note(name="tilt-test", sentence=precision.tilt_test, subject="survey", order=30,
         about="How far the rod may lean on each kind, learned from tilted and plumb shots of the same points: the "
         "cautious limit, for work that has used up half of its tolerance."),
    Note(
        name="assumed-unit",
        sentence="{written}. If they are in another, state it in the table of that file, e.g. vertical = \"ft\".",
        subject="survey",
        order=40,
    ),
    Note(name="file-asks", sentence="{written}", subject="survey", order=41),
    Note(
        name="nowhere-on-earth",
        sentence="No way from {written} to longitude and latitude is known: there is no file by longitude and "
        "latitude, and no link to a place on another map. Everything on the grid is whole.",
        subject="method",
        order=44,
    ),
    Note(name="listed-twice", sentence=files.listed_twice, subject="evidence", order=45),
    Note(name="log-confidence", sentence=precision.log_confidence, subject="method", order=45),
    Note(name="rows-left-out", sentence=files.rows_left_out, subject="evidence", order=50),
    Note(name="contacts-left-out", sentence=files.contacts_left_out, subject="evidence", order=53),
    Note(name="damaged-names", listing=files.damaged_names, subject="evidence", order=55),
    Note(
        name="nothing-judged",
        sentence="Nothing was judged. A shot is judged where its code stands in [codes], the design or control holds "
        "something of its kind, and a [tolerance.KIND] is given.",
        subject="evidence",
        order=60,
    ),
    Note(name="line-shift", sentence=line_shift, subject="work", order=66,
         about="A line whose mean offset, or elevation, is proven not to be 0, all lines counted, and reaches half of "
         "its limit. Not told where a run says it."),
    Note(
        name="level-changes",
        sentence="Walks and ramps: changes in level of 1/4 in, and openings, are not measurable by this method; no "
        "check here says that they keep a limit.",
        subject="method",
        order=67,
    ),
    Note(
        name="ramps-of-one-name",
        sentence="{count} ramps bear the name {subject}: their corners lie too far apart to be of one. They are judged "
        "as {written}, in the order they were shot; give each a line ID of its own, or the right one.",
        subject="evidence",
        order=64,
    ),
    Note(
        name="edges-without-pair", listing=tolerances.edges_without_pair, together=("place",), subject="evidence",
        order=63,
    ),
    Note(
        name="reveal-without-pair",
        sentence="A reveal is asked of {subject}, and nothing is judged by it: no pair of codes makes such a kind. It "
        "stands under the words that the kinds of top and flow line share, as curb for curb-top and curb-flow, and the "
        "code list says pairs_with of either of them.",
        subject="work",
        order=62,
    ),
    Note(name="undecided", listing=tolerances.undecided, together=("subject", "place"), subject="method", order=68,
         about="Of this kind one shot proves fewer than half of perfect places. Counted are the numbers that stay "
         "undecided, and how many of them each remedy would decide: taking off what a session is proven to be shifted "
         "by, with the line of the job that its own note names; one more shot of each place in another checked session "
         "4 h or more later; one reading of a better method at each, as the remedy of each finding names it. The last "
         "two are expected numbers."),
    Note(name="many-checks", sentence=together.many_checks, subject="method", order=69,
         about="Of many sound numbers some are called out by chance. What stands is chosen so that its share of sound "
         "work is at most that on average over jobs (Benjamini and Hochberg 1995, over the numbers that were measured "
         "beyond a limit: work well within says nothing of them): of jobs without a defect something stands in at most "
         "that share. How many sound numbers chance would call out at most is told by those beyond a limit and not out "
         "(Storey, Taylor and Siegmund 2004). What does not stand may be chance, or a defect that is not proven. No "
         "verdict is changed by it."),
    Note(name="limit-use", sentence=together.limit_use, subject="method", order=69,
         about="Where a contract forbids an undue proportion of work near the limit. What measuring adds to the "
         "scatter is taken out; ± at 95 %."),
    Note(name="unprovable", sentence=tolerances.unprovable, subject="method", order=70),
    Note(name="no-tolerance", listing=tolerances.no_tolerance, subject="evidence", order=80),
    Note(name="unknown-codes", listing=files.unknown_codes, subject="evidence", order=81),
    Note(name="rule-kind", sentence=tolerances.rule_kind, subject="evidence", order=89,
         about="A rule file limits a kind that this job does not have, or that its tolerance does not hold to it."),
    Note(name="unused-tolerance", sentence=tolerances.unused_tolerance, subject="evidence", order=90),
    Note(name="readings-idle", sentence=tolerances.readings_idle, subject="evidence", order=90),
    Note(name="surface-not-compared", sentence=design.surface_not_compared, subject="evidence", order=91),
    Note(name="asbuilt-surface", sentence=asbuilt_surface, subject="evidence", order=92),
    Note(
        name="no-tolerance-of-check", listing=tolerances.no_tolerance_of_check, together=("variant", "place"),
        subject="evidence", order=100,
    ),
    Note(name="no-spacing", listing=tolerances.no_spacing, subject="evidence", order=101),
    Note(name="screening-rule", sentence=files.screening_rule, subject="evidence", order=101),
    Note(name="zero-design-elevation", sentence=design.zero_design, subject="evidence", order=102),
    Note(name="pipes-drawn-at", sentence=drawn_at, subject="evidence", order=60,
         about="A design line of a kind called top is lowered to the invert by size and wall. Where nearly all inverts "
         "noted of the kind in one file lie above that by just as much, it seems to draw inverts: they wait, and no "
         "blunder is claimed from shots on top of these pipes."),
    Note(name="limits-of-work", sentence=design.limits_of_work, subject="evidence", order=103),
    Note(
        name="chorded-curve", listing=design.chorded_curves, together=("variant",), subject="evidence", order=104,
    ),
    Note(name="lines-not-drawn", sentence=lines_not_drawn, subject="evidence", order=107),
    Note(name="linework", listing=linework, subject="evidence", order=107,
         about="Shots that are in no as-built line, and places where a line is not drawn on."),
    Note(name="drawn-twice", listing=design.drawn_twice, subject="evidence", order=105),
    Note(name="no-station", listing=design.no_station, subject="evidence", order=106),
    Note(name="not-used", sentence="{subject}: {written}.", subject="evidence", order=107),
    Note(name="site-fit", sentence=control.site_fit, subject="survey", order=110),
    Note(name="control-widens", sentence=control.control_widens, subject="survey", order=112),
    Note(name="session-together", sentence=control.session_together, subject="survey", order=113),
    Note(name="believed-parts", listing=precision.believed_parts, subject="survey", order=114),
    Note(name="wide-lines", listing=precision.wide_lines, together=("place",), subject="survey", order=114),
    Note(name="assumed-mark-u", sentence=control.assumed_mark_u, subject="survey", order=115),
    Note(name="control-marks", listing=control.control_marks, together=("place",), subject="survey", order=120),
    Note(name="left-out", sentence=control.left_out, subject="survey", order=125),
    Note(name="level-run", sentence=level_run, subject="survey", order=126),
    Note(name="check-on-control", sentence=control.check_missing, subject="survey", order=130),
    Note(name="no-control", sentence="No control was given: whether the whole survey is shifted cannot be told. Add "
         "--control FILE.", subject="evidence", order=135),
    Note(name="no-code-list", sentence="No code list was given: every code is taken as it stands, and pairs of codes "
         "are not checked.", subject="evidence", order=136),
    Note(name="no-design", sentence="No design was given: lines are only compared with themselves.",
         subject="evidence", order=137),
    Note(name="row-trouble", sentence="Row not read whole: {written}", subject="evidence", order=140),
    Note(name="budget", listing=precision.budget, together=("variant",), subject="method", order=150),
    Note(name="step-left-out", sentence="Step '{subject}' did not run: it needs {written}, which this job does not "
         "have.", subject="evidence", order=160),
    Note(name="diagnosis-gap", sentence=control.diagnosis_gap,
         subject="evidence", order=170),
    Note(name="screening-gap", sentence=files.screening_gap,
         subject="evidence", order=171),
    Note(name="impossible", sentence="Impossible without {subject} in the log: {place}; {written}.",
         subject="evidence", order=180),
)  # fmt: skip
NOTES = tuple(sorted(_LISTED, key=lambda each: each.order))
"""In the order in which they are printed."""

OF_THE_DAY = (
    *("frame-doubt", "file-asks", "listed-twice", "no-control", "no-code-list", "no-design", "impossible"),
    "row-trouble",
)
"""Notes on the page of the day, in their order; what else was noticed there is an item of its list."""
