"""Words that stand on the report and on the page of a round: chapters, heads of tables, states of an item."""

from collections.abc import Mapping
from types import MappingProxyType

REPORT = MappingProxyType(
    {
        "Items": "every place that is out, undecided or not judged, one row an item, in three parts",
        "The work": "what was built otherwise than designed, and by how much",
        "What was not measured": "what of the design has no shot, and shots that may be none",
        "The survey": "what the surveyor must clear first, with the check shots that show it",
        "Scope": "what was shot, and the files that were read, with a hash of each",
        "Method": "how it was measured, by what the log says, and how it was compared",
        "In the field, as the log has it": "what the log says of the way the shots were taken; nothing of it was seen",
        "Compared, and decided": "signs of deviations, and the rule by which a number becomes a verdict",
        "Frame and metadata": "coordinate system, heights and dates, as rules of records ask for them",
        "Control": "check shots on published marks, measured minus published",
        "Shifts of sessions": "by how much each session as a whole lies off the marks, and whether that is proven",
        "Accuracy": "whether the check shots suffice for a statement of accuracy under a standard; if not, why",
        "Uncertainty of one shot": "where the uncertainty comes from, and what one shot can prove by it",
        "Results by kind": "how many numbers of each kind and check are out, undecided, not judged and in",
        "How deviations spread": "one histogram a kind and check, with the tolerance as dashed lines",
        "Along the lines": "profiles of lines with the design, the shots, 2 sigma of each and what is allowed",
        "Red lines": "design values, struck where the record differs, beside the value of record and its source",
        "Changes since earlier runs": "what of the job, its files and the versions changed from run to run, and why",
        "Behind the items": "the shots behind each item that is out: file, line, and what stands there",
        "Limits and cautions": "what the report cannot say",
        "Where each value comes from": "the letters M, R and D behind values",
        "Not judged, and why": "reasons why numbers have no verdict, with how many",
        "Notes of the run": "what the run found out about files, settings and the survey",
        "For the licensee": "an empty block: wording, signature and seal are for the licensed professional",
        "Appendix: the checks of this run": "what each check compares, and what it cannot show",
        "By session": "means and scatter of the check shots of each session",
        "By mark and session": "means of the check shots on each mark",
        "Every check shot": "each check shot with what it lies off its mark",
        "Published marks": "control points as they were published, with their source",
        "What was shot": "shots of each kind",
        "What one shot can prove": "how far within or beyond its limit a number must lie to be decided by one shot",
        "Sessions": "when each session was, and how many shots and initializations it has",
        "M": "measured by us: shots of this survey, and numbers computed from them",
        "R": "reported by others: published marks, sizes from a list, what a log says of itself",
        "D": "from design: copied from the drawings, not measured",
        "RMSE": "root mean square error: the root of the mean of the squares of what check shots lie off their marks",
        "NSSDA": "a federal standard of accuracy: 95 % from the RMSE of at least 20 independent check points",
        "ASPRS": "a standard of accuracy of 2023: the RMSE of at least 30 independent check points",
        "RMSE plan": "the RMSE of check shots in plan, both axes together",
        "RMSE elev.": "the RMSE of check shots in elevation",
        "95 % plan": "what 95 % of errors with this RMSE stay within in plan; no statement of accuracy",
        "95 % elev.": "what 95 % of errors with this RMSE stay within in elevation; no statement of accuracy",
        "1 sigma, plan / elev.": "the uncertainty of a published mark, in plan and in elevation",
        "Mean E": "mean of easting, measured minus published",
        "Mean N": "mean of northing, measured minus published",
        "E": "easting; of a check shot: measured minus published",
        "N": "northing; of a check shot: measured minus published",
        "Elev.": "elevation; of a check shot: measured minus published",
        "Plan": "distance in plan, whatever its direction",
        "UTC": "universal time: local time without its zone",
        "Files that were read": "every file of the job with what it was taken for, its unit, its sheet and its hash",
        "Class of survey": "which class of a state's rule the survey is of; the licensed professional states it",
        "Positional accuracy": "the accuracy of positions at 95 %, as a rule asks for it",
        "Combined grid factor": "a distance on the map divided by the same distance on the ground",
        "Record": "the value as it was built; none while a blunder or a question of the survey is open",
        "Own": "the part of the uncertainty that is of this shot alone",
        "All": "the whole uncertainty: the root of the sum of squares of its parts",
        "Proves in within": "a number this near to its design is proven within tolerance by one shot",
        "Proves out beyond": "a number this far from its design is proven out of tolerance by one shot",
        "U below a third": "whether the 95 % uncertainty is smaller than a third of the tolerance",
        "Expected within": "the sum that chance alone would stay within",
        "Farthest in plan": "the check shot that lies farthest off its mark in plan",
        "In no mean, because": "why a check shot is shown and left out of every mean",
        "95 % band": "the true value lies within it in 19 of 20 cases",
        "Worst of 20": "what 95 % of such errors stay within, in plan and in elevation; no statement of accuracy",
        "Left out": "check shots that a known blunder or a listed repeat touches",
        "Used as": "held: the survey was fitted to this mark; independent: it was not",
        "Mean ± spread": "mean of the deviations, and their standard deviation",
        "Difference": "the value of record minus the design",
        "Source of design": "sheet and revision of the drawing, or the file, that the design value is from",
        "Read as": "what the job takes a file for",
        "SHA-256": "a hash of a file: another one as soon as a single byte differs",
        "Asked for": "what rules such as 21 NCAC 56.1607 ask a survey to state",
        "Stated": "what this job says of it; what is missing is named, and nothing is filled in",
        "How sure, what next": "how likely it is the work and not the shot; what happens next is for who decides",
        "What it cannot show": "what may be wrong although the check finds nothing",
    }
)
"""Chapters, captions and heads of the report."""

ROUNDS = MappingProxyType(
    {
        "round": "one delivery of a job: the output folder of one run; geoqa compare sets rounds beside each other",
        "new": "an item that no earlier round has",
        "reopened": "an item that was closed, or gone, and is listed again",
        "open": "an item that is listed in this round",
        "partly": "judged again in part, as files of a round write it",
        "not-judged": "not judged again, as files of a round write it",
        "still open": "an item of the round before that is out or undecided in this one too",
        "judged again in part": "an item of which some places are judged anew and within, and others are not",
        "not judged again": "an item that this round does not measure, or cannot judge: what was found stands",
        "closed": "every place of an item was judged again by the same check, and is within its limits",
        "untouched": "the same numbers from the same rows of files, proven by their hashes",
        "neighbour": "the place just before or just behind rework on its line: named where it was not shot again",
        "Rests on": "why an item has its state in this round",
        "identical": "each file of an output folder is what its record says, and what its job makes once more",
        "byte for byte": "two files with the same hash: no character differs",
        "accept": "a reviewer takes an item as it was built; the verdict stays",
        "fix": "a reviewer wants the work of an item mended",
        "re-measure": "a reviewer wants an item measured again before anything is mended",
        "field-change": "a reviewer changes the design at an item: from then on the work is judged by the change, and "
        "the verdict against the design before is kept beside it",
        "conflict": "reviewers decide otherwise on the same item: nothing of it holds until they agree",
    }
)
"""Words of what comes after a run."""

SEASON = MappingProxyType(
    {
        "season": "what many jobs say together: geoqa batch writes it",
        "part": "what one job told a batch, kept until one of its files changes",
        "kept": "a job of a batch that was judged before, and of which nothing has changed since",
        "refused": "a job of a batch that could not be judged; the reason stands beside it",
        "moved": "a mark that lies otherwise from some job on, by more than chance explains, all questions counted",
        "still": "a mark that is not proven to have moved; the likeliest move stands beside it",
        "few": "a mark that too few jobs or sessions saw beside others to say whether it moved",
        "off": "a receiver that measures otherwise than the others, by more than chance explains",
        "agrees": "a receiver that is not proven to measure otherwise than the others",
        "alone": "a receiver that cannot be compared: too few jobs or sites beside others",
        "Achieved on control": "root mean square of check shots less what is published, 1 sigma, with its band",
        "Chance, all asked": "how many batches of a hundred show as much by chance somewhere, where there is nothing",
        "Size over u": "a size in standard uncertainties of it",
    }
)
"""Words of the page and the tables of a season."""

PAGES: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {"report": REPORT, "round or decision": ROUNDS, "season": SEASON}
)
