"""A profile file and a blocks file."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field, model_validator

from cvlib.files.bounds import SETTINGS, SOURCES
from cvlib.files.shapes.base import (
    LISTS,
    WORD,
    Firmware,
    Lists,
    ProfileFormat,
    Risks,
    Shape,
    Subject,
    Text,
)
from cvlib.files.shapes.evidence import (
    About,
    AcceptedShape,
    AdvisoryShape,
    AnySource,
    FirmwareShape,
    IdentityShape,
    PagesShape,
    QuestionShape,
)
from cvlib.files.shapes.places import Cited
from cvlib.files.shapes.settings import RuleShape, SettingShape

ID = r"[a-z0-9]+(?:[._-][a-z0-9]+)*"
FOLLOWED = rf"^{ID}/(?:{ID}@[0-9-]+|blocks/{WORD})$"


class Follow(Shape):
    """A standard's edition or a shared block that the profile takes settings over from."""

    from_: str = Field(
        pattern=FOLLOWED,
        description='A standard\'s edition, "standard/nmra-s-9.2.2@2012-07", or a block, '
        '"ferrow/blocks/lights".',
    )
    firmware: Firmware | None = Field(
        None, description="Taken over for this firmware of the decoder only."
    )
    only: About | None = Field(None, description="Just these settings or groups.")
    without: About | None = Field(None, description="All but these settings or groups.")
    sources: list[Cited] = Field(
        default_factory=list,
        description="Documents of the decoder that list what is taken over here.",
    )

    @model_validator(mode="before")
    @classmethod
    def _short_form(cls, value: Any) -> Any:
        return {"from": value} if isinstance(value, str) else value

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: Any, handler: Any) -> dict[str, Any]:
        """Either the short text or the table."""
        table = handler.resolve_ref_schema(handler(schema))
        return {
            "anyOf": [{"type": "string", "pattern": FOLLOWED}, table],
            "description": table.pop("description", ""),
        }


class DecoderShape(Shape):
    """Which decoder type it is."""

    id: str = Field(
        pattern=rf"^{ID}/{ID}$", description='Folder and file name, such as "ferrow/lark-8".'
    )
    maker: Text = Field(description="Who makes it.")
    name: Text = Field(description="What it is called.")
    kind: Literal["motor", "function", "sound", "accessory", "standard"] = Field(
        description="What sort of decoder it is, or that this is a published standard."
    )
    follows: list[Follow] = Field(
        default_factory=list,
        description="Standards and blocks to take settings over from; later ones win.",
    )
    without: About | None = Field(
        None, description="Settings or groups of the followed ones that this decoder lacks."
    )
    sources: list[Cited] = Field(
        default_factory=list,
        description="Documents that list every setting which names none itself; what comes from "
        "a standard is not meant.",
    )
    risk: Risks | None = Field(
        None, description="What the settings of this file may harm that are not marked nearer by."
    )
    note: str = Field("", description="A remark on the decoder type.")


class ProfileFile(Shape):
    """Our definition of one decoder type, or of a published standard."""

    format: ProfileFormat = Field(description="The form of this file; always 2.")
    decoder: DecoderShape = Field(description="Which decoder type it is.")
    identity: IdentityShape | None = Field(
        None, description="What the decoder answers when asked who it is."
    )
    firmware: FirmwareShape = Field(description="How the maker counts firmware.")
    source: list[AnySource] = Field(
        default_factory=list, max_length=SOURCES, description="The evidence."
    )
    risk: dict[Text, Risks] = Field(
        default_factory=dict,
        description="What settings may harm, by their id or the leading part of it.",
    )
    topic: dict[Text, Subject] = Field(
        default_factory=dict,
        description="What settings are about, by their id or the leading part of it.",
    )
    page: list[PagesShape] = Field(default_factory=list, description="Index pages and their use.")
    lists: Lists = Field(default_factory=dict, description=LISTS)
    setting: list[SettingShape] = Field(
        default_factory=list, max_length=SETTINGS, description="The settings."
    )
    rule: list[RuleShape] = Field(default_factory=list, description="Rules between settings.")
    advisory: list[AdvisoryShape] = Field(
        default_factory=list, description="What is known to misbehave."
    )
    question: list[QuestionShape] = Field(
        default_factory=list, description="What the profile does not know."
    )
    accepted: list[AcceptedShape] = Field(
        default_factory=list, description="What lint finds here and is right all the same."
    )


class Block(Shape):
    """Settings that several decoders of one maker share."""

    id: str = Field(pattern=rf"^{WORD}$", description='Name of the block, such as "lights".')
    title: Text = Field(description="What the block holds.")
    sources: list[Cited] = Field(
        default_factory=list, description="Sources of the decoders that follow the block."
    )
    risk: Risks | None = Field(
        None, description="What its settings may harm, where they are not marked themselves."
    )
    topic: Subject | None = Field(
        None, description="What its settings are about, where they do not say it themselves."
    )
    setting: list[SettingShape] = Field(
        default_factory=list, max_length=SETTINGS, description="The settings."
    )
    rule: list[RuleShape] = Field(default_factory=list, description="Rules between settings.")


class BlocksFile(Shape):
    """The shared blocks of one maker."""

    format: ProfileFormat = Field(description="The form of this file; always 2.")
    lists: Lists = Field(default_factory=dict, description=LISTS)
    block: list[Block] = Field(min_length=1, description="The blocks.")
    accepted: list[AcceptedShape] = Field(
        default_factory=list, description="What lint finds here and is right all the same."
    )
