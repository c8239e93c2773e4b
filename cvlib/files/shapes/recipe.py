"""The shape of a recipe: where in a list of another layout the rows stand, and what in a row."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import ConfigDict, Field, model_validator
from pydantic.config import JsonDict

from cvlib.files.shapes.base import Format, Shape, fault

XPath: TypeAlias = Annotated[str, Field(pattern=r"\S", max_length=500)]
Prefix: TypeAlias = Annotated[str, Field(pattern=r"^[A-Za-z_][A-Za-z0-9_.-]*$", max_length=40)]

_ONLY_TABLES: JsonDict = {
    "if": {"properties": {"kind": {"const": "table", "description": "Of tables alone."}}},
    "then": {"required": ["table"]},
    "else": {"not": {"required": ["table"]}},
    "dependencies": {"high": ["low"], "low": ["high"]},
    "not": {"required": ["page", "high"]},
}


class RecipeTable(Shape):
    """How the lines of a table are parted into cells."""

    delimiter: Literal[",", ";", "|", "\t", " ", "  "] = Field(
        description="What parts the cells; two spaces mean two or more, one space any."
    )
    headings: int = Field(
        0, ge=0, le=1000, description="The line with the headings; rows begin below it."
    )


class RecipeFile(Shape):
    """Where the values of a list stand. Paths are XPath 1.0."""

    model_config = ConfigDict(json_schema_extra=_ONLY_TABLES)

    format: Format = Field(description="The form of this file; always 1.")
    kind: Literal["xml", "json", "table"] = Field(description="What the list is written in.")
    rows: XPath = Field(description="The rows, from the top of the file: //value.")
    number: XPath = Field(description="The CV number, from a row: @number.")
    value: XPath = Field(description="The value, from a row: @value.")
    page: XPath | None = Field(None, description='The index page as "16/2", from a row: ../@page.')
    high: XPath | None = Field(None, description="The value of CV 31 for this row alone.")
    low: XPath | None = Field(None, description="The value of CV 32 for this row alone.")
    role: XPath | None = Field(None, description="What the decoder of the row does.")
    name: XPath | None = Field(None, description="What its loco is called.")
    address: XPath | None = Field(None, description="The address of its loco.")
    firmware: XPath | None = Field(None, description="The firmware in the decoder.")
    profile: XPath | None = Field(None, description="Id of the decoder's profile.")
    notation: Literal["decimal", "hexadecimal", "binary"] = Field(
        "decimal", description="How values without a mark such as 0x are written."
    )
    skip: list[Annotated[str, Field(max_length=200)]] = Field(
        default_factory=list,
        max_length=100,
        description='Texts in the place of a value that mean there is none: ["", "-"].',
    )
    index_rows: Literal["page", "value"] = Field(
        "page",
        description="Whether rows of CV 31 and CV 32 set the page for the rows that follow, or are "
        "values like others.",
    )
    namespaces: dict[Prefix, Annotated[str, Field(min_length=1, max_length=500)]] = Field(
        default_factory=dict,
        description="Prefixes of the paths, and the namespaces they stand for.",
    )
    table: RecipeTable | None = Field(None, description="How lines are parted; for tables alone.")

    @model_validator(mode="after")
    def _fits_together(self) -> RecipeFile:
        """Refuse a table that is none, and pages that are said twice or by half."""
        if (self.kind == "table") != (self.table is not None):
            what = "[table] is missing" if self.table is None else "[table] goes with tables alone"
            raise fault(what, 'Write [table] where kind = "table", and only there.')
        self.one_of("page", "high", at_most=True)
        if (self.high is None) != (self.low is None):
            raise fault('"high" and "low" go together', "Give both, or neither.")
        return self
