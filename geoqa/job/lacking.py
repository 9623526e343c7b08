"""What a job lacks, told from the heads of its files: steps that will not run, columns, tolerances."""

from collections.abc import Iterable, Iterator

from geoqa.job.document.file import Job
from geoqa.job.plan import plan, roots
from geoqa.model.step import Step
from geoqa.model.tables.columns import TABLES, columns_of


def _tables_in(role: str, columns: tuple[str, ...]) -> set[str]:
    """Tables and columns that a file of a role holds, as steps ask for them."""
    names = _HOLDS.get(role, (role,))
    found = set(names)
    for name in names:
        if name in TABLES and name != "shots":
            found |= {f"{name}.{each.name}" for each in columns_of(name)}
    if role == "shots":
        found |= {f"shots.{column}" for column in columns}
    return found


_HOLDS = {
    "design": ("design_lines", "design_elements", "design_points"),
    "baseline": ("baseline", "baseline_equations"),
    "profile": ("baseline_profile",),
    "structures": ("structure_notes",),
    "right_of_way": ("right_of_way", "design_lines", "design_elements"),
}
"""What a file of a role is read into, where that is not called as the role."""

_TABLES = {
    "baseline_profile": "[profile]",
    "design_lines": "[[design]]",
    "design_elements": "[[design]]",
    "design_points": "[[design]]",
    "control": "[control]",
    "codes": "[codes]",
}
"""Where the job file names what a layer is read from."""


def lacks(job: Job, steps: tuple[Step, ...], heads: Iterable[tuple[str, tuple[str, ...]]]) -> Iterator[str]:
    """Steps that will not run, log columns that are not there, and kinds without a tolerance.

    Parameters
    ----------
    job : Job
    steps : tuple of Step
        What would run.
    heads : iterable of (role, columns)
        What the head of each file holds.
    """
    there = {name for role, columns in heads for name in _tables_in(role, columns)}
    every = {f"shots.{each.name}" for each in columns_of("shots", made_by="")}
    rules = ("limits", "precision", "screening", "check_policy", "level_rules", "reading_rules")
    made = (*rules, "levels", "readings", "sources")
    always = {*made} | every
    always |= {f"{name}.{each.name}" for name in made for each in columns_of(name)}
    idle: dict[tuple[str, ...], list[str]] = {}
    lacking = plan(steps, there | always).lacking
    for step in sorted(lacking):
        lost = {_TABLES.get(need.partition(".")[0], need) for need in roots(step, steps, lacking)}
        idle.setdefault(tuple(sorted(lost)), []).append(step)
    for tables, names in sorted(idle.items()):
        yield f"without {' and '.join(tables)}, {'these steps' if len(names) > 1 else 'one step'} will not run: " + (
            ", ".join(names)
        )
    log = ("solution", "pdop", "satellites", "correction_age", "tilt", "reported_h", "reported_v", "time", "rod_height")
    if absent := [column for column in log if f"shots.{column}" not in there]:
        yield f"the shots carry no {', '.join(absent)}: what depends on them cannot be checked"
    if not job.tolerance:
        yield "no [tolerance.KIND] is given: nothing can be judged, only shown"
