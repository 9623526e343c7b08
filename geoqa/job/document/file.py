"""The job file, table by table: what may stand there, in which unit, and why."""

import datetime
import re
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import (
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)
from pydantic_core import PydanticCustomError

from geoqa.job.document.input_tables import (
    AlongTable,
    BackgroundTable,
    DesignTable,
    FileTable,
    LevelsTable,
    ListedFileTable,
    PhotosTable,
    ReadingsTable,
    RightOfWayTable,
    RulesTable,
    ShotsTable,
    StructuresTable,
    Uncertainty,
)
from geoqa.job.document.named import REQUIRED, Named, Off, ReadAs
from geoqa.job.document.rule_sets import RuleSet, rule_set
from geoqa.job.document.table import FilePath, Table
from geoqa.job.document.tolerance import OWN_RULES, OfChecks
from geoqa.job.document.toml_text import toml_text
from geoqa.job.document.written import as_tables

UNSTATED = "unstated"
"""Type of the problem that the job file does not say its coordinate system."""


class Head(Table):
    """`[job]`: the title block."""

    name: str = Field(min_length=1, max_length=200, description="Name of the project, for the title block.")
    revision: str = Field("", max_length=200, description="Design revision and its date, as the drawing says it.")
    date: datetime.date | None = Field(None, description="Date of the job; without it, that of the newest shot.")
    client: str = Field("", max_length=200, description="For whom.")
    time_zone: str | None = Field(
        None,
        description="Zone of times without Z or offset in every file of shots that states none of its own, "
        "e.g. America/Chicago.",
    )
    previous: FilePath | None = Field(
        None,
        description="Output folder of the round before, from the job file's folder: the map says what has changed.",
    )
    version: Literal[1] = Field(1, description="Version of this file's format.")

    @field_validator("time_zone")
    @classmethod
    def _is_a_zone(cls, value: str | None) -> str | None:
        if value == REQUIRED:
            raise PydanticCustomError(
                "required", "still to be filled in: the comment behind it says what may stand there", {}
            )
        if value is not None and not _is_zone(value):
            raise PydanticCustomError(
                "time_zone", "no time zone is named '{value}'; use a name such as America/Chicago or UTC",
                {"value": value},
            )  # fmt: skip
        return value


def _is_zone(name: str) -> bool:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


class Review(Table):
    """`[review]`: recorded by the licensee in responsible charge; until then every page says PRELIMINARY."""

    by: str = Field(min_length=1, description="Who reviewed the results.")
    on: datetime.date = Field(description="When.")


class GeoidTable(Table):
    """`[frame.geoid]`: a geoid grid on this machine, needed when shots carry ellipsoid heights."""

    file: FilePath = Field(description="Path of the grid, from the job file's folder.")
    name: str = Field(min_length=1, description="Name of the model, as the title block prints it.")
    check: tuple[float, float, float] = Field(
        description="A known value of the model: latitude, longitude (degrees), separation (metres)."
    )


class FrameTable(Table):
    """`[frame]`: what a coordinate of this job means."""

    horizontal: str = Field(description='Projected coordinate system, e.g. "EPSG:6547", or WKT.')
    vertical: str | None = Field(None, description='Vertical system, e.g. "EPSG:8228".')
    realization: str | None = Field(None, description="Realization the coordinates are in, in words.")
    epoch: float | None = Field(None, ge=1900, le=2200, description="Decimal year of the coordinates.")
    geoid: GeoidTable | None = None
    combined_factor: float | None = Field(None, gt=0.99, lt=1.01, description="Grid over ground.")
    ground_origin: tuple[float, float] | None = Field(
        None, description="Easting and northing at which ground and grid coordinates are equal, before the shift."
    )
    ground_shift: tuple[float, float] | None = Field(
        None, description="What was added to ground easting and northing after scaling; negative: shortened."
    )
    ground_reference: str | None = Field(
        None, min_length=1, description="Where factor, origin and shift are stated: drawing and note, or control sheet."
    )

    @field_validator("horizontal")
    @classmethod
    def _is_filled_in(cls, value: str) -> str:
        if value.strip() in ("", REQUIRED):
            raise PydanticCustomError(
                UNSTATED, 'still to be filled in: the coordinate system of the job, by its code, e.g. "EPSG:6547"', {}
            )
        return value

    @model_validator(mode="after")
    def _factor_needs_origin(self) -> "FrameTable":
        if self.combined_factor is not None and self.ground_origin is None:
            raise PydanticCustomError(
                "origin", "combined_factor needs ground_origin = [easting, northing]; a factor alone moves nothing", {}
            )
        if self.combined_factor is not None and self.ground_reference is None:
            raise PydanticCustomError(
                "reference",
                'combined_factor needs ground_reference = "…": where factor, origin and shift are stated',
                {},
            )
        if self.combined_factor is None and (self.ground_origin or self.ground_shift or self.ground_reference):
            raise PydanticCustomError(
                "factor", "ground_origin, ground_shift and ground_reference need combined_factor (grid over ground)", {}
            )
        return self


class Tilt(Table):
    """`[tilt]`: how well a leaning rod finds its tip, from the crew's own tilt test; 1 sigma, biases included."""

    heading_deg: float = Field(gt=0, lt=90, description="Of the lean's azimuth, degrees.")
    angle_deg: float = Field(gt=0, lt=45, description="Of the tilt angle, degrees.")
    up_to_deg: float = Field(gt=0, le=90, description="Largest tilt tested, degrees; nothing is claimed beyond.")
    reference: str = Field(min_length=1, description="How these are known: which test, how many shots.")


_RULE = re.compile(r"^(guarded|simple|guard \d+(\.\d+)?)$")


class Decision(Table):
    """`[decision]`: how a number becomes a verdict."""

    rule: str = Field(
        "guarded",
        json_schema_extra={"pattern": _RULE.pattern},
        description="guarded (95 % either way), simple (no guard band), or guard R (R times U).",
    )

    @field_validator("rule")
    @classmethod
    def _is_known(cls, rule: str) -> str:
        if not _RULE.match(rule):
            raise PydanticCustomError("rule", 'must be guarded, simple, or guard R, such as "guard 1.5"', {})
        return rule


class Outputs(Table):
    """`[outputs]`: what is written, and where."""

    folder: FilePath = Field("out", min_length=1, description="Folder, from the job file's folder.")
    layers: tuple[Annotated[Any, Named("writers")], ...] = Field(
        ("gpkg", "geojson", "csv", "summary", "sheets", "field", "dxf"), validate_default=True
    )
    pages: tuple[Annotated[Any, Named("pages")], ...] = Field(("map", "report"), validate_default=True)
    personal: bool = Field(
        False,
        description="Hand over crew notes with a telephone number or an e-mail address, and the folders of photos.",
    )

    @property
    def every(self) -> tuple[Any, ...]:
        """Writers and pages."""
        return (*self.layers, *self.pages)


class Edit(Table):
    """`[[edits]]`: why something of this job or of its files was changed since the run before."""

    what: str = Field(
        min_length=1,
        max_length=300,
        description="The file, with a shot where it is one row, or the key of this file, as the log of edits names it.",
    )
    why: str = Field(min_length=1, max_length=300, description="The reason, in words.")
    on: datetime.date | None = Field(None, description="When.")
    by: str = Field("", max_length=200, description="By whom; only with personal = true in [outputs].")


_SHOTS = ReadAs("shots", lambda: ShotsTable)


def _in_zone(table: Any, zone: str) -> Any:
    """A table of shots with the zone of the job, unless it states its own or its reader takes none."""
    if not isinstance(table, dict) or "time_zone" in table:
        return table
    try:
        takes = "time_zone" in _SHOTS.plugin(table).model_fields
    except PydanticCustomError:  # told where the table itself is made
        return table
    return {**table, "time_zone": zone} if takes else table


class Job(Table):
    """A whole job file."""

    job: Head
    review: Review | None = None
    frame: FrameTable
    shots: tuple[Annotated[Any, _SHOTS], ...]
    control: Annotated[Any, ReadAs("control", lambda: FileTable)] | None = None
    codes: Annotated[Any, ReadAs("codes", lambda: FileTable)] | None = None
    screening: Annotated[Any, ReadAs("screening", lambda: FileTable)] | None = None
    check_policy: Annotated[Any, ReadAs("check_policy", lambda: FileTable)] | None = None
    levels: tuple[Annotated[Any, ReadAs("levels", lambda: LevelsTable)], ...] = ()
    readings: tuple[Annotated[Any, ReadAs("readings", lambda: ReadingsTable)], ...] = ()
    structures: tuple[Annotated[Any, ReadAs("structures", lambda: StructuresTable)], ...] = ()
    design: tuple[Annotated[Any, ReadAs("design", lambda: DesignTable)], ...] = ()
    right_of_way: Annotated[Any, ReadAs("right_of_way", lambda: RightOfWayTable)] | None = None
    baseline: Annotated[Any, ReadAs("baseline", lambda: AlongTable)] | None = None
    profile: Annotated[Any, ReadAs("profile", lambda: AlongTable)] | None = None
    section: Annotated[Any, ReadAs("section", lambda: ListedFileTable)] | None = None
    background: Annotated[Any, ReadAs("background", lambda: BackgroundTable)] | None = None
    photos: PhotosTable | None = None
    rules: tuple[RulesTable, ...] = ()
    tolerance: dict[str, Annotated[Any, OfChecks()]] = Field(default_factory=dict)
    uncertainty: dict[str, Uncertainty] = Field(default_factory=dict)
    tilt: Tilt | None = None
    decision: Decision = Decision()
    steps: tuple[Annotated[Any, Named("steps")], ...] = ()
    outputs: Outputs = Field(default_factory=Outputs)
    edits: tuple[Edit, ...] = ()

    @model_validator(mode="after")
    def _names_are_asked_for(self) -> "Job":
        if not self.outputs.personal and any(each.by for each in self.edits):
            raise PydanticCustomError(
                "personal",
                "[[edits]] names a person with by, and the name would stand in every record and report: take it out, "
                "or write personal = true in [outputs]",
                {},
            )
        return self

    @model_validator(mode="before")
    @classmethod
    def _zone_of_all_shots(cls, tables: Any) -> Any:
        """The zone that `[job]` states goes into each table of shots that states none, where its reader has times."""
        head = tables.get("job") if isinstance(tables, Mapping) else None
        zone = head.get("time_zone") if isinstance(head, Mapping) else None
        shots = tables.get("shots") if isinstance(tables, Mapping) else None
        if not isinstance(zone, str) or not isinstance(shots, list | tuple) or not _is_zone(zone):
            return tables
        return {**tables, "shots": [_in_zone(each, zone) for each in shots]}

    @model_validator(mode="after")
    def _outputs_have_their_steps(self) -> "Job":
        off = {each.name for each in self.steps if isinstance(each, Off)}
        for output in self.outputs.every:
            if lost := sorted(off.intersection(output.steps)):
                raise PydanticCustomError(
                    "output",
                    "outputs name '{output}', which shows what the step '{step}' makes, and [[steps]] switches that "
                    "off; take one of the two out",
                    {"output": output.name, "step": lost[0]},
                )
        return self

    @field_validator("rules")
    @classmethod
    def _rule_names_are_unique(cls, rules: tuple[RulesTable, ...], info: ValidationInfo) -> tuple[RulesTable, ...]:
        """Each file has a name of its own; the tolerances, which are read next, may name them."""
        own = {each.rules.name: each.rules for each in rules}
        if len(own) < len(rules):
            raise PydanticCustomError(
                "rules", 'two files state a rule set of the same name; give one of them name = "…"', {}
            )
        if info.context is not None:
            info.context[OWN_RULES] = own
        return rules

    @property
    def own_rules(self) -> dict[str, RuleSet]:
        """Rule sets of the job's own files, by name."""
        return {each.rules.name: each.rules for each in self.rules}

    def rules_in_force(self) -> list[tuple[RuleSet, list[str]]]:
        """Rule sets that the tolerances name, in the order of their names, with their kinds."""
        own = self.own_rules
        kinds: dict[str, list[str]] = {}
        for kind, tolerance in sorted(self.tolerance.items()):
            for name in tolerance.rules:
                kinds.setdefault(name, []).append(kind)
        return [(own.get(name) or rule_set(name), named) for name, named in sorted(kinds.items())]

    @model_validator(mode="after")
    def _rule_sets_limit_their_kinds(self) -> "Job":
        own = self.own_rules
        for kind, tolerance in self.tolerance.items():
            for name in tolerance.rules:
                if kind not in (kinds := (own.get(name) or rule_set(name)).limits):
                    raise PydanticCustomError(
                        "rules",
                        "[tolerance.{kind}] names the rule set '{name}', which limits {kinds} only: "
                        "call the kinds of these codes {first}-... in the code list and name the set in "
                        "[tolerance.{first}], or write the limits out in [tolerance.{kind}]",
                        {"kind": kind, "name": name, "kinds": ", ".join(sorted(kinds)), "first": next(iter(kinds))},
                    )
        for rules in own.values():
            if not any(rules.name in tolerance.rules for tolerance in self.tolerance.values()):
                raise PydanticCustomError(
                    "rules",
                    "[[rules]] names {file}, and no tolerance takes its limits; it limits {kinds}: write "
                    'rules = "{name}" in [tolerance.{kind}]',
                    {"file": rules.file, "name": rules.name, "kinds": ", ".join(sorted(rules.limits)),
                     "kind": min(rules.limits)},
                )  # fmt: skip
        return self

    def to_toml(self) -> str:
        """The text of a job file that says the same; a table in memory has its name there."""
        return toml_text(as_tables(self))

    @model_validator(mode="after")
    def _profile_and_section_have_a_baseline(self) -> "Job":
        for name in ("profile", "section"):
            if getattr(self, name) is not None and self.baseline is None:
                raise PydanticCustomError(
                    "baseline",
                    '[{name}] hangs on a centre line; add [baseline] with file = "…", or with points',
                    {"name": name},
                )
        return self

    @model_validator(mode="after")
    def _ids_are_unique(self) -> "Job":
        if not self.shots:
            raise PydanticCustomError("empty", 'names no shots; add [[shots]] with file = "…"', {})
        for role in ("shots", "levels", "readings", "structures", "design"):
            tables = getattr(self, role)
            seen: set[str] = set()
            for each in tables:
                if each.source in seen:
                    raise PydanticCustomError(
                        "id",
                        'two [[{role}]] tables are called {name}; give one of them id = "…"',
                        {"role": role, "name": each.source},
                    )
                seen.add(each.source)
        return self
