"""What the report cannot say: limits of the method, cautions, notes of the run, and room for a signature."""

from collections.abc import Iterator

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.model.results import Results
from geoqa.present.report.markup import Html, bullets, tag
from geoqa.present.report.numbers import reported_numbers
from geoqa.present.report.origin import key

_RAMPS = frozenset({"ramp", "walk", "walk-front", "walk-back", "detectable-warning", "turning-space"})
_LINES = ("Name", "Licence number and state", "Date", "Statement of the licensee")


def limits(results: Results) -> Iterator[Html]:
    """Give cautions, what was not judged and why, and every note of the run."""
    yield bullets(_cautions(results))
    yield tag("h3", "Where each value comes from")
    yield key()
    if why := _why_not(results):
        yield tag("h3", "Not judged, and why")
        yield bullets(why)
    if results.notes:
        yield tag("h3", "Notes of the run")
        yield bullets(results.notes, kind="notes")


def _cautions(results: Results) -> Iterator[str]:
    kinds = set(results.shots["kind"].dropna()) if "kind" in results.shots else set()
    for name in ("design_lines", "design_points"):
        if name in results.layers:
            kinds |= set(results.layers[name]["kind"].dropna())
    yield words.CERTIFICATION
    if results.title.preliminary:
        yield f"{words.PRELIMINARY}."
    if kinds & words.BURIED_KINDS:
        yield f"{words.BURIED} Buried work is shown where it was shot or drawn; between two shots nothing is known."
    if kinds & _RAMPS:
        yield (
            "Walks and ramps: changes in level, openings, surface and obstructions between shots are not measured; a "
            "slope from shots is no reading of a level, and what a code allows may be measured in another way."
        )
    yield (
        "Tolerances are those that the job states, with the source it states; local codes and the contract may ask "
        "for others, and what they ask for was not looked up."
    )
    yield "Undecided is no defect and no pass: the measurement cannot tell. Between two shots nothing was measured."
    yield "A probability rests on the stated uncertainties; where these are too small, the report is too sure."


def _why_not(results: Results) -> list[str]:
    reported = reported_numbers(results)
    mute = reported[reported["verdict"] == "NO_DATA"]
    told: dict[str, int] = {}
    for check, why in zip(mute["check"], mute["why"], strict=True):
        text = check_named(check).reason(why).text if isinstance(why, str) else "no reason is given"
        told[text] = told.get(text, 0) + 1
    return [
        f"{words.many(count, 'number')}: {text}."
        for text, count in sorted(told.items(), key=lambda each: (-each[1], each[0]))
    ]


def signature(results: Results) -> Iterator[Html]:
    """Give an empty block: wording, signature and seal are the licensee's."""
    yield tag(
        "p",
        "Left empty by geoqa, which certifies nothing. Wording, signature and seal are for the licensed "
        "professional in responsible charge.",
    )
    rows = "".join(f'<div class="line"><span>{each}</span></div>' for each in _LINES)
    yield Html(f'<div class="signature"><div>{rows}</div><div class="seal"><span>Signature and seal</span></div></div>')
