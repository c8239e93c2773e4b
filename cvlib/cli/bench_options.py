"""Options of the commands that go with a decoder on the bench."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeAlias

import typer

if TYPE_CHECKING:
    from cvlib.engine.bench.situation import Situation
    from cvlib.model.loco import State

ThingsArgument: TypeAlias = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[FILE|CV=ANSWER]",
        help="A loco file or list of values, and answers such as 8=13, 261@0/255=42 or 28=none.",
        show_default=False,
    ),
]
AnswersFileOption: TypeAlias = Annotated[
    Path | None,
    typer.Option(
        "--answers",
        metavar="FILE",
        help="A file of answers. With --ask every answer is kept there at once.",
        show_default=False,
    ),
]
AskOption: TypeAlias = Annotated[
    bool | None,
    typer.Option(
        "--ask/--no-ask",
        help="Ask for one answer after the other; at a terminal when nothing else is given.",
        show_default=False,
    ),
]
AfterResetOption: TypeAlias = Annotated[
    bool | None,
    typer.Option(
        "--after-reset/--as-it-stands",
        help="The reads were made right after a factory reset, or as the decoder stood.",
        show_default=False,
    ),
]
MainOption: TypeAlias = Annotated[
    bool | None,
    typer.Option(
        "--main/--programming-track",
        help="Where the decoder stands.",
        show_default=False,
    ),
]
LoadOption: TypeAlias = Annotated[
    bool | None,
    typer.Option(
        "--load/--no-load",
        help="Whether a motor is connected, or a lamp to a decoder without a motor.",
        show_default=False,
    ),
]
BidirectionalOption: TypeAlias = Annotated[
    bool | None,
    typer.Option(
        "--bidirectional/--no-bidirectional",
        help="Whether the main carries answers back.",
        show_default=False,
    ),
]
AloneOption: TypeAlias = Annotated[
    bool | None,
    typer.Option(
        "--alone/--shared",
        help="Whether it is the only decoder at its address and on its track.",
        show_default=False,
    ),
]
ChosenOption: TypeAlias = Annotated[
    bool | None,
    typer.Option(
        "--chosen/--not-chosen",
        help="Where it is not: whether the other is unplugged, or locked out by CVs 15 and 16.",
        show_default=False,
    ),
]


def situation_of(
    after_reset: bool | None,
    main: bool | None,
    load: bool | None,
    bidirectional: bool | None,
    alone: bool | None,
    chosen: bool | None,
    state: State,
) -> Situation:
    """How the decoder is reached, as far as options say it."""
    from cvlib.engine.bench.situation import Situation
    from cvlib.engine.carry.write_sheet import Track

    track = None if main is None else Track.MAIN if main else Track.PROGRAMMING
    return Situation(track, load, bidirectional, alone, after_reset, chosen, state or None)


def resumed(situation: Situation, definitions: Path | None) -> list[str]:
    """The words of a command line that go on under the same conditions."""
    from cvlib.engine.bench.session import FactTold
    from cvlib.engine.bench.situation import Fact
    from cvlib.engine.carry.write_sheet import Track
    from cvlib.files.answers import as_words

    said = {
        Fact.TRACK: None if situation.track is None else situation.track is Track.PROGRAMMING,
        Fact.LOAD: situation.has_load,
        Fact.BIDIRECTIONAL: situation.has_bidirectional,
        Fact.ALONE: situation.is_alone,
        Fact.CHOSEN: situation.is_chosen,
        Fact.RESET: situation.is_reset,
        Fact.LEFTOVER: situation.state,
    }
    words = as_words(FactTold(fact, told) for fact, told in said.items() if told is not None)
    return [*words, *(["--definitions", str(definitions)] if definitions else [])]
