"""The JSON Schema of job files, with the options of every installed plugin."""

import json
from contextlib import suppress
from typing import Any

from pydantic import BaseModel

from geoqa import plugins
from geoqa.errors import GeoqaError
from geoqa.job.document.file import (
    AlongTable,
    BackgroundTable,
    DesignTable,
    FileTable,
    Job,
    LevelsTable,
    ListedFileTable,
    ReadingsTable,
    RightOfWayTable,
    ShotsTable,
    StructuresTable,
)
from geoqa.job.document.named import ReadAs
from geoqa.job.document.tolerance import tolerance_model

_COMMON: dict[str, type[BaseModel]] = {
    "shots": ShotsTable,
    "control": FileTable,
    "codes": FileTable,
    "screening": FileTable,
    "check_policy": FileTable,
    "levels": LevelsTable,
    "readings": ReadingsTable,
    "structures": StructuresTable,
    "design": DesignTable,
    "right_of_way": RightOfWayTable,
    "baseline": AlongTable,
    "profile": AlongTable,
    "section": ListedFileTable,
    "background": BackgroundTable,
}


def job_schema() -> dict[str, Any]:
    """Make the schema; this loads every plugin."""
    schema = Job.model_json_schema(mode="validation")
    definitions = schema.setdefault("$defs", {})
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "geoqa job file"
    schema["description"] = (Job.__doc__ or "").partition("\n")[0]
    steps = {"anyOf": [_named("steps", name, definitions) for name in plugins.declared("steps")]}
    schema["properties"]["steps"]["items"] = steps
    for role, common in _COMMON.items():
        here = schema["properties"][role]
        table = _read_as(role, common, definitions)
        if "items" in here:
            here["items"] = table
        else:
            schema["properties"][role] = table
    definitions["Tolerance"] = tolerance_model().model_json_schema(mode="validation")
    schema["properties"]["tolerance"]["additionalProperties"] = {"$ref": "#/$defs/Tolerance"}
    outputs = definitions["Outputs"]["properties"]
    for key, group in (("layers", "writers"), ("pages", "pages")):
        names = list(plugins.declared(group))
        tables = [_named(group, name, definitions) for name in names]
        outputs[key]["items"] = {"anyOf": [{"enum": names}, *tables]}
        outputs[key].pop("default", None)
    return schema


def _options(model: type[BaseModel], definitions: dict[str, Any]) -> dict[str, Any]:
    own = model.model_json_schema(mode="validation")
    definitions.update(own.pop("$defs", {}))
    properties: dict[str, Any] = own.get("properties", {})
    properties.pop("reader", None)
    return properties


def _named(group: str, name: str, definitions: dict[str, Any]) -> dict[str, Any]:
    try:
        plugin = plugins.load(group, name)
        properties = {"use": {"const": name}, **_options(plugin, definitions)}
    except Exception as error:  # a package that is broken must not hide what the others offer
        said = str(error) if isinstance(error, GeoqaError) else f"{plugins.owner(group, name)}: {error!r}"
        return {"description": f"Cannot be used: {said}", "properties": {"use": {"const": name}}, "required": ["use"]}
    if group == "steps":
        properties["off"] = {"type": "boolean", "description": "true removes this default step."}
    return {
        "type": "object",
        "description": (plugin.__doc__ or "").strip().split("\n")[0],
        "properties": properties,
        "required": ["use"],
        "additionalProperties": False,
    }


def _read_as(role: str, common: type[BaseModel], definitions: dict[str, Any]) -> dict[str, Any]:
    properties = {"use": {"enum": [name for name in plugins.declared("readers") if name.startswith(f"{role}.")]}}
    for name in plugins.declared("readers"):
        if name.startswith(f"{role}."):
            with suppress(Exception):  # of a package that is broken nothing is known; reading with it says why
                properties |= _options(plugins.load("readers", name), definitions)
    required: dict[str, Any] = {"required": ["file"]}
    if (stated := ReadAs(role, lambda: common).stated) is not None:
        properties |= _options(plugins.load("readers", stated), definitions)
        required = {"oneOf": [{"required": ["file"]}, {"required": [ReadAs.rows_in_job]}]}
    properties |= _options(common, definitions)
    return {"type": "object", "properties": properties, **required, "additionalProperties": False}


def schema_text() -> str:
    """The schema as text, the same every time."""
    return json.dumps(job_schema(), indent=2, sort_keys=True, ensure_ascii=False) + "\n"
