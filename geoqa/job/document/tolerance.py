"""`[tolerance.KIND]`: its keys are those that the declared checks read, ours and a stranger's."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Annotated, Any

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    ValidationInfo,
    create_model,
    field_validator,
    model_validator,
)
from pydantic_core import PydanticCustomError, PydanticKnownError, core_schema

from geoqa import plugins
from geoqa.contract.checks import readers_of, tolerance_keys
from geoqa.errors import CheckError, JobError
from geoqa.job.document.rule_sets import RuleSet, rule_set
from geoqa.model.check import ToleranceKey
from geoqa.model.quantity import Duration, Length, LengthUnit, Slope

OWN_RULES = "own rules"
"""Where a job that is read keeps the rule sets of its own files, by name; None where one could not be read."""

Amount = Length | Slope | Duration | int
"""What a limit may be written as."""


@dataclass(frozen=True)
class Sides:
    """A limit to either side, both written without a sign; None where that side is open."""

    lower: Amount | None
    upper: Amount | None


def size(amount: Amount, unit: LengthUnit) -> float:
    """A limit as a number: lengths in `unit`, slopes as ratios, times in seconds, counts as they are.

    Examples
    --------
    >>> from geoqa.model.quantity import FOOT
    >>> [size(limit, FOOT) for limit in (Length.parse("3 in"), Slope.parse("2 %"), Duration.parse("2 min"), 3)]
    [0.25, 0.02, 120.0, 3.0]
    """
    if isinstance(amount, Length):
        return amount.to(unit)
    return float(amount)


def _count(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise PydanticCustomError("count", "must be a whole number without quotes, and {v} is not", {"v": repr(value)})
    return value


_WRITTEN: dict[str, Callable[[object], Amount]] = {
    "length": Length.validate,
    "slope": Slope.validate,
    "ratio": Slope.validate,
    "time": Duration.validate,
    "count": _count,
}
_EXAMPLE: dict[str, type[Length] | type[Slope] | type[Duration]] = {
    "length": Length,
    "slope": Slope,
    "ratio": Slope,
    "time": Duration,
}
_ANY_UNIT = LengthUnit("m", Length.parse("1 m").metres, "")


class _Limit:
    """One key: a value that holds for both sides, or a table with one for each."""

    def __init__(self, key: ToleranceKey) -> None:
        self.key = key
        self.of_range = any(check.bound == "range" for check in readers_of(key.name))

    def build(self, value: Any) -> Sides | Amount | None:
        """Make it from what the job file holds."""
        key = self.key
        if value is None or isinstance(value, Sides):
            return value
        if key.sides is None:
            return self._amount(self._one(value) if isinstance(value, dict) else value)
        if isinstance(value, dict):
            if not value or set(value) - set(key.sides):
                quantity = _EXAMPLE.get(key.quantity)
                example = f" such as {quantity.example}" if quantity else ""
                raise PydanticCustomError(
                    "sides",
                    "takes a {quantity}{example}, or a table with {a} and {b}",
                    {"quantity": key.quantity, "example": example, **dict(zip("ab", key.sides, strict=True))},
                )
            lower, upper = (self._amount(value[name]) if name in value else None for name in key.sides)
            if self.of_range and lower is not None and upper is not None:
                self._refuse_crossed(lower, upper)
            return Sides(lower, upper)
        if self.of_range:
            raise PydanticCustomError(
                "sides", "is a range: takes a table with {a} and {b}", dict(zip("ab", key.sides, strict=True))
            )
        both = self._amount(value)
        return Sides(both, both)

    def _one(self, table: dict[str, Any]) -> object:
        """The value of a table that says which end it is: { least = … }, or { most = … }, as the check reads it."""
        ends = {"least" if check.bound == "least" else "most" for check in readers_of(self.key.name)}
        if len(table) != 1 or not set(table) <= ends:
            quantity = _EXAMPLE.get(self.key.quantity)
            raise PydanticCustomError(
                "sides",
                "takes a {quantity}{example}, or a table with {ends} alone",
                {"quantity": self.key.quantity, "example": f" such as {quantity.example}" if quantity else "",
                 "ends": " or ".join(sorted(ends))},
            )  # fmt: skip
        return next(iter(table.values()))

    def _refuse_crossed(self, least: Amount, most: Amount) -> None:
        if size(least, _ANY_UNIT) > size(most, _ANY_UNIT):
            raise PydanticCustomError("sides", "is a range: {a} is more than {b}", {"a": str(least), "b": str(most)})

    def _amount(self, value: object) -> Amount:
        amount = _WRITTEN[self.key.quantity](value)
        number = size(amount, _ANY_UNIT)
        if self.key.sides is not None and number < 0:
            raise PydanticCustomError("sign", "limits are written without a sign, and {v} has one", {"v": str(amount)})
        if not self.key.zero and number <= 0:
            raise PydanticCustomError("sign", "must be more than 0, and {v} is not", {"v": str(amount)})
        if number < 0:
            raise PydanticCustomError("sign", "must not be negative, and {v} is", {"v": str(amount)})
        return amount

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        one: core_schema.CoreSchema = core_schema.str_schema()
        if self.key.quantity == "count":
            one = core_schema.int_schema()
        shape = core_schema.union_schema([one, core_schema.dict_schema(one, one)])
        return core_schema.no_info_plain_validator_function(self.build, json_schema_input_schema=shape)


class Tolerance(BaseModel):
    """`[tolerance.KIND]`: how far a feature of this kind may stray from its design."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    rules: tuple[str, ...] = Field(
        (),
        json_schema_extra={"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]},
        description="Rule sets that hold beside what this table states: a name, or a list, of [[rules]] or of geoqa.",
    )
    reference: str | None = Field(
        None,
        min_length=1,
        validate_default=True,
        description="Where the tolerance is written: drawing and note, or clause; a rule set brings its own.",
    )
    edition: str | None = Field(None, description="Edition or date of the reference.")
    verified: bool = Field(False, description="A person compared these numbers with the reference.")

    @field_validator("rules", mode="before")
    @classmethod
    def _names(cls, value: object, info: ValidationInfo) -> object:
        """One name as a list of it; each must be known: of the job's own rule files, or one that comes with geoqa."""
        names = [value] if isinstance(value, str) else value
        if not isinstance(names, list | tuple) or not all(isinstance(each, str) for each in names):
            raise PydanticCustomError("rules", 'takes the name of a rule set, such as "prowag-2023", or a list', {})
        if len(set(names)) < len(names):
            raise PydanticCustomError("rules", "names a rule set twice", {})
        own = (info.context or {}).get(OWN_RULES, {})
        if own is None:
            return tuple(names)  # a rule file could not be read: that is said, and which names it has is not known
        for name in names:
            if name in own:
                continue
            try:
                rule_set(name)
            except JobError as error:
                more = f", or of the job's [[rules]]: {', '.join(own)}" if own else ""
                raise PydanticCustomError("rules", "{error}", {"error": f"{error}{more}"}) from None
        return tuple(names)

    @field_validator("reference")
    @classmethod
    def _is_there(cls, reference: str | None, info: ValidationInfo) -> str | None:
        """A table without a rule set always has its reference."""
        if reference is None and not info.data.get("rules", True):
            raise PydanticKnownError("missing")
        return reference

    @model_validator(mode="after")
    def _has_a_reference(self) -> "Tolerance":
        if not self.reference and any(self.limit(name) is not None for name in tolerance_keys()):
            raise PydanticCustomError(
                "reference", 'needs reference = "…": where its limits are written, drawing and note, or clause', {}
            )
        return self

    @model_validator(mode="after")
    def _says_something(self) -> "Tolerance":
        if not self.rules and all(self.limit(name) is None for name in tolerance_keys()):
            *names, last = tolerance_keys()
            raise PydanticCustomError(
                "empty", "gives no limit; name {names} or {last}", {"names": ", ".join(names), "last": last}
            )
        return self

    def limit(self, key: str) -> Sides | Amount | None:
        """What the job gives for one key; None where it gives nothing."""
        value: Sides | Amount | None = getattr(self, key, None)
        return value


def ruled(
    kind: str, tolerance: Tolerance, own: Mapping[str, RuleSet] = MappingProxyType({})
) -> list[tuple[RuleSet, Tolerance, dict[str, str]]]:
    """What rule sets limit of a kind beside what its table states, and where each limit is written.

    Parameters
    ----------
    kind : str
    tolerance : Tolerance
    own : mapping of str to RuleSet
        Of the job's rule files, by name.

    Returns
    -------
    list of (RuleSet, Tolerance, dict of str to str)
        One for each rule set: its limits, and their references by key. A key that the table states as well is judged
        under both: a contract does not repeal what a town asks for.
    """
    made = []
    for name in tolerance.rules:
        rules = own[name] if name in own else rule_set(name)
        limits = rules.limits.get(kind, {})
        references = {key: rules.reference(limit) for key, limit in limits.items()}
        values = {key: limit.value for key, limit in limits.items()}
        if values:
            made.append((rules, tolerance_model()(reference=rules.title, **values), references))
    return made


@cache
def tolerance_model() -> type[Tolerance]:
    """The table with the keys of every declared check, ours first.

    Raises
    ------
    CheckError
        A check reads a key whose name means something else in the table.
    """
    for name in tolerance_keys():
        if name in Tolerance.model_fields or hasattr(Tolerance, name):
            [reader, *_] = readers_of(name)
            raise CheckError(
                f"The check '{reader.name}' ({plugins.owner('checks', reader.name)}) reads the tolerance key '{name}', "
                "which means something else in [tolerance.KIND]; it needs a key of another name."
            )
    fields: dict[str, Any] = {
        key.name: (Annotated[Any, _Limit(key)] | None, Field(None, description=key.description))
        for key in tolerance_keys().values()
    }
    return create_model("Tolerance", __base__=Tolerance, __doc__=Tolerance.__doc__, **fields)


class OfChecks:
    """Marks a table whose keys come from the declared checks: they are asked for when a job file is read."""

    def model(self) -> type[Tolerance]:
        """The table as a model."""
        return tolerance_model()

    def keys(self) -> list[str]:
        """Keys that may stand in it, those of the checks first."""
        return sorted(self.model().model_fields, key=lambda name: name in Tolerance.model_fields)

    def build(self, table: Any, info: ValidationInfo) -> Tolerance:
        """Make the table."""
        return tolerance_model().model_validate(table, context=info.context)

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(
            self.build, json_schema_input_schema=core_schema.dict_schema()
        )
