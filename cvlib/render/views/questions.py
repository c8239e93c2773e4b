"""Questions of a session as blocks: a fact, a read, or a behaviour test."""

from __future__ import annotations

from collections.abc import Iterator

from cvlib.engine.bench.behaviour import BenchTest, Trial
from cvlib.engine.bench.next_read import Suggestion
from cvlib.engine.bench.session import Question
from cvlib.engine.bench.situation import Fact
from cvlib.model.cv import WHOLE, Slot, bit_words
from cvlib.render.view import Block, Gap, Heading, Paragraph, Piece, Role, plain
from cvlib.render.views.bench_words import AIMS, FACTS, page_step
from cvlib.render.views.sheet_words import CAUTIONS


def question_blocks(question: Question, number: int) -> list[Block]:
    """What to ask, with what has to be done first."""
    match question:
        case Fact():
            words, usual = FACTS[question]
            return [Gap(), _asked(number, f"{words}? [{usual}]")]
        case Suggestion():
            blocks: list[Block] = [Gap()]
            step = page_step(question.slot)
            if step:
                blocks.append(Paragraph(plain(step)))
            blocks.append(_asked(number, f"Read {question.slot}. What does it hold?"))
            about = f'{AIMS[question.aim]}; a value, "none" for no answer, "skip"'
            return [*blocks, Paragraph((Piece(about, Role.FAINT),), indent=2)]
        case _:
            return [Gap(), *trial_blocks(question), Gap(), _asked(number, "What happened?")]


def _asked(number: int, words: str) -> Paragraph:
    return Paragraph((Piece(f"{number}. "), Piece(words, Role.STRONG)), hang=3)


def help_blocks() -> list[Block]:
    """The words that every question understands."""
    rows = (
        ("a value", "0 to 255, also 0x1F or 0b101"),
        ("none", "the decoder gave no answer"),
        ("8=13", "another CV than the one asked for"),
        ("skip", "leave this one out"),
        ("undo", "take the last answer back"),
        ("quit", "stop asking and show what is known"),
    )
    return [
        Paragraph((Piece(f"{word:8}", Role.CODE), Piece(f" {words}")), indent=2)
        for word, words in rows
    ]


def trial_blocks(test: BenchTest, *, level: int = 3) -> list[Block]:
    """A behaviour test: what to beware of, what to set, what to watch, how to put back."""
    blocks: list[Block] = [Heading(f"Test: {test.title} ({test.setting})", level)]
    blocks += [
        Paragraph((Piece("caution", Role.WARNING), Piece(f": {CAUTIONS[caution]}")), 2, 2)
        for caution in test.cautions
    ]
    steps = list(_steps(test))
    blocks += [
        Paragraph(plain(f"{at}. {step}"), indent=2, hang=3) for at, step in enumerate(steps, 1)
    ]
    return [*blocks, *_choices(test)]


def _steps(test: BenchTest) -> Iterator[str]:
    if test.needs_motor:
        yield "Connect the motor, if it is not: the loco has to run for this test."
    slots = dict.fromkeys(slot for trial in test.trials for slot, _, _ in trial.writes)
    pages = dict.fromkeys(slot.page for slot in slots if slot.page is not None)
    for page in pages:
        yield page_step(Slot(257, page))
    yield f"Read and note {_slots(slots)}. Where nothing can be read, note what the list says."
    watch = f"Watch: {test.title}. {test.watch}".rstrip()
    if test.is_same_place:
        trial = test.trials[0]
        yield f"Write {_writes(trial)}, {_kept_bits(trial)}and try it. {watch}"
    else:
        for at, trial in enumerate(test.trials):
            again = "Then put it back. " if at else ""
            yield (
                f"{again}Write {_writes(trial)}{_meaning(trial)}, {_kept_bits(trial)}and try it. "
                f"{watch if not at else 'Watch the same.'}"
            )
    yield f"Write the noted values back into {_slots(slots)}, and read them back."


def _meaning(trial: Trial) -> str:
    """What a value means, where that is more than the figure written."""
    figures = {str(value) for _, _, value in trial.writes}
    return "" if {trial.meaning} == figures else f" ({trial.meaning})"


def _slots(slots: dict[Slot, None]) -> str:
    return " and ".join(str(slot) for slot in slots)


def _writes(trial: Trial) -> str:
    return ", ".join(
        f"{slot} = {value}"
        if mask == WHOLE
        else f"{bit_words(mask)} of {slot} = {value >> (mask & -mask).bit_length() - 1}"
        for slot, mask, value in trial.writes
    )


def _kept_bits(trial: Trial) -> str:
    parts = any(mask != WHOLE for _, mask, _ in trial.writes)
    return "with all its other bits as they were, " if parts else ""


def _choices(test: BenchTest) -> Iterator[Block]:
    """What may happen, numbered as the answers are."""
    for number in range(1, test.answers + 1):
        side = number - 1
        trial = next((one for one in test.trials if one.side == side), None)
        if trial is None and side in test.unknown:
            words = "it does nothing, or something else: it is not as that handbook says"
        elif trial is None and side in test.absent:
            words = "it changes nothing anywhere: this firmware does not have the setting"
        elif trial is None:
            words = "as before"
        elif test.is_same_place and not trial.meaning:
            words = f"it does not act: this value is not allowed ({trial.coding})"
        elif test.is_same_place:
            words = f"it acts as {trial.meaning} ({trial.coding})"
        else:
            words = f"it acts by {trial.where}"
        yield Paragraph((Piece(f"{number}", Role.STRONG), Piece(f" = {words}")), 4, 4)
    yield Paragraph(
        (Piece("nothing", Role.STRONG), Piece(" = it could not be told")), indent=4, hang=4
    )
