"""Options of carrying values and of write sheets."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

from cvlib.cli.show import show_or_put
from cvlib.errors import problem

if TYPE_CHECKING:
    from cvlib.engine.carry.carry_loco import DecoderCarried
    from cvlib.engine.carry.write_sheet import Setup
    from cvlib.engine.compare.compare import Compared
    from cvlib.engine.compare.match import Matched


class SheetFormat(StrEnum):
    """The form of an output that holds a write sheet."""

    TEXT = "text"
    JSON = "json"
    MARKDOWN = "markdown"
    CSV = "csv"
    """The sheet alone, as rows."""
    HTML = "html"
    """The sheet alone, as a page to print."""


SheetFormatOption: TypeAlias = Annotated[
    SheetFormat, typer.Option("--format", help="The form of the output.", show_default=True)
]
ToOption: TypeAlias = Annotated[
    str, typer.Option("--to", metavar="VERSION", help="The firmware to carry the values to.")
]
ToProfileOption: TypeAlias = Annotated[
    str, typer.Option("--to-profile", metavar="ID", help="Another decoder type to carry to.")
]
RolesOption: TypeAlias = Annotated[
    list[str] | None,
    typer.Option("--role", metavar="ROLE", help="Which decoder; may be repeated."),
]
ChooseOption: TypeAlias = Annotated[
    list[str] | None,
    typer.Option(
        "--choose",
        metavar="NAME=CHOICE",
        help="Settle a disputed setting or group: older, newer, a CV such as 144, or none. "
        "May be repeated.",
    ),
]
BuiltOption: TypeAlias = Annotated[
    list[str] | None,
    typer.Option("--option", metavar="ID=CHOICE", help="A fact fixed when the decoder was built."),
]
MainOption: TypeAlias = Annotated[
    bool, typer.Option("--main", help="Write on the main, not on the programming track.")
]
AnswersOption: TypeAlias = Annotated[
    bool | None,
    typer.Option(
        "--answers/--no-answer",
        help="Whether the decoder can be read there; the programming track: yes, the main: no.",
        show_default=False,
    ),
]
SharedOption: TypeAlias = Annotated[
    bool, typer.Option("--shared", help="Another decoder has the same address.")
]
ResetOption: TypeAlias = Annotated[
    bool, typer.Option("--reset", help="Begin with a factory reset.")
]
PowerCycleOption: TypeAlias = Annotated[
    bool, typer.Option("--power-cycle", help="End by switching the power off and on.")
]
AddressOption: TypeAlias = Annotated[
    int | None,
    typer.Option(
        "--address",
        min=1,
        max=10239,
        help="On the main: the address at which the decoder answers now.",
        show_default=False,
    ),
]
BitsOption: TypeAlias = Annotated[
    bool,
    typer.Option("--bits/--no-bits", help="Whether the command station writes single bits."),
]
SheetOption: TypeAlias = Annotated[bool, typer.Option("--sheet", help="Show the write sheet only.")]
WriteOption: TypeAlias = Annotated[
    bool,
    typer.Option(
        "--write", help="Put the new values into the loco file; the former go to its history."
    ),
]


def pairs(said: Iterable[str] | None, option: str) -> tuple[tuple[str, str], ...]:
    """The names and choices of an option that takes ``NAME=CHOICE``."""
    found: list[tuple[str, str]] = []
    for text in said or ():
        name, equals, choice = text.partition("=")
        if not equals or not name.strip() or not choice.strip():
            raise problem(
                f'"{text}" after {option} is not understood.',
                advice=f"Write a name, an equals sign and a choice: {option} braking=newer.",
            )
        found.append((name.strip(), choice.strip()))
    return tuple(found)


def setup_of(
    main: bool, answers: bool | None, shared: bool, address: int | None, bits: bool
) -> Setup:
    """How the decoder is reached; on the main it is taken not to answer, unless said."""
    from cvlib.engine.carry.write_sheet import Setup, Track

    track = Track.MAIN if main else Track.PROGRAMMING
    reads = not main if answers is None else answers
    return Setup(track, reads, shared, address=address, writes_bits=bits)


def show_carried(
    form: SheetFormat,
    result: DecoderCarried,
    *,
    everything: bool,
    why: bool,
    sheet: bool,
) -> None:
    """Print carried values, or their sheet alone."""
    from cvlib.render.views import carry, carry_data
    from cvlib.render.views.sheet import to_csv

    def page() -> str:
        from cvlib.render.sheet_page import sheet_page

        head, label = carry.sheet_head(result), carry.label_of(result)
        return sheet_page(head, carry.told(result), label, why=why)

    show_or_put(
        form,
        lambda: (
            carry.sheet_only(result, why=why)
            if sheet
            else carry.view(result, everything=everything, why=why)
        ),
        lambda: carry_data.carry_data(result),
        lambda: to_csv(carry.told(result)),
        page,
    )


def show_compared(
    form: SheetFormat,
    compared: Compared,
    matched: Matched | None,
    setup: Setup,
    *,
    everything: bool,
    why: bool,
) -> None:
    """Print a comparison, or the values proposed and their sheet."""
    from cvlib.engine.carry.order import plan
    from cvlib.render.view import Heading
    from cvlib.render.views import compare
    from cvlib.render.views.compare_data import compare_data
    from cvlib.render.views.sheet import to_csv

    if matched is None:
        if form in (SheetFormat.CSV, SheetFormat.HTML):
            raise problem(
                f'The form "{form}" holds a write sheet.', advice="Ask for one with --match LOCO."
            )
        show_or_put(
            form,
            lambda: compare.view(compared, everything=everything),
            lambda: compare_data(compared, None, None),
        )
        return
    sheet, told = plan(matched.job, setup), compare.told_of

    def page() -> str:
        from cvlib.render.sheet_page import sheet_page

        head = [compare.match_heading(matched), Heading("Write sheet")]
        return sheet_page(head, told(matched, sheet), head[0].text, why=why)

    show_or_put(
        form,
        lambda: compare.match_view(matched, sheet, why=why),
        lambda: compare_data(compared, matched, sheet),
        lambda: to_csv(told(matched, sheet)),
        page,
    )
