"""Tables of a job file that name a plugin: its own options are the rest of the table.

One pass over the file reports every problem with its address, and only the plugins
that a job names are imported.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

from pydantic import BaseModel, GetCoreSchemaHandler, ValidationError
from pydantic_core import InitErrorDetails, PydanticCustomError, core_schema

from geoqa import plugins
from geoqa.errors import PluginError
from geoqa.model.step import Step

REQUIRED = "REQUIRED"
"""Stands in a drafted job where only a person knows the answer."""


@dataclass(frozen=True)
class Off:
    """A default step that the job switches off."""

    name: str


class Named:
    """A table whose `use` names a plugin; its other keys are that plugin's options."""

    def __init__(self, group: str) -> None:
        self.group = group

    def plugin(self, table: object) -> Any:
        """The class a table names; its problems are raised as validation errors."""
        if isinstance(table, str):
            table = {"use": table}
        if not isinstance(table, dict) or not isinstance(table.get("use"), str):
            raise PydanticCustomError(
                "use",
                'needs use = "NAME"; installed: {names}',
                {"names": ", ".join(plugins.declared(self.group))},
            )
        return _loaded(self.group, table["use"])

    def build(self, table: object) -> BaseModel | Off:
        """Make the plugin from its table; one that is made already is taken as it is."""
        if isinstance(table, Off | Step):
            return table
        made_by = self.plugin(table)
        keys = table if isinstance(table, dict) else {}
        off = keys.get("off", False) if self.group == "steps" else False
        if not isinstance(off, bool):
            raise PydanticCustomError("off", "off must be true or false, without quotes", {})
        if off:
            return Off(keys["use"])
        own = ("use", "off") if self.group == "steps" else ("use",)
        return made_by.model_validate({key: value for key, value in keys.items() if key not in own})

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(
            self.build, json_schema_input_schema=core_schema.dict_schema()
        )


class ReadAs:
    """A table that names a file; its suffix, or `use`, picks the reader, whose options are the other keys.

    Parameters
    ----------
    role : str
        shots, control, codes, screening, check_policy, design or background.
    common : type
        Model of the keys that every file of this role may have.
    """

    def __init__(self, role: str, common: Callable[[], type[BaseModel]]) -> None:
        self.role = role
        self.common = common

    rows_in_job = "points"
    """Key under which the rows themselves may stand in the job, where a reader takes them."""

    @property
    def stated(self) -> str | None:
        """Name of the reader of rows that stand in the job itself; None where this role has none."""
        name = f"{self.rows_in_job}.{self.role}"
        return name if name in plugins.declared("readers") else None

    def plugin(self, table: Mapping[str, object]) -> type[BaseModel]:
        """The reader class a table asks for."""
        name = table.get("use")
        if not isinstance(name, str) and self.rows_in_job in table and self.stated is not None:
            name = self.stated
        if not isinstance(name, str):
            suffix = PurePath(str(table.get("file", ""))).suffix.lower().removeprefix(".")
            name = f"{self.role}.{suffix}"
            known = [each for each in plugins.declared("readers") if each.startswith(f"{self.role}.")]
            if name not in known:
                raise PydanticCustomError(
                    "reader",
                    "no reader for {role} files that end in .{suffix}; known: {known}; or name one with use = "
                    '"{role}.SUFFIX"',
                    {
                        "role": self.role,
                        "suffix": suffix,
                        "known": ", ".join("." + each.partition(".")[2] for each in known) or "none",
                    },
                )
        return _loaded("readers", name)

    def build(self, table: object) -> BaseModel:
        """Make the input from its table: common keys and reader options, all problems at once.

        One that is made already is taken as it is; a table in memory is an input with nothing else said of it.
        """
        if isinstance(table, self.common()):
            return table
        if hasattr(table, "columns") and hasattr(table, "dtypes"):
            held = {self.role: table} if self.role == "design" else table
            table = {"file": self.role, "use": f"table.{self.role}", "held": held}
        if not isinstance(table, dict):
            raise PydanticCustomError("table", 'must be a table with file = "NAME"', {})
        if self.stated is not None:
            _from_one_place(table, self.role)
        still_open = [key for key, value in table.items() if isinstance(value, str) and value == REQUIRED]
        if still_open:
            raise ValidationError.from_exception_data(self.role, [_open(key) for key in still_open])
        model = self.common()
        shared = {key: value for key, value in table.items() if key in model.model_fields and key != "reader"}
        options = {key: value for key, value in table.items() if key not in model.model_fields and key != "use"}
        problems: list[InitErrorDetails] = []
        stated = self.rows_in_job in table and self.stated is not None
        made: dict[str, Any] = {"reader": None}
        if isinstance(table.get("file"), str) or isinstance(table.get("use"), str) or stated:
            try:
                made["reader"] = self.plugin(table).model_validate(options)
            except ValidationError as error:
                problems += _details(error)
            except PydanticCustomError as error:
                problems.append(InitErrorDetails(type=error, loc=("file",), input=table.get("file")))
        try:
            return_value = model.model_validate({**shared, **made}) if not problems else model.model_validate(shared)
        except ValidationError as error:
            problems += _details(error)
        if problems:
            raise ValidationError.from_exception_data(self.role, problems)
        return return_value

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(
            self.build, json_schema_input_schema=core_schema.dict_schema()
        )


def _from_one_place(table: Mapping[str, object], role: str) -> None:
    """A file or rows of its own, and not both."""
    held = [key for key in ("file", ReadAs.rows_in_job) if key in table]
    if len(held) == 2:
        said = "has a file and points of its own; take one of the two out"
    elif not held and "use" not in table:
        said = f'needs file = "NAME", or points = [ {{ {_FIRST_KEYS[role]} }}, … ], a row a point'
    else:
        return
    raise PydanticCustomError("points", "{said}", {"said": said})


_FIRST_KEYS = {"baseline": "easting = …, northing = …, radius = …", "profile": "station = …, elevation = …, curve = …"}


def _open(key: str) -> InitErrorDetails:
    """The problem of a key that a draft left to a person."""
    said = {"file": "the file, by its path"}.get(key, "the comment behind it says what may stand there")
    problem = PydanticCustomError("required", "still to be filled in: {said}", {"said": said})
    return InitErrorDetails(type=problem, loc=(key,), input=REQUIRED)


def _loaded(group: str, name: str) -> type[BaseModel]:
    try:
        return plugins.load(group, name)
    except PluginError as error:
        raise PydanticCustomError("use", "{error}", {"error": str(error)}) from None


def _details(error: ValidationError) -> list[InitErrorDetails]:
    return [
        InitErrorDetails(
            type=PydanticCustomError(each["type"], "{message}", {"message": each["msg"]}),
            loc=each["loc"],
            input=each["input"],
        )
        for each in error.errors(include_url=False)
    ]
