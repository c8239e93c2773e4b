"""A probe as blocks: what is disputed, which reads would tell, which tests, what was learnt."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from cvlib.engine.bench.behaviour import BenchTest
from cvlib.engine.bench.layouts import MOST_BUNDLES, Bundle, Side
from cvlib.engine.bench.learnt import Learnt
from cvlib.engine.bench.probe import Plan, Probed, Standing
from cvlib.engine.bench.probing import Candidates, Probing
from cvlib.engine.bench.tree import LIKELY, Branch, is_cut
from cvlib.engine.known.told import where_text
from cvlib.model.profile import group_of
from cvlib.render.observation import amend_command, observation_text, question_command
from cvlib.render.phrases import counted, firmware_words, listed
from cvlib.render.view import (
    Block,
    Column,
    Gap,
    Heading,
    Line,
    Literal,
    Paragraph,
    Piece,
    Role,
    Table,
    plain,
)
from cvlib.render.views import identify
from cvlib.render.views.bench_words import AIMS, answer_words, page_step, share_words
from cvlib.render.views.questions import trial_blocks
from cvlib.render.views.trees import tree_blocks

AT_LEAST = round(LIKELY * 100)
FEW_TESTS = 2
"""Tests that are shown unless everything is asked for."""
CAN_TELL = (
    "A read shows whether a CV answers, and with a value that is allowed there; the factory value "
    "after a reset speaks most clearly. That it still does the same, only a test shows."
)
"""What reads can tell of firmware that no handbook covers, and what they cannot."""
OUTSIDE_READ = (
    "Answer as the nearest handbook says, or belong to what does, though that does not show what "
    "they do"
)
NOT_SEEN = "A read shows where a setting lives. That it acts there, only a test shows."
NO_TEST = "There is no simple test for"
WHY_NO_TEST = (
    "Nothing was found that shows plainly by eye, ear or watch and can do no harm, whatever the "
    "CVs turn out to be. Do not try values at random; ask the maker."
)
RESET = (
    "A factory reset loses every value: read and keep all CVs first. By RCN-226 (2014-09-12), "
    "section 2.1, it is 8 written into CV 8 in programming mode; the handbook of the decoder comes "
    "first."
)


def view(
    result: Probing | Candidates, typed: Callable[..., str], *, everything: bool = False
) -> list[Block]:
    """How far a probe has come and the way on; or the candidates to be told apart first.

    ``typed`` gives a command as it is typed in the shell.
    """
    if isinstance(result, Candidates):
        return _candidates(result, everything=everything)
    probed, profile = result.probed, result.profile
    firmware = str(probed.disputed.version)
    blocks: list[Block] = [
        Heading(f"Probe of {profile.id} at firmware {firmware}", 1),
        Paragraph(plain(_summary(result))),
    ]
    if probed.disputed.bundles:
        blocks += [Gap(), _bundles(probed)]
    blocks += _contradicted(result)
    blocks += identify.hint_blocks(result.hints)
    if result.learnt is not None:
        blocks += _learnt(result.learnt, probed, typed, everything=everything)
    for plan in probed.plans:
        blocks += [Gap(), *_plan(plan, probed, everything=everything)]
    if probed.next_read is not None and not probed.plans:
        read = probed.next_read
        blocks += [Gap(), Heading("Read next")]
        blocks.append(Paragraph((Piece(str(read.slot), Role.STRONG), Piece(": "
                      + AIMS[read.aim] + ".")), indent=2))  # fmt: skip
        if step := page_step(read.slot):
            blocks.append(Paragraph(plain(step), indent=2))
    if not result.is_settled:
        blocks += _tests(probed.tests, "Where no read tells: try it", everything=everything)
        blocks += _untold(probed)
    if result.written:
        blocks += [Gap(), Paragraph((Piece("written", Role.GOOD), Piece(f" to {result.written}")))]
    return blocks


def _contradicted(result: Probing) -> Iterator[Block]:
    for one in result.contradicted:
        words = f": {one.slot} answered {one.answer}; this firmware answers {one.expected}."
        yield Paragraph((Piece("contradiction", Role.WARNING), Piece(words)), hang=2)


def _summary(result: Probing) -> str:
    disputed = result.probed.disputed
    count = sum(len(bundle.settings) for bundle in disputed.bundles)
    if not count:
        return (
            f"Nothing is disputed at this firmware; it has {counted(result.settings, 'setting')}."
        )
    if disputed.is_outside:
        side = disputed.bundles[0].sides[0].firmware
        return (
            "Nothing is disputed, but no handbook covers this firmware: "
            f"{count} of {counted(result.settings, 'setting')} are taken over from firmware "
            f"{firmware_words(side)}. {CAN_TELL}"
        )
    verb = "is" if count == 1 else "are"
    return (
        f"{count} of {counted(result.settings, 'setting')} {verb} disputed, in "
        f"{counted(len(disputed.bundles), 'bundle')} that moved together."
    )


def bundle_name(bundle: Bundle) -> str:
    """The settings of a bundle in a few words: their groups and how many they are.

    One alone is named.
    """
    if len(bundle.settings) == 1:
        return bundle.settings[0]
    counts: dict[str, int] = {}
    for name in bundle.settings:
        counts[group_of(name)] = counts.get(group_of(name), 0) + 1
    groups = sorted(counts, key=lambda group: (-counts[group], group))
    return f"{listed(groups, 2)} ({len(bundle.settings)} settings)"


def side_words(side: Side, number: int) -> str:
    """One side of a bundle in words."""
    if side.firmware:
        return f"as in firmware {firmware_words(side.firmware)}"
    if side.is_unknown:
        return "otherwise"
    places = [place for place in side.places.values() if place is not None]
    if not places:
        return "not there"
    return f"at {where_text(places[0])}" if len(places) == 1 else f"way {number + 1}"


def _bundles(probed: Probed) -> Table:
    is_outside = probed.disputed.is_outside
    columns = (
        Column("", numeric=True, shrinks=False),
        Column(f"settings that {'belong' if is_outside else 'moved'} together"),
        *(() if is_outside else (Column("may be laid out"),)),
        Column("now"),
    )
    rows = []
    pairs = zip(probed.disputed.bundles, probed.standings, strict=True)
    for number, (bundle, standing) in enumerate(pairs, 1):
        sides = " or ".join(side_words(side, at) for at, side in enumerate(bundle.sides))
        cells: tuple[Line, ...] = (
            plain(str(number)),
            plain(bundle_name(bundle)),
            *(() if is_outside else (plain(sides.replace(" or as in firmware", " or")),)),
            _now(bundle, standing, probed),
        )
        rows.append(cells)
    return Table(columns, tuple(rows))


def _now(bundle: Bundle, standing: Standing, probed: Probed) -> Line:
    if standing.side is not None:
        side = bundle.sides[standing.side]
        was_tried = any(held.setting in bundle.settings for held in probed.results)
        settled = "settled" if was_tried or not probed.disputed.is_outside else "answers"
        return (
            Piece(settled, Role.WARNING if side.is_unknown else Role.GOOD),
            Piece(f": {side_words(side, standing.side)}"),
        )
    top = max(standing.chances)
    if top < 0.6:
        return (Piece("open", Role.WARNING),)
    at = standing.chances.index(top)
    words = side_words(bundle.sides[at], at)
    return (Piece("open", Role.WARNING), Piece(f"; {share_words(top)} {words}"))


def _plan(plan: Plan, probed: Probed, *, everything: bool) -> Iterator[Block]:
    state = "after a factory reset" if plan.terms.after_reset else "as the decoder stands"
    if plan.tree.root is None:
        yield Heading(f"Reads {state}")
        yield Paragraph(plain("No read tells the sides apart."), indent=2)
        return
    yield Heading(f"Reads {state}: about {plan.tree.reads:.1f}")
    if plan.terms.after_reset:
        yield Paragraph((Piece("caution", Role.WARNING), Piece(f": {RESET}")), 2, 2)
    names = [bundle_name(bundle) for bundle in probed.disputed.bundles]

    def words(branch: Branch) -> str:
        said: dict[str, list[str]] = {}
        for one in branch.told:
            side = probed.disputed.bundles[one.facet].sides[one.value]
            said.setdefault(side_words(side, one.value), []).append(names[one.facet])
        return "; ".join(
            f"{'everything' if 1 < len(held) == len(names) else listed(held, 3)} {how}"
            for how, held in said.items()
        )

    about = f"Beside each answer: how likely it is, and what is then at least {AT_LEAST} % sure."
    yield Paragraph((Piece(about, Role.FAINT),), indent=2)
    yield from tree_blocks(plan.tree, words, everything=everything)
    yield from _not_planned(plan, len(names))
    if plan.unreadable:
        shown = listed([names[at] for at in plan.unreadable], None if everything else 4)
        yield Paragraph(plain(f"No read is sure to settle {shown}; a test below is."), indent=2)


def _not_planned(plan: Plan, bundles: int) -> Iterator[Block]:
    """What the tree leaves out, and how it is planned when it comes to it."""
    if bundles > MOST_BUNDLES:
        words = f"The tree is for {MOST_BUNDLES} of the {bundles} bundles, the most doubtful ones. "
    elif is_cut(plan.tree):
        words = "Answers that come seldom are not planned to the end. "
    else:
        return
    words += "With --ask, or with the answers given, the next read is worked out anew each time."
    yield Paragraph((Piece(words, Role.FAINT),), indent=2)


def _learnt(
    learnt: Learnt, probed: Probed, typed: Callable[..., str], *, everything: bool
) -> Iterator[Block]:
    yield Gap()
    yield Heading("What was learnt")
    said = ", ".join(f"{read.slot} = {answer_words(read.answer)}" for read in probed.reads)
    if said:
        yield Paragraph(plain(f"Read: {said}."), indent=2, hang=2)
    most = None if everything else 6
    if learnt.inferred and learnt.is_outside:
        yield Paragraph(plain(f"{OUTSIDE_READ}: {listed(learnt.inferred, most)}."), 2, 2)
    elif learnt.inferred:
        yield Paragraph(
            plain(f"Settled because they moved together: {listed(learnt.inferred, most)}."), 2, 2
        )
    if learnt.readouts:
        names = listed([one.setting for one in learnt.readouts], most)
        yield Paragraph(plain(f"Settled by reads of their own CVs: {names}. {NOT_SEEN}"), 2, 2)
    unread = dict.fromkeys(str(slot) for one in learnt.readouts for slot in one.unread)
    if unread:
        words = f"Settled by what gave no answer elsewhere: read {listed(list(unread), most)} too."
        yield Paragraph(plain(words), 2, 2)
    if learnt.still_open:
        yield Paragraph(plain(f"Still open: {listed(learnt.still_open, most)}."), 2, 2)
    text = observation_text(learnt)
    if not text:
        yield Paragraph(plain("Nothing that a profile could take over yet."), indent=2)
        return
    if learnt.tests:
        yield from _tests(learnt.tests, "To be sure that it acts: try it", everything=everything)
        words = f"Then give what happened as one more answer: {learnt.tests[0].setting}=1"
        yield Paragraph(plain(words), indent=2)
    yield Gap()
    yield Heading(f"For {learnt.profile}")
    yield Literal(text, indent=4)
    if command := amend_command(learnt, typed):
        yield Paragraph(plain("This writes what was tried into the profile:"), indent=2)
        yield Literal(command, indent=4)
    if command := question_command(learnt, typed):
        yield Paragraph(plain("This writes what was only read, as a question:"), indent=2)
        yield Literal(command, indent=4)


def _candidates(result: Candidates, *, everything: bool) -> list[Block]:
    blocks = identify.view(result.identification, everything=everything)
    tree = result.tree
    if tree is None or tree.root is None:
        return blocks
    held = result.identification.found.candidates

    def words(branch: Branch) -> str:
        shares = [f"{identify.in_words(held[one.label])} ({share_words(one.chance)})"
                  for one in branch.shares]  # fmt: skip
        return listed(shares, 3, "or")

    title = f"Reads that tell them apart: about {tree.reads:.1f}"
    return [*blocks, Gap(), Heading(title), *tree_blocks(tree, words, everything=everything)]


def _tests(found: Sequence[BenchTest], title: str, *, everything: bool) -> Iterator[Block]:
    tests = found if everything else found[:FEW_TESTS]
    if not tests:
        return
    yield Gap()
    yield Heading(title)
    for test in tests:
        yield Gap()
        yield from trial_blocks(test)
    if len(found) > len(tests):
        more = f"{counted(len(found) - len(tests), 'more test')}; --all shows them."
        yield Paragraph((Piece(more, Role.FAINT),), indent=2)


def _untold(probed: Probed) -> Iterator[Block]:
    """The bundles that no read tells, and no test either that shows plainly without harm."""
    if probed.next_read is not None:
        return
    tested = {test.bundle for test in probed.tests}
    tried = {result.setting for result in probed.results}
    names = [
        bundle_name(bundle)
        for at, (bundle, standing) in enumerate(
            zip(probed.disputed.bundles, probed.standings, strict=True)
        )
        if standing.side is None and at not in tested and not tried.intersection(bundle.settings)
    ]
    if names:
        yield Gap()
        yield Paragraph(plain(f"{NO_TEST} {listed(names)}. {WHY_NO_TEST}"), indent=2)
