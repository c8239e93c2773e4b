"""Settings, and the rules between them."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self, TypeAlias

from pydantic import ConfigDict, Field, model_validator

from cvlib.files.bounds import PLACES
from cvlib.files.shapes.base import (
    DecidingId,
    Firmware,
    Named,
    OnlyTrue,
    Risks,
    SettingId,
    Shape,
    Subject,
    Text,
    Whole,
    exactly_one,
    fault,
    written,
)
from cvlib.files.shapes.places import OF_VALUES, AnyPlace, Cited, Deciding


class Recurrence(Shape):
    """Something that holds for each index of a repeat."""

    count: int = Field(ge=1, le=255, description="How many there are.")
    first: int = Field(1, ge=0, le=255, description="The first index.")


class Repeat(Recurrence):
    """A block of CVs that recurs."""

    step: int | None = Field(None, ge=-1023, le=1023, description="CVs from one index to the next.")


KeyNumber: TypeAlias = Annotated[int, Field(ge=0, le=68)]
Bit: TypeAlias = Annotated[int, Field(ge=0, le=7)]


class AssignmentShape(Shape):
    """How the value of a setting says which function key works what."""

    key: KeyNumber | Literal["n", "value", "bits", "entry", "wide-entry"] | None = Field(
        None,
        description="The function key: its number, n for the index of the repeat, value where the "
        "value is its number, bits where each bit is a key, entry or wide-entry for one of "
        "RCN-227, section 3.3.",
    )
    output: Annotated[int, Field(ge=1, le=255)] | Literal["n", "value", "bits"] | None = Field(
        None, description="The output that it works, in the same way."
    )
    does: Text | None = Field(None, description="What it works where that is no numbered output.")
    first: int | None = Field(
        None, ge=0, le=255, description="The key or output of bit 0; usually F0, or output 1."
    )
    count: int | None = Field(None, ge=1, le=8, description="How many bits are keys or outputs.")
    none: list[Whole] | None = Field(None, description="Values that assign nothing.")
    direction: Literal["forward", "reverse"] | None = Field(
        None, description="The one direction in which it counts."
    )
    forward_bit: Bit | None = Field(
        None, description="The bit that limits the output to running forwards."
    )
    reverse_bit: Bit | None = Field(
        None, description="The bit that limits the output to running backwards."
    )
    blocks: OnlyTrue | None = Field(
        None, description="The key keeps the output off instead of switching it on."
    )
    method: Annotated[int, Field(ge=0, le=7)] | Literal["value"] | None = Field(
        None,
        description="The value of CV 96 under which it counts; value for the setting that CV 96 "
        "itself is.",
    )

    @model_validator(mode="after")
    def _says_both(self) -> Self:
        if self.method == "value":
            if self.given() != {"method"}:
                raise fault('method = "value" stands alone', "Leave the other keys out.")
            return self
        if self.key is None or (self.output is None and self.does is None):
            raise fault(
                "it must say the key and what the key works",
                'Give "key", and "output" or "does".',
            )
        if self.key == self.output and self.key in ("value", "bits"):
            raise fault(f'key and output are both "{self.key}"', "One of them comes from there.")
        return self


class SettingShape(Shape):
    """One thing a person sets, named once for the whole life of the decoder type."""

    id: SettingId = Field(
        description='Group and name in lower case, such as "braking.stopping-distance"; '
        "[n] stands for the index of a repeat."
    )
    title: Text = Field(description="What people call it; {n} stands for the index of a repeat.")
    help: str = Field("", description="What it does, for the person who sets it.")
    risk: Risks | None = Field(
        None, description="What it may harm; an empty list where somebody looked and found nothing."
    )
    topic: Subject | None = Field(None, description="Which question of a person it answers.")
    maps: AssignmentShape | None = Field(
        None, description="How its value assigns function keys, where it does."
    )
    repeat: Repeat | None = Field(None, description="How often it recurs, and how far apart.")
    common: dict[str, Any] | None = Field(
        None, description="What holds for every place that does not say otherwise."
    )
    sources: list[Cited] = Field(
        default_factory=list, description="Why we believe those of its places that name nobody."
    )
    place: list[AnyPlace] = Field(
        min_length=1, max_length=PLACES, description="Where it lives, for each range of firmware."
    )


TESTS = (*OF_VALUES, "min", "max", "legal", "shape", "same-as", "factory")


class ConditionShape(Deciding):
    """One test of one setting's value."""

    model_config = ConfigDict(json_schema_extra=exactly_one(*TESTS))

    min: Whole | None = Field(None, description="Its raw value is at least this.")
    max: Whole | None = Field(None, description="Its raw value is at most this.")
    legal: bool | None = Field(None, description="Its value is allowed (true) or not (false).")
    shape: Literal["rising", "not-empty"] | None = Field(
        None, description="The curve never falls, or is not all zeros."
    )
    same_as: DecidingId | None = Field(None, description="It equals this other setting.")
    factory: list[Annotated[Any, written("whole", "bool", "text")]] | None = Field(
        None,
        description="It has the factory's value; where no default is known, one of these, and "
        "with none given the rule says nothing.",
    )

    @model_validator(mode="after")
    def _one_test(self) -> Self:
        self.one_of(*TESTS)
        return self


class Sum(Shape):
    """Engineering values that must not add up to too much."""

    of: list[DecidingId] = Field(min_length=1, description="Ids of the settings.")
    max: Whole = Field(description="The largest sum allowed.")


DEMANDS = ("requires", "conflicts", "order", "sum")


class RuleShape(Shape):
    """What must hold between settings."""

    model_config = ConfigDict(
        json_schema_extra={**exactly_one(*DEMANDS), "dependencies": {"ignore": ["order"]}}
    )

    id: Named = Field(description="Short name of the rule.")
    severity: Literal["error", "warning", "note"] = Field(description="How bad a breach is.")
    text: Text = Field(description="What is wrong when the rule is broken.")
    repair: Text = Field(description="What to do about it.")
    source: str = Field("", description="Who demands it: a source id or free text.")
    trap: OnlyTrue | None = Field(
        None,
        description="The values are allowed, but one that differs from the factory's has no "
        "effect, or another than meant: told as trap, a warning or a note.",
    )
    firmware: Firmware | None = Field(None, description="Firmware that the rule holds for.")
    repeat: Recurrence | None = Field(
        None,
        description="The rule holds for each index; [n] in its settings and {n} in its texts "
        "stand for it.",
    )
    if_: list[ConditionShape] | None = Field(
        None, min_length=1, description="The rule is asked only while all of these hold."
    )
    requires: list[ConditionShape] | None = Field(
        None, min_length=1, description="All of these must hold."
    )
    conflicts: list[ConditionShape] | None = Field(
        None, min_length=1, description="These must not all hold."
    )
    order: list[DecidingId] | None = Field(
        None, min_length=2, description="Settings whose values must not fall in this order."
    )
    ignore: list[Whole] | None = Field(
        None, min_length=1, description="Raw values that stand out of the order."
    )
    sum: Sum | None = Field(None, description="Settings whose values have a largest sum.")

    @model_validator(mode="after")
    def _one_demand(self) -> Self:
        self.one_of(*DEMANDS)
        if self.trap and self.severity == "error":
            raise fault('a trap is no "error"', 'Write "warning", or "note".')
        if self.ignore is not None and self.order is None:
            raise fault('"ignore" goes with "order" only', "Leave it out.")
        return self
