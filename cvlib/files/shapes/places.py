"""Where a setting lives and how its value is coded: one shape for each kind."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self, TypeAlias, cast

from pydantic import (
    ConfigDict,
    Discriminator,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    Tag,
    model_validator,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from cvlib.files.shapes.base import (
    NAME,
    BitsText,
    Byte,
    Cv,
    Cvs,
    DecidingId,
    Ends,
    Figure,
    Firmware,
    FlagsOrList,
    Named,
    NamesOrList,
    OneOrMore,
    OnlyTrue,
    PageText,
    Plain,
    Scale,
    Shape,
    Text,
    exactly_one,
    written,
)

CITED = rf"^{NAME}(?::.+)?$"


class Cited(Shape):
    """One source called on for a place: "handbook-1:23", or a table with a verdict."""

    source: Named = Field(description="Id of a source of this profile.")
    verdict: Literal["works", "unreliable", "no-effect"] | None = Field(
        None,
        description='What a bench test saw: "works", "unreliable" (it acts, but not as the '
        'handbook says) or "no-effect".',
    )
    page: str = Field("", description="Page or place in the source.")
    note: str = Field("", description="A remark on this source alone.")

    @model_validator(mode="before")
    @classmethod
    def _short_form(cls, value: Any) -> Any:
        if not isinstance(value, str):
            return value
        source, _, page = value.partition(":")
        return {"source": source, "page": page} if page else {"source": source}

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: Any, handler: Any) -> dict[str, Any]:
        """Either the short text or the table."""
        table = handler.resolve_ref_schema(handler(schema))
        return {
            "anyOf": [{"type": "string", "pattern": CITED}, table],
            "description": table.pop("description", ""),
        }


OF_VALUES = ("is", "not", "has", "lacks")


class Deciding(Shape):
    """A setting and the values of it that some condition asks for."""

    setting: DecidingId = Field(
        description="Id of the deciding setting; [n] stands for the same index as in this id, "
        "[n-1] and [n+1] for its neighbours."
    )
    is_: list[Annotated[Any, written("whole", "bool", "text")]] | None = Field(
        None, min_length=1, description="It has one of these values: names, numbers, true or false."
    )
    not_: list[Annotated[Any, written("whole", "bool", "text")]] | None = Field(
        None, min_length=1, description="It has none of these values."
    )
    has: list[Text] | None = Field(
        None, min_length=1, description="All of these flags are set in it."
    )
    lacks: list[Text] | None = Field(
        None, min_length=1, description="None of these flags is set in it."
    )


class When(Deciding):
    """What another setting must hold for a place to exist."""

    model_config = ConfigDict(json_schema_extra=exactly_one(*OF_VALUES))

    @model_validator(mode="after")
    def _one_test(self) -> Self:
        self.one_of(*OF_VALUES)
        return self


Whens: TypeAlias = Annotated[list[When], Field(min_length=1), OneOrMore()]


class CaseShape(Shape):
    """One of several defaults: its value, and what other settings must hold for it."""

    when: Whens | None = Field(
        None, description="It holds while other settings have these values; left out: otherwise."
    )
    value: Annotated[Any, written("whole", "bool", "text", "wholes", "texts")] = Field(
        description="The default, written as where there is one for all cases."
    )


class OrCases(Plain):
    """A default that may depend on other settings: a list of cases instead of a value."""

    def __init__(self, one: Plain) -> None:
        super().__init__(one.check, one.schema)

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """The cases where a list holds tables, else the value's own schema."""
        one = super().__get_pydantic_core_schema__(source, handler)
        choices = {"one": one, "cases": handler.generate_schema(list[CaseShape])}
        return core_schema.tagged_union_schema(choices, _default_form)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Either the value or the list."""
        cases = handler(cast("core_schema.TaggedUnionSchema", schema)["choices"]["cases"])
        return {"anyOf": [*(self.schema.get("anyOf") or [self.schema]), {**cases, "minItems": 1}]}


def _default_form(value: Any) -> str:
    return "cases" if isinstance(value, list) and any(map(_is_case, value)) else "one"


def _is_case(value: Any) -> bool:
    return isinstance(value, (dict, CaseShape))


class PlaceShape(Shape):
    """What a place of any kind may say."""

    model_config = ConfigDict(json_schema_extra=exactly_one("cv", "cvs", "built-in"))

    firmware: Firmware | None = Field(
        None,
        description='Firmware that has this place, such as ">=4.2"; several ranges are a list. It '
        "only narrows what the documents speak for. Left out: just that.",
    )
    cv: Cv | None = Field(None, description="The CV number, 1-1024.")
    cvs: Cvs | None = Field(
        None,
        description='Several CVs, most significant first, such as [17, 18] or "67-94".',
    )
    built_in: OnlyTrue | None = Field(
        None, description="true: no CV; a fact fixed when the decoder was built."
    )
    bits: BitsText | None = Field(
        None, description='Bits of the single CV, numbered 0-7, such as "0-3" or "5".'
    )
    page: PageText | None = Field(
        None, description='Index page: the values of CV 31 and CV 32, such as "16/2".'
    )
    also_at: Cv | None = Field(None, description="A second number of the same CV.")
    step: int | None = Field(
        None, ge=-1023, le=1023, description="CVs from one index to the next, in a repeat."
    )
    page_step: int | None = Field(
        None, ge=-255, le=255, description="Added to the CV 32 part of the page for each index."
    )
    index: Annotated[str, Field(pattern=r"^[0-9 ,-]{1,80}$")] | None = Field(
        None, description='Only these indexes of the repeat have this place, such as "2-6".'
    )
    read_only: bool = Field(False, description="true: it can be read, not written.")
    volatile: bool = Field(False, description="true: it is lost without power.")
    internal: bool = Field(False, description="true: state that the decoder keeps for itself.")
    reserved: bool = Field(False, description="true: not to be used.")
    uniform: bool = Field(
        False, description="true: the standard fixes the values; a maker may choose no others."
    )
    unused: Text | None = Field(
        None, description="Why the place does nothing, where it does nothing."
    )
    requirement: Literal["mandatory", "recommended", "optional"] | None = Field(
        None, description="How far the standard asks for it."
    )
    when: Whens | None = Field(
        None, description="The place exists only while other settings have these values."
    )
    sources: list[Cited] = Field(
        default_factory=list, description='Why we believe it, such as ["handbook-1:23"].'
    )
    note: str = Field("", description="A remark on this place.")

    @model_validator(mode="after")
    def _one_spot(self) -> Self:
        self.one_of("cv", "cvs", "built-in")
        return self


DEFAULT = "Raw value that a factory reset leaves."
SIGN = "How negative values are held; left out: there are none."
DEFAULTS = "Raw default for each index of the repeat, in order; it may end early."


class NumberPlace(PlaceShape):
    """A number, scaled: engineering value = raw * scale + offset."""

    kind: Literal["number"] = Field(description="What sort of value it is.")
    range: Ends | None = Field(
        None, description="Lowest and highest raw value; left out: all that the bits hold."
    )
    scale: Scale | None = Field(None, description="What one raw step is worth, in the unit.")
    offset: Figure | None = Field(None, description="Added after scaling, in the unit.")
    unit: Text | None = Field(None, description='Unit of the engineering value, such as "cm".')
    sign: Literal["bit", "twos-complement"] | None = Field(None, description=SIGN)
    values: NamesOrList | None = Field(
        None,
        description='Raw values with a special name, such as { 0 = "off" }, or a list\'s name.',
    )
    measure: Literal["momentum", "pwm-period"] | None = Field(
        None, description="A formula of the standards: CVs 3, 4, 23, 24, or CV 9."
    )
    refers_to: Text | None = Field(
        None, description='What the figure is measured against, such as "at the motor terminals".'
    )
    default: Annotated[Any, OrCases(written("whole", "text", "wholes"))] | None = Field(
        None, description=DEFAULT
    )
    defaults: list[Annotated[Any, written("whole", "text")]] | None = Field(
        None, min_length=1, description=DEFAULTS
    )


class SwitchPlace(PlaceShape):
    """Off (0) or on (1)."""

    kind: Literal["switch"] = Field(description="What sort of value it is.")
    default: Annotated[Any, OrCases(written("bool", "whole", "text"))] | None = Field(
        None, description="What a factory reset leaves: true or false."
    )
    defaults: list[Annotated[Any, written("bool", "whole", "text")]] | None = Field(
        None, min_length=1, description=DEFAULTS
    )


class ChoicePlace(PlaceShape):
    """One of several named values."""

    kind: Literal["choice"] = Field(description="What sort of value it is.")
    choices: NamesOrList = Field(
        description='Raw values and their names: { 0 = "off", "2-7" = "dim" }, or a list\'s name.'
    )
    default: Annotated[Any, OrCases(written("whole", "text"))] | None = Field(
        None, description="Name or raw value that a factory reset leaves."
    )
    defaults: list[Annotated[Any, written("whole", "text")]] | None = Field(
        None, min_length=1, description=DEFAULTS
    )


class FlagsPlace(PlaceShape):
    """Several bits, each with a name."""

    kind: Literal["flags"] = Field(description="What sort of value it is.")
    flags: FlagsOrList = Field(
        description='Bit numbers and their names: { 0 = "F1", 1 = "F2" }, or a list\'s name.'
    )
    default: Annotated[Any, OrCases(written("whole", "texts"))] | None = Field(
        None, description="Names of the flags set by a factory reset, or the raw value."
    )
    defaults: list[Annotated[Any, written("whole", "texts")]] | None = Field(
        None, min_length=1, description=DEFAULTS
    )


class AddressPlace(PlaceShape):
    """A track address."""

    kind: Literal["address"] = Field(description="What sort of value it is.")
    form: Literal["short", "extended", "plain"] = Field(
        description='"short": one CV, 1-127; "extended": two CVs, 192-231 first; "plain": a number.'
    )
    range: Ends | None = Field(None, description="Lowest and highest address.")
    default: Annotated[Any, OrCases(written("whole", "wholes"))] | None = Field(
        None, description="Address that a factory reset leaves, or the raw CV values as a list."
    )
    defaults: list[Annotated[Any, written("whole", "wholes")]] | None = Field(
        None, min_length=1, description=DEFAULTS
    )


class CurvePlace(PlaceShape):
    """Many CVs, one value each."""

    kind: Literal["curve"] = Field(description="What sort of value it is.")
    range: Ends | None = Field(None, description="Lowest and highest value of each CV.")
    sign: Literal["bit", "twos-complement"] | None = Field(None, description=SIGN)
    default: Annotated[Any, OrCases(written("wholes", "whole"))] | None = Field(
        None, description="Values that a factory reset leaves, one for each CV."
    )
    defaults: list[Annotated[Any, written("wholes", "whole")]] | None = Field(
        None, min_length=1, description=DEFAULTS
    )


class TextPlace(PlaceShape):
    """Plain ASCII characters, one a CV."""

    kind: Literal["text"] = Field(description="What sort of value it is.")
    default: Annotated[Any, OrCases(written("text", "wholes"))] | None = Field(
        None, description="Text that a factory reset leaves."
    )
    defaults: list[Annotated[Any, written("text", "wholes")]] | None = Field(
        None, min_length=1, description=DEFAULTS
    )


class FieldsPlace(PlaceShape):
    """A whole CV whose bits are settings of their own."""

    kind: Literal["fields"] = Field(description="What sort of value it is.")
    values: NamesOrList | None = Field(
        None,
        description="Values of the whole byte that stand for something themselves, such as "
        '{ 255 = "not used" }: its bits then mean nothing. Or a list\'s name.',
    )
    default: Annotated[Any, OrCases(written("whole", "text"))] | None = Field(
        None, description=DEFAULT
    )
    defaults: list[Byte] | None = Field(None, min_length=1, description=DEFAULTS)


class AreaPlace(PlaceShape):
    """CVs that a standard sets aside without a meaning of their own."""

    kind: Literal["area"] = Field(description="What sort of value it is.")
    use: Literal["reserved", "manufacturer", "user", "susi", "indexed"] = Field(
        description="Whom the CVs are kept for."
    )


KINDS: tuple[type[PlaceShape], ...] = (
    *(NumberPlace, SwitchPlace, ChoicePlace, FlagsPlace, AddressPlace),
    *(CurvePlace, TextPlace, FieldsPlace, AreaPlace),
)
"""The shape of each kind of place."""


class AbsentPlace(Shape):
    """What documents say of a setting that they expressly do not have."""

    absent: OnlyTrue = Field(description="true: the documents cited say that it is not there.")
    firmware: Firmware | None = Field(
        None, description="Firmware that lacks it; left out: all that the documents speak for."
    )
    sources: list[Cited] = Field(min_length=1, description="Who says so, with the page.")
    note: str = Field("", description="A remark on this.")


LocatedPlace: TypeAlias = Annotated[
    NumberPlace
    | SwitchPlace
    | ChoicePlace
    | FlagsPlace
    | AddressPlace
    | CurvePlace
    | TextPlace
    | FieldsPlace
    | AreaPlace,
    Field(discriminator="kind"),
]


def _form_of(place: Any) -> str:
    """Which of the two forms an entry of a setting's places has."""
    is_absence = "absent" in place if isinstance(place, dict) else isinstance(place, AbsentPlace)
    return "absence" if is_absence else "located"


AnyPlace: TypeAlias = Annotated[
    Annotated[AbsentPlace, Tag("absence")] | Annotated[LocatedPlace, Tag("located")],
    Discriminator(_form_of),
]
