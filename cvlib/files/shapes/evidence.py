"""What a decoder answers, which firmware exists, and the evidence for it all."""

from __future__ import annotations

from typing import Annotated, Literal, Self, TypeAlias

from pydantic import ConfigDict, Field, model_validator

from cvlib.files.shapes.base import (
    BitsText,
    Byte,
    Cv,
    Day,
    Ends,
    Firmware,
    Named,
    OneOrMore,
    PageText,
    Shape,
    Text,
    exactly_one,
)
from cvlib.files.shapes.places import Cited

PART = r"[0-9]{1,3}(?:-[0-9]{1,3})?"
About: TypeAlias = Annotated[list[Text], Field(min_length=1), OneOrMore()]


class Answered(Shape):
    """One CV that the decoder answers in a known way."""

    model_config = ConfigDict(json_schema_extra=exactly_one("value", "values", "range"))

    cv: Cv = Field(description="The CV number.")
    page: PageText | None = Field(None, description='Its index page, such as "0/255".')
    bits: BitsText | None = Field(
        None, description='Bits of the answer, such as "4-7", where only those are known.'
    )
    value: Byte | None = Field(None, description="The value it answers.")
    values: list[Byte] | None = Field(None, min_length=1, description="The values it may answer.")
    range: Ends | None = Field(None, description="Lowest and highest value it may answer.")
    firmware: Firmware | None = Field(None, description="Firmware that answers so.")

    @model_validator(mode="after")
    def _one_answer(self) -> Self:
        self.one_of("value", "values", "range")
        return self


class IdentityShape(Shape):
    """What the decoder answers when asked who it is."""

    manufacturer: int | None = Field(
        None, ge=0, le=4095, description="Manufacturer ID, as in CV 8 (or CVs 107 and 108)."
    )
    answers: list[Answered] = Field(default_factory=list, description="CVs with a known answer.")
    no_answer: list[Cv] = Field(default_factory=list, description="CVs that give no answer.")


class PartShape(Shape):
    """One part of the firmware version as the decoder answers it."""

    cv: Cv = Field(description="CV that holds the part.")
    page: PageText | None = Field(None, description="Its index page.")
    bits: BitsText | None = Field(None, description='Bits of the part, such as "4-7".')
    digit: Literal["hundreds", "tens", "ones"] | None = Field(
        None, description="Decimal digit of the CV value that is the part."
    )


class Exact(Shape):
    """A CV and the value it really answers."""

    cv: Cv = Field(description="The CV number.")
    value: Byte = Field(description="The value it answers.")


class ReleaseShape(Shape):
    """A firmware known to exist."""

    version: Text = Field(description="The version, in quotes: 3.10 is not 3.1.")
    date: Day | None = Field(None, description="Day of release, without quotes.")
    label: Annotated[list[Text], Field(min_length=1), OneOrMore()] | None = Field(
        None, description="Another name people use for it; several are a list."
    )
    answers: list[Exact] = Field(
        default_factory=list,
        description="What it really answers, where that is not what its version says.",
    )
    note: str = Field("", description="A remark on this release.")


class FirmwareShape(Shape):
    """How the maker counts firmware, and which is known to exist."""

    scheme: Literal["dotted", "number", "date"] = Field(
        description='"dotted" 2.4.118, "number" 37 or "date" 2025-07-27.'
    )
    parts: list[PartShape] = Field(
        default_factory=list,
        description="CVs that hold the version, most significant part first.",
    )
    release: list[ReleaseShape] = Field(
        default_factory=list, description="Every release known to exist."
    )


class SourceShape(Shape):
    """Why we believe something."""

    id: Named = Field(description="Short name that places use to call on it.")
    date: Day | None = Field(None, description="Its date, without quotes.")
    firmware: Firmware = Field(description="The firmware it speaks for.")
    about: About | None = Field(
        None, description="Settings or groups it speaks for; left out: every setting."
    )
    where: str = Field("", description="Where it is found: repository, commit, shelf.")
    note: str = Field("", description="A remark on this source.")


class WrittenSource(SourceShape):
    """A document, or what somebody wrote or said for the maker."""

    extent: Literal["whole", "cited"] | None = Field(
        None,
        description='"whole": somebody has read it from first to last page, and what it does not '
        'list does not exist there; "cited" (left out): it speaks only for what cites it.',
    )
    reissues: Named | None = Field(
        None, description="Document that it repeats, except in what its own citations say."
    )
    replaces: Named | None = Field(None, description="Document that it is an erratum to.")
    without: About | None = Field(None, description="Settings or groups that it says are gone.")


class DocumentSource(WrittenSource):
    """A handbook issue or another document."""

    kind: Literal["document"] = Field(description="What sort of evidence it is.")
    title: Text = Field(description="Title, with its issue.")


class MakerSource(WrittenSource):
    """The maker's word."""

    kind: Literal["maker"] = Field(description="What sort of evidence it is.")
    title: str = Field("", description="Who said it, and how.")


class BenchSource(SourceShape):
    """A bench test: one decoder, one firmware, what was seen."""

    kind: Literal["bench"] = Field(description="What sort of evidence it is.")
    title: str = Field("", description="What was tried.")


AnySource: TypeAlias = Annotated[
    DocumentSource | MakerSource | BenchSource, Field(discriminator="kind")
]


class PagesShape(Shape):
    """Some index pages and what they are for."""

    pages: str = Field(
        pattern=rf"^{PART}/{PART}$",
        description='CV 31 and CV 32, each a number or a span, such as "0/40-43".',
    )
    use: Literal["defined", "reserved", "manufacturer"] = Field(
        description="Whom the pages are kept for."
    )
    title: Text = Field(description="What the pages hold.")


class AdvisoryShape(Shape):
    """What is known to misbehave."""

    id: Named = Field(description="Short name of the advisory.")
    firmware: Firmware = Field(description="Firmware that misbehaves.")
    text: Text = Field(description="What is wrong.")
    do: Text = Field(description="What to do about it.")
    about: About | None = Field(None, description="Settings or groups it touches.")
    sources: list[Cited] = Field(default_factory=list, description="Who says so.")


class QuestionShape(Shape):
    """Something that the profile does not know."""

    id: Named = Field(description="Short name of the question.")
    date: Day | None = Field(None, description="Day it was asked, without quotes.")
    about: About | None = Field(None, description="Settings or groups it is about.")
    text: Text = Field(description="What is not known.")
    settle: Text = Field(description="The read or bench test that would settle it.")
    firmware: Firmware | None = Field(None, description="Firmware it is about.")


class AcceptedShape(Shape):
    """A finding of lint that is right all the same, and why."""

    code: Text = Field(description='The code of the finding, such as "unused-source".')
    about: About = Field(
        description="The settings, groups, sources or other ids that it is found about."
    )
    reason: Text = Field(description="Why it is right here.")
