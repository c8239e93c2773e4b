"""The shape of a loco file, for its JSON Schema; the file itself is read without pydantic."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from cvlib.files.bounds import TEXT
from cvlib.files.shapes.base import Byte, Day, Shape, Text, Whole

CV_NUMBER = r"^0{0,4}(?:[1-9][0-9]{0,2}|10[01][0-9]|102[0-4])$"
PAGED_NUMBER = r"^0{0,4}(?:25[7-9]|2[6-9][0-9]|[34][0-9]{2}|50[0-9]|51[0-2])$"
LINE = r"^[^\n]*\S[^\n]*$"

Line: TypeAlias = Annotated[str, Field(pattern=LINE, max_length=TEXT)]
Values: TypeAlias = dict[Annotated[str, Field(pattern=CV_NUMBER)], Byte]
PagedValues: TypeAlias = dict[Annotated[str, Field(pattern=PAGED_NUMBER)], Byte]


class LocoShape(Shape):
    """The loco itself."""

    name: Line = Field(description="What the loco is called.")
    address: int | None = Field(None, ge=1, le=10239, description="The address it answers to.")
    note: Text | None = Field(None, description="A remark on the loco.")


_State: TypeAlias = Literal["reset", "not-reset", "never-updated"]


class _Noted(Shape):
    """Values noted together; a later table wins over an earlier one, CV by CV."""

    date: Day | None = Field(None, description="The day, without quotes: 2026-03-14.")
    how: Literal["read", "written", "typed", "carried"] | None = Field(
        None,
        description="Read back from the decoder, written to it, typed from paper, or carried over "
        "from other firmware.",
    )
    note: Text | None = Field(None, description="A remark on these values.")
    cv: Values = Field(default_factory=dict, description="CV numbers and their values: 27 = 3.")
    page: dict[Annotated[str, Field(pattern=r"^[0-9]{1,3}/[0-9]{1,3}$")], PagedValues] = Field(
        default_factory=dict,
        description='CVs 257-512 on an index page, under its CV 31 and CV 32 values: "16/2".',
    )


class ReadingShape(_Noted):
    """The values of the decoder noted on one day; a later reading wins, CV by CV."""

    firmware: Line | None = Field(
        None, description='The firmware in the decoder on that day, in quotes: "2.4.118".'
    )
    saved_for: Line | None = Field(
        None,
        description="The firmware that the values were meant for, where it is known to be another "
        "or they are not known to be new.",
    )
    state: _State | None = Field(
        None,
        description="What had become of the values at the update before that day: reset to the "
        "factory values, not reset, or it was never updated.",
    )


class SavedShape(_Noted):
    """Format 1: values saved together, with the firmware that they were saved for."""

    firmware: Line | None = Field(
        None, description='The firmware they were saved for, in quotes: "2.4.118".'
    )


class CheckedValueShape(Shape):
    """What the last check made of one CV value."""

    value: Byte = Field(description="The value that was checked.")
    digest: Line = Field(description="Stands for its meaning, to know it again by.")
    means: Line = Field(description="Its meaning in words.")


class CheckedShape(Shape):
    """What the last recorded check found the values to mean; written by the program."""

    date: Day = Field(description="The day of the check.")
    profile: Line = Field(description="The profile it was made with.")
    firmware: Line = Field(description="The firmware it was made for.")
    digest: Line = Field(description="Stands for all that the profile said of places then.")
    cv: dict[Annotated[str, Field(pattern=CV_NUMBER)], CheckedValueShape] = Field(
        default_factory=dict, description="What each CV value meant."
    )
    page: dict[
        Annotated[str, Field(pattern=r"^[0-9]{1,3}/[0-9]{1,3}$")],
        dict[Annotated[str, Field(pattern=PAGED_NUMBER)], CheckedValueShape],
    ] = Field(default_factory=dict, description="The same for CVs 257-512 on an index page.")


class LocoDecoder(Shape):
    """One decoder of the loco."""

    profile: Line | None = Field(
        None, description='Id of its profile, such as "ferrow/lark-8"; left out where not known.'
    )
    role: Line | None = Field(
        None, description="What it does; needed where a loco has several decoders."
    )
    firmware: Line | None = Field(
        None, description="The installed firmware, in quotes; left out where not known."
    )
    state: _State | None = Field(
        None,
        description="What became of its values when the firmware was last changed: reset to the "
        "factory values, not reset, or it was never updated.",
    )
    options: dict[str, Line | Whole | bool] = Field(
        default_factory=dict,
        description='Facts fixed when it was built: { "address[1].type" = "coil" }.',
    )
    reading: list[ReadingShape] = Field(
        default_factory=list, description="What was noted of its values, oldest first."
    )
    saved: list[SavedShape] = Field(
        default_factory=list, description="Format 1 only: the saved values, now reading."
    )
    history: list[ReadingShape] = Field(
        default_factory=list,
        description="What was saved before values were carried to other firmware; no longer used.",
    )
    checked: CheckedShape | None = Field(
        None, description='What "cvlib check --record" left here; written by the program.'
    )


class TrialConditionShape(Shape):
    """What is the same for some runs of a trial and differs between them."""

    name: Line = Field(description="Its name, as runs name it: an entry speed, or a value.")
    value: int | None = Field(None, description="The raw value of the setting in these runs.")
    wish: float | None = Field(None, gt=0, description="Where the loco should stop then.")


class RunShape(Shape):
    """One run of a trial."""

    condition: Line = Field(description="The condition it was made under.")
    stop: float | None = Field(None, ge=0, description="What was measured, in the unit.")
    missed: Literal[True] | None = Field(None, description="true: the stop was missed.")
    date: Day | None = Field(None, description="The day, without quotes: 2026-03-14.")
    note: Line | None = Field(None, description="A remark on this run.")


class TrialShape(Shape):
    """A bench trial: the plan made before the first run, and the runs."""

    date: Day = Field(description="The day it was planned.")
    setting: Line = Field(description='The setting on trial; "…@144" names the place tried.')
    question: Literal["stops", "entry-speed", "better", "acts", "update"] = Field(
        description="What it is to answer."
    )
    role: Line | None = Field(None, description="Which decoder, where there are several.")
    firmware: Line | None = Field(None, description="The firmware; of an update the old one.")
    to: Line | None = Field(None, description="The new firmware of an update.")
    margin: float = Field(gt=0, description="Near enough, in the unit; fixed beforehand.")
    unit: Literal["cm", "s"] = Field(description="The unit of all figures.")
    step: float = Field(gt=0, description="The smallest step of the tape or watch.")
    looks: list[Whole] = Field(
        min_length=1, max_length=3, description="Runs a side after which one may look."
    )
    seed: Whole | None = Field(None, description="What the order was drawn by.")
    conditions: list[TrialConditionShape] = Field(min_length=1, description="The conditions.")
    order: list[Whole] = Field(
        min_length=1, description="The conditions, run by run, by their number from 1."
    )
    values: dict[str, Line] = Field(
        default_factory=dict, description="Settings concerned, with their values in words."
    )
    note: Line | None = Field(None, description="A remark on the trial.")
    runs: list[RunShape] = Field(default_factory=list, description="The runs as they were made.")


class LocoFile(Shape):
    """What is saved of one loco."""

    format: Literal[1, 2] = Field(description="The form of this file; 2, or the older 1.")
    loco: LocoShape = Field(description="The loco itself.")
    decoder: list[LocoDecoder] = Field(min_length=1, description="Its decoders.")
    trial: list[TrialShape] = Field(
        default_factory=list, description='What "cvlib trial" measured; written by the program.'
    )
