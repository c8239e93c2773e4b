"""A card as blocks: what all values of a loco do, in the order in which a person asks."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import NamedTuple

from cvlib.engine.explain.card import CardValue, DecoderCard, LocoCard
from cvlib.engine.known.neighbours import index_of, without_index
from cvlib.findings.catalogue import Severity
from cvlib.model.answer import Standing
from cvlib.model.assignment import Topic
from cvlib.model.cv import WHOLE, bit_words, spans_text
from cvlib.model.units import plain as decimal
from cvlib.render.phrases import counted, first_up, listed, pages_text
from cvlib.render.short_values import short_value
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Line,
    Paragraph,
    Piece,
    Plot,
    Role,
    Table,
    faint,
    plain,
    text_of,
)
from cvlib.render.views.card_keys import key_blocks, key_words
from cvlib.render.views.undecided import undecided

TITLES = {
    Topic.ADDRESS: "What it answers to",
    Topic.DRIVING: "How it drives",
    Topic.STOPPING: "How it stops, and where",
    Topic.KEYS: "Which key does what",
    Topic.LAMPS: "Lamps, effects and outputs",
    Topic.SOUND: "Sound",
    Topic.PROTECTION: "Protection",
}
RUNNING = ("configuration.reversed", "configuration.speed-steps")
"""What else belongs to the answer to a call, by the ids of the standards."""
CURVE_STEPS = (1, 14, 28)
FOLDED_FIRST: tuple[Topic | None, ...] = (
    *(None, Topic.LAMPS, Topic.SOUND, Topic.ADDRESS, Topic.DRIVING),
    *(Topic.PROTECTION, Topic.KEYS, Topic.STOPPING),
)
"""Where values are only counted first, to keep a card short."""
TABLE_KEPT = 4
"""How many topics are counted before the table of keys gives way to running text."""
TEXT_ROOM, PAGE_ROOM = (58, 75), (58, 118)
"""Lines and columns of a card: of one decoder on a terminal, and of all on a page of A5."""


class Form(NamedTuple):
    """How much is shown of a card."""

    everything: bool = False
    drawn: bool = False
    factory: tuple[Topic | None, ...] = ()
    """Topics of which the values that the factory left are only counted."""
    counted: tuple[Topic | None, ...] = ()
    """Topics of which all values are only counted against which nothing is to be said."""
    in_words: bool = False
    """The keys as running text instead of a table."""
    check: str = ""
    """The command that checks the loco."""
    common: str = Standing.DOCUMENTED
    """The standing that goes without saying."""

    def folds(self, one: CardValue) -> bool:
        """Whether a value is only counted."""
        if not one.is_sure or one.standing != self.common:
            return False
        return one.topic in self.counted or (one.topic in self.factory and one.is_factory)


def view(
    card: LocoCard, typed: Callable[..., str], *, everything: bool = False, page: bool = False
) -> list[Block]:
    """The card of a loco; ``everything`` unfolds it, ``page`` is for one to be printed.

    ``typed`` gives a command as it is typed in the shell.
    """
    check = typed("cvlib", "check", card.loco.file or "LOCO")
    form = Form(everything, drawn=page or everything, check=check, common=_common(card))
    if everything:
        return _blocks(card, form)
    lines, width = PAGE_ROOM if page else TEXT_ROOM
    count = len(card.decoders)
    room = lines - 5 * (count - 1) if page else lines * count
    stages = [FOLDED_FIRST[:at] for at in range(len(FOLDED_FIRST) + 1)]
    forms = [form._replace(factory=stage) for stage in stages]
    shorter = form._replace(factory=FOLDED_FIRST)
    forms += [shorter._replace(counted=stage) for stage in stages[1 : TABLE_KEPT + 1]]
    forms += [shorter._replace(counted=stage, in_words=True) for stage in stages]
    fitting = (blocks for one in forms if _length(blocks := _blocks(card, one), width) <= room)
    return next(fitting, None) or _blocks(card, forms[-1])


def _common(card: LocoCard) -> str:
    """The standing that most values of a card have."""
    counts = Counter(one.standing for held in card.decoders for one in held.values if one.is_sure)
    return max(counts, key=lambda word: (counts[word], word), default=Standing.DOCUMENTED.value)


def _length(blocks: Iterable[Block], width: int) -> int:
    """About how many lines blocks take."""
    total = 0
    for block in blocks:
        match block:
            case Paragraph(line):
                total += -(-len(text_of(line)) // width)
            case Table(rows=rows):
                total += len(rows) + 2
            case _:
                total += 1
    return total


def _blocks(card: LocoCard, form: Form) -> list[Block]:
    blocks: list[Block] = [Heading(card.loco.name, 1)]
    blocks += [Paragraph(_head(card, held)) for held in card.decoders]
    known = [held for held in card.decoders if held.checked.checked is not None]
    blocks += [Paragraph(plain(text)) for text in _marks(known, form)]
    for topic, title in TITLES.items():
        told = [block for held in known for block in _topic(card, held, topic, form)]
        if told:
            blocks += [*_gap(form), Heading(title, 2), *told]
    for held in known:
        blocks += _rest(card, held, form)
    for held in card.decoders:
        blocks += _unknown_firmware(held)
    return blocks


def _gap(form: Form) -> list[Block]:
    return [Gap()] if form.everything else []


def _role(card: LocoCard, held: DecoderCard) -> str:
    """The decoder's name where there are several."""
    if len(card.decoders) < 2:
        return ""
    return held.checked.decoder.role or held.checked.profile.name


def _head(card: LocoCard, held: DecoderCard) -> Line:
    """Whose values they are, and of when."""
    profile, decoder = held.checked.profile, held.checked.decoder
    checked, role = held.checked.checked, _role(card, held)
    days = sorted({one.date for one in decoder.values.values() if one.date})
    day = f", the newest of {days[-1]}" if days else ""
    firmware = f"firmware {checked.firmware}" if checked else "firmware not known"
    return (
        *((Piece(f"{first_up(role)} decoder: "),) if role else ()),
        Piece(f"{profile.maker} {profile.name}".strip()),
        Piece(f" ({profile.id}), "),
        Piece(firmware, Role.STRONG),
        Piece(f"; {counted(len(decoder.values), 'value')} saved{day}."),
    )


def _marks(known: Sequence[DecoderCard], form: Form) -> Iterator[str]:
    """What goes for the whole card: how sure it is, and what a check has to say."""
    if any(one.standing == form.common for held in known for one in held.values):
        yield f"All {form.common}, where no other word stands in brackets."
    grave = {
        severity: sum(one.severity is severity for held in known for one in held.findings)
        for severity in (Severity.ERROR, Severity.WARNING)
    }
    if any(grave.values()):
        said = listed([counted(number, str(word)) for word, number in grave.items() if number])
        yield f'{said}: "{form.check}" says what is wrong and what to do.'


def _topic(card: LocoCard, held: DecoderCard, topic: Topic, form: Form) -> Iterator[Block]:
    """All of one decoder that answers one question."""
    values = [one for one in held.values if one.topic is topic]
    lead = list(_lead(held, topic))
    role = _role(card, held)
    if topic is Topic.KEYS:
        lead += _key_lead(held)
        values = [one for one in values if form.everything or not _in_table(held, one, form)]
    if not (values or lead or (topic is Topic.KEYS and held.keys.works)):
        return
    if role:
        yield Heading(f"{first_up(role)} decoder", 3)
    if lead:
        yield Paragraph(plain(" ".join(lead)), indent=2, hang=2)
    if topic is Topic.KEYS:
        yield from key_words(held.keys) if form.in_words else key_blocks(held.keys)
    if topic is Topic.DRIVING and form.drawn and held.curve is not None:
        curves = [("forwards", held.curve.forward), ("backwards", held.curve.reverse)]
        shown = curves[:1] if held.curve.forward == held.curve.reverse else curves
        yield Plot(tuple(shown), f"{first_up(held.curve.form)}: motor drive at each of 28 steps")
    yield from _block(values, form)


def _lead(held: DecoderCard, topic: Topic) -> Iterator[str]:
    """What several values come to: the answer to the question in a sentence or two."""
    if topic is Topic.ADDRESS and held.address is not None:
        yield f"Answers to {held.address}, its {'long' if held.is_long else 'short'} address."
        yield from _running(held)
    if topic is Topic.DRIVING:
        yield from _driving(held)
        return
    for about, one in held.sums:
        if about is topic:
            yield f"{one.title}: {one.value}."


def _running(held: DecoderCard) -> Iterator[str]:
    """Speed steps and direction."""
    values = {one.setting.id: one for one in held.values if one.setting}
    found = [values[name] for name in RUNNING if name in values]
    if found:
        texts = [f"{title_of(one).rpartition(': ')[2]} {value_of(one)}" for one in found]
        yield f"{first_up(', '.join(texts))}."


def _driving(held: DecoderCard) -> Iterator[str]:
    """The speed curve at three steps, and the seconds to full speed and back."""
    if held.curve is not None:
        texts = [
            listed([f"{round(level[at - 1] * 100 / 255)} % at step {at}" for at in CURVE_STEPS])
            for level in dict.fromkeys((held.curve.forward, held.curve.reverse))
        ]
        why = ", with the factory's values where none is saved" if held.is_factory_curve else ""
        yield f"{first_up(held.curve.form)}: {'; backwards '.join(texts)} of 28{why}."
    up, down = (held.times.speeding_up, held.times.slowing_down) if held.times else (None, None)
    times = [
        f"{decimal(round(seconds, 2))} s {words}"
        for seconds, words in ((up, "from a stand to full speed"), (down, "from there to a stand"))
        if seconds is not None
    ]
    if times:
        yield f"{first_up(listed(times))}."


def _key_lead(held: DecoderCard) -> list[str]:
    if not held.keys.is_saved:
        return ["CV 96 is not saved: the table holds while CVs 33-46 count."]
    return [f"CV 96 chooses: {held.keys.method}."] if held.keys.method else []


def _in_table(held: DecoderCard, one: CardValue, form: Form) -> bool:
    """Whether the table of keys says all there is to say of a value."""
    setting, is_plain = one.setting, one.is_sure and one.standing == form.common
    return is_plain and setting is not None and setting.id in held.keys.settings


def _block(values: Sequence[CardValue], form: Form) -> Iterator[Block]:
    """Some values: each a row where all is unfolded, else as running text."""
    if form.everything and values:
        columns = (Column("CV"), Column("setting"), Column("value"), Column("standing"))
        yield Table(columns, tuple(map(_row, values)))
        return
    shown = [one for one in values if not (one.is_clear or form.folds(one))]
    if shown:
        yield Paragraph(tuple(_chunks(shown, form)), indent=2)


def _folded(held: DecoderCard, form: Form) -> Iterator[Block]:
    """What is only counted, by CV, so that nothing is left out."""
    values = [] if form.everything else [one for one in held.values if form.folds(one)]
    clear = [] if form.everything else [one for one in held.values if one.is_clear]
    factory = [one for one in values if one.is_factory]
    more = [one for one in values if not one.is_factory]
    named = (
        ("As the factory left it", factory),
        ("Told by --all alone", more),
        ("Bits without use, all clear", clear),
    )
    for what, found in named:
        if found:
            yield Paragraph(plain(f"{what}: {_slots_text(found)}."), indent=2)


def _slots_text(values: Iterable[CardValue]) -> str:
    """The CVs of some values, page by page."""
    return pages_text((slot.cv, str(slot.page or "")) for one in values for slot in one.slots)


def _row(one: CardValue) -> tuple[Line, ...]:
    where = where_of(one)
    return plain(where), plain(title_of(one)), plain(value_of(one)), plain(", ".join(words_of(one)))


def _chunks(values: Iterable[CardValue], form: Form) -> Iterator[Piece]:
    """Values as running text: what recurs with the same value, and what titles share, once."""
    groups: dict[tuple[str, tuple[str, ...]], list[CardValue]] = {}
    for one in values:
        name = without_index(one.setting.id) if one.setting else str(one.slots)
        groups.setdefault((name, _said_words(one, form)), []).append(one)
    shared = ""
    for number, ((_, words), held) in enumerate(groups.items()):
        text = _merged_text(held)
        opening, colon, _ = title_of(held[0]).partition(": ")
        is_same = bool(colon) and opening == shared
        shared = opening if colon else ""
        yield Piece("" if not number else ", " if is_same else "; ")
        yield Piece(text.removeprefix(f"{opening}: ") if is_same else text)
        if words:
            yield Piece(f" [{', '.join(words)}]", Role.STRONG)
    yield Piece(".")


def _merged_text(held: Sequence[CardValue]) -> str:
    """One value, or those of a repeat: ``Brightness of output 1-3: 100 %, 4: 40 %``."""
    indexes = [index_of(one.setting.id) if one.setting else None for one in held]
    title, first = title_of(held[0]), indexes[0]
    found = re.search(rf"(?<![\w.]){first}(?![\w.])", title) if first is not None else None
    if len(held) == 1 or found is None:
        return "; ".join(f"{title_of(one)} {value_of(one)}" for one in held)
    by_value: dict[str, list[int]] = {}
    for one, index in zip(held, indexes, strict=True):
        by_value.setdefault(value_of(one), []).append(index or 0)
    spans = [f"{spans_text(tuple(numbers))}: {value}" for value, numbers in by_value.items()]
    told = ", ".join(spans)
    if len(held[0].candidates) > 1:
        return f"{title.replace(found[0], 'n')}, {told}"
    if found.end() == len(title):
        return f"{title[: found.start()]}{told}"
    return f"{title[: found.start()]}n{title[found.end() :]}, {told}"


def title_of(one: CardValue) -> str:
    """What the value is of, each that it may be of, or where it lies if nobody knows."""
    titles = dict.fromkeys(held.setting.title for held in one.candidates)
    was = f"{one.was} (other firmware)" if one.was else "Not known"
    return " or ".join(titles) or (was if one.was else one.area) or was


def value_of(one: CardValue) -> str:
    """A value in words, in each meaning that it may have; the number where nobody can say it."""
    if len(one.candidates) > 1 and "asleep" in one.codes:
        return str(one.raw[0])
    texts = [
        number_of(one) if held.parts is None else short_value(held.place, held.parts)
        for held in one.candidates
    ]
    return " or ".join(dict.fromkeys(texts)) or number_of(one)


def number_of(one: CardValue) -> str:
    """Each CV with its number."""
    if len(one.slots) == 1:
        return f"{where_of(one)} = {one.raw[0]}"
    return ", ".join(f"{slot} = {raw}" for slot, raw in zip(one.slots, one.raw, strict=True))


def where_of(one: CardValue) -> str:
    """The CVs of a value, with the bits where it is only some of one."""
    text = _slots_text((one,))
    return text if one.mask == WHOLE else f"{text} {bit_words(one.mask)}"


def words_of(one: CardValue) -> tuple[str, ...]:
    """The standing of a value, and the codes of what a check finds about it."""
    return (*((one.standing,) if one.standing else ()), *one.codes)


def _said_words(one: CardValue, form: Form) -> tuple[str, ...]:
    return tuple(word for word in words_of(one) if word != form.common)


def _rest(card: LocoCard, held: DecoderCard, form: Form) -> Iterator[Block]:
    """What answers none of the questions, by group, and what is only counted."""
    groups: dict[str, list[CardValue]] = {}
    for one in held.values:
        if one.topic is None:
            groups.setdefault(one.group, []).append(one)
    told: list[Block] = []
    for name, found in groups.items() if form.everything else ():
        told += [Heading(name or "No setting of this firmware", 3), *_block(found, form)]
    if not form.everything:
        told += _block([one for found in groups.values() for one in found], form)
    told += _folded(held, form)
    if told:
        role = f" of the {_role(card, held)} decoder" if _role(card, held) else ""
        yield from (*_gap(form), Heading(f"The rest{role}", 2), *told)


def _unknown_firmware(held: DecoderCard) -> Iterator[Block]:
    """A decoder whose firmware nobody knows: what fits, and its values as numbers."""
    from cvlib.engine.account.decide import Undecided

    if not isinstance(held.checked.outcome, Undecided):
        return
    yield from undecided(held.checked, held.checked.outcome)
    numbers = [f"{slot} = {one.value}" for slot, one in held.checked.decoder.values.items()]
    yield Paragraph(faint(f"{'; '.join(numbers)}."), indent=2, hang=2)
