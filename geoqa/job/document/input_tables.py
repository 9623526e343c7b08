"""Tables of the job file that name an input: what may stand there, in which unit, and why."""

import datetime
import re
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    PrivateAttr,
    ValidationInfo,
    field_validator,
    model_validator,
)
from pydantic_core import PydanticCustomError

from geoqa.contract.checks import every_check
from geoqa.errors import JobError, QuantityError
from geoqa.job.document.rule_files import rule_file
from geoqa.job.document.rule_sets import RuleSet
from geoqa.job.document.table import FilePath, Table
from geoqa.job.document.tolerance import OWN_RULES
from geoqa.model.quantity import Length, Slope


class FileTable(Table):
    """Keys that every file may have."""

    file: FilePath = Field(min_length=1, description="Path, from the job file's folder.")
    frame: str | None = Field(None, description="The file's own coordinate system, where it is not the job's.")
    unit: Literal["ft", "ftUS", "m"] | None = Field(None, description="Unit of the file's coordinates.")
    vertical: str | None = Field(None, description="Unit of its elevations (ft, ftUS, m), or its vertical system.")
    geoid: str | None = Field(
        None, min_length=1, description='Geoid model its elevations were made with, e.g. "GEOID18"; one job, one model.'
    )
    ground: bool = Field(False, description="Coordinates are on the ground, about the frame's ground_origin.")
    epoch: float | None = Field(None, ge=1900, le=2200, description="Decimal year of its coordinates.")
    accuracy: Length | None = Field(None, description="Worst accuracy of a datum operation that is taken.")
    accept: bool = Field(False, description="The job's word stands where the file contradicts it.")
    accept_operation: bool = Field(False, description="Take an operation although a better one, not here, is known.")
    reader: Any = Field(None, exclude=True, description="Filled from the other keys.")


_Finite = Annotated[float, Field(allow_inf_nan=False)]


class LocalTable(Table):
    """`local`: a file about an origin of its own, turned or not; it is put on the grid before anything else."""

    point: tuple[_Finite, _Finite] = Field(description="Easting and northing of a place as the file has it.")
    at: tuple[_Finite, _Finite] = Field(description="The same place on the grid, in the file's unit.")
    turn_deg: float = Field(ge=-360, le=360, description="Degrees by which the file is turned, counter-clockwise.")
    reference: str = Field(min_length=1, description="Where these are stated: drawing and note, or the marks used.")


class AlongTable(FileTable):
    """`[baseline]` and `[profile]`: from a file, or from `points` that stand in the job itself."""

    file: FilePath = Field("", description="Path, from the job file's folder; none where points are given.")
    local: LocalTable | None = Field(None, description="Where its own origin lies, and how far it is turned.")


_ID = re.compile(r"^[\w.-]+$")


class ListedFileTable(FileTable):
    """Keys of files of which there may be several."""

    id: str | None = Field(
        None, json_schema_extra={"pattern": _ID.pattern}, description="Short name of this file in keys and tables."
    )

    @field_validator("id")
    @classmethod
    def _stands_in_keys(cls, name: str | None) -> str | None:
        if name is not None and not _ID.match(name):
            raise PydanticCustomError("id", "stands in keys of shots; use letters, digits, . _ and - only", {})
        return name

    @property
    def source(self) -> str:
        """Id of the rows that come from this file."""
        return self.id or Path(self.file).stem


PARTS = ("code", "line", "word", "note")
"""What may stand in the description of a shot, in any order behind its code."""


def _parts(text: object) -> object:
    """A description in words as the parts it names."""
    return tuple(text.split()) if isinstance(text, str) else text


def _not_negative(value: Length | None) -> Length | None:
    if value is not None and value.metres < 0:
        raise PydanticCustomError("sign", "must not be negative, and {v} is", {"v": str(value)})
    return value


def _positive(value: Length | None) -> Length | None:
    if value is not None and value.metres <= 0:
        raise PydanticCustomError("sign", "must be more than 0, and {v} is not", {"v": str(value)})
    return value


_Sigma = Annotated[Length | None, AfterValidator(_positive)]
_Common = Annotated[Length | None, AfterValidator(_not_negative)]


class Uncertainty(Table):
    """`[uncertainty.KIND]`, `[uncertainty.default]`, or of one file: 1 sigma of a shot, where the crew knows it."""

    horizontal_random: _Sigma = Field(None, description="Per axis, this shot alone; never 0.")
    vertical_random: _Sigma = None
    horizontal_common: _Common = Field(None, description="Per axis, shared within a session.")
    vertical_common: _Common = None
    reference: str = Field(min_length=1, description="How these are known.")


class ShotsTable(ListedFileTable):
    """`[[shots]]`: collected points."""

    heights: Literal["orthometric", "ellipsoid"] = Field("orthometric", description="What the elevations are.")
    confidence: Literal["1 sigma", "95 %"] | None = Field(
        None, description="Confidence level of the reported precisions; unknown if left out."
    )
    uncertainty: Uncertainty | None = Field(
        None,
        description="1 sigma of the shots of this file, such as those of a total station; it goes before what is "
        "declared for their kinds.",
    )
    description: Annotated[tuple[str, ...], BeforeValidator(_parts)] = Field(
        (),
        json_schema_extra={"type": "string", "pattern": r"^code( (line|word|note))*$"},
        description='What the code field holds, in order, e.g. "code line note" for "SWF2 cracked"; the line number '
        "may follow the code with or without a blank.",
    )
    line_words: tuple[str, ...] = Field(
        (), description='Control words in it that are neither line nor note, where description names "word".'
    )
    receiver: str = Field(
        "",
        max_length=100,
        description="Receiver or instrument that measured this file, as the office calls it; `geoqa batch` says what "
        "each of them achieves.",
    )
    crew: str = Field(
        "", max_length=100, description="Crew that measured this file; printed only by `geoqa batch --crews`."
    )

    @model_validator(mode="after")
    def _description_is_known(self) -> "ShotsTable":
        parts = self.description
        if parts and (parts[0] != "code" or len(set(parts)) < len(parts) or not set(parts) <= set(PARTS)):
            raise PydanticCustomError(
                "description", 'description must be "code" and then line, word or note, each once: "code line note"', {}
            )
        if ("word" in parts) != bool(self.line_words):
            raise PydanticCustomError(
                "description",
                'description names "word" exactly where line_words = ["…"] says which control words there are',
                {},
            )
        return self


class DesignTable(ListedFileTable):
    """`[[design]]`: lines and points as they shall be built, and which drawing says so."""

    local: LocalTable | None = Field(None, description="Where its own origin lies, and how far it is turned.")
    sheet: str = Field("", max_length=100, description="Sheet of the drawings that it stands on.")
    revision: str = Field("", max_length=100, description="Revision of that sheet, as the drawing says it.")
    dated: datetime.date | None = Field(None, description="Date of that revision.")
    pipes_drawn_at: Literal["top", "invert"] | None = Field(
        None,
        description="What the lines of this file draw whose kind is called top, such as storm-top: the top of the "
        "pipe, which is taken where nothing speaks against it, or its invert. Of inverts size and wall are not taken "
        "off, and no shot on top of the pipe is compared with their elevation.",
    )
    field_change: str = Field(
        "",
        max_length=200,
        description="An approved change of the design, in words with who approved it: what it holds replaces the "
        "design of the same names; the verdicts against the design before are kept. Needs dated.",
    )

    @model_validator(mode="after")
    def _change_is_dated(self) -> "DesignTable":
        if self.field_change and self.dated is None:
            raise PydanticCustomError(
                "field_change", "field_change needs the date of its approval: add dated = 2026-04-30", {}
            )
        return self


class LevelsTable(ListedFileTable):
    """`[[levels]]`: a level run, or elevations levelled and reduced elsewhere; they replace those of the shots."""

    closure: Length | None = Field(
        None,
        description='Misclosure that is allowed over one `per`, e.g. "0.05 ft"; it grows with the root of the length.',
    )
    per: Literal["mile", "km"] = Field("mile", description="Length that closure and sigma are stated for.")
    sigma: Length | None = Field(
        None, description="1 sigma of a difference levelled over one `per`; closure / 1.96 where it is not given."
    )
    setup_length: Length | None = Field(
        None, description="Length between turning points, both sights, where the notes have no distance."
    )
    reference: str = Field("not stated", min_length=1, description="Where the allowed misclosure is written.")


class StructuresTable(ListedFileTable):
    """`[[structures]]`: notes about structures and the ends of their pipes, with measure-downs."""


class RightOfWayTable(ListedFileTable):
    """`[right_of_way]`: the polygon of the right of way, which the licensee supplies; no boundary is determined."""

    reference: str = Field(min_length=1, description="Who supplied the polygon, and where it stands.")


class ReadingsTable(ListedFileTable):
    """`[[readings]]`: slopes read on a level, or taped widths, beside the shots; the better measurement is judged."""

    what: str = Field(description="Check that they are of: cross-slope, running-slope, clear-width, ramp-slope …")
    u: Slope | Length = Field(description='1 sigma of one reading, e.g. "0.1 %" or "1/8 in".')
    reference: str = Field("not stated", min_length=1, description="With what it was measured, and how u is known.")

    @field_validator("u", mode="before")
    @classmethod
    def _is_an_amount(cls, value: object) -> Slope | Length:
        """A slope or a length, more than 0."""
        for sort in (Slope, Length):
            try:
                amount = sort.parse(str(value))
            except QuantityError:
                continue
            if (amount.ratio if isinstance(amount, Slope) else amount.metres) > 0:
                return amount
        raise PydanticCustomError(
            "quantity", '{v} is no 1 sigma: write a slope or a length, such as "0.1 %" or "1/8 in"', {"v": repr(value)}
        )

    @model_validator(mode="after")
    def _is_of_a_check(self) -> "ReadingsTable":
        known = {name: check for name, check in every_check().items() if name in READ_CHECKS}
        if self.what not in known:
            raise PydanticCustomError(
                "what", "no reading is taken of '{v}'; use one of {names}", {"v": self.what, "names": ", ".join(known)}
            )
        quantity = "slope" if isinstance(self.u, Slope) else "length"
        if known[self.what].quantity != quantity:
            raise PydanticCustomError(
                "what",
                "{v} is a {wanted}, and u is a {given}",
                {"v": self.what, "wanted": known[self.what].quantity, "given": quantity},
            )
        return self


READ_CHECKS = (
    *("cross-slope", "running-slope", "clear-width", "ramp-slope", "counter-slope"),
    *("turning-space", "turning-slope", "flare-slope", "warning-depth"),
)
"""Checks whose numbers may be read beside the shots."""


class BackgroundTable(Table):
    """`[background]`: a picture of the ground under the map, the user's own; nothing is measured on it."""

    file: FilePath = Field(
        min_length=1, description="Orthophoto or design raster: GeoTIFF, or PNG, JPEG, JPEG 2000 with a world file."
    )
    frame: str | None = Field(None, description="The picture's coordinate system, where the file does not state it.")
    accept: bool = Field(False, description="The job's word stands where the file contradicts it.")
    opacity: float = Field(0.5, ge=0.1, le=1.0, description="How strongly it is drawn; less keeps findings readable.")
    caption: str = Field("", max_length=200, description="What it shows and when it was taken, for the legend.")
    reader: Any = Field(None, exclude=True, description="Filled from the other keys.")


class PhotosTable(Table):
    """`[photos]`: the photos that shots name, for links on the cards of the map."""

    folder: FilePath = Field(min_length=1, description="Folder of the photos, from the job file's folder.")
    thumbnails: bool = Field(
        False, description="Put small copies into the map: pixels only, without place, time and camera."
    )


FOLDER = "folder"
"""Where a job that is read keeps the folder its paths start from."""


class RulesTable(Table):
    """`[[rules]]`: a file of limits that several jobs share; `[tolerance.KIND]` names it by its name."""

    file: FilePath = Field(min_length=1, description="Rule file (TOML), from the job file's folder.")
    _rules: RuleSet = PrivateAttr()

    @model_validator(mode="after")
    def _is_read(self, info: ValidationInfo) -> "RulesTable":
        """Limits are part of what a job says: the file is read with it."""
        folder = Path((info.context or {}).get(FOLDER, "."))
        path = folder / self.file
        if "\\" in self.file and not path.exists():
            path = folder / self.file.replace("\\", "/")
        try:
            self._rules = rule_file(path, shown=self.file)
        except JobError as error:
            if info.context is not None:
                info.context[OWN_RULES] = None
            raise PydanticCustomError("rules", "{error}", {"error": str(error)}) from None
        return self

    @property
    def rules(self) -> RuleSet:
        """What the file states."""
        return self._rules
