"""The forms of ``cvlib amend``: what each is about and what may be said."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cvlib.cli.forms import RISK, Form, Key, Need
from cvlib.cli.new_form import ACCEPTED, ID, LABEL, REPEATS
from cvlib.cli.options import examples

EXAMPLES = examples(
    "cvlib amend bench ferrow/lark-8 braking.mode=works --firmware 4.2.60",
    "cvlib amend release ferrow/lark-8 5.1.0 --date 2026-09-14 --dry-run",
    "cvlib amend place ferrow/lark-8 braking.mode --at 4.3.9 --default 1 --pr-text change.md",
    "",
    'What is missing is asked for at a terminal. "cvlib amend FORM --help" shows a form.',
    "Exit code 2 where the correction is refused; nothing is written then.",
)
ABOUT = """Correct a profile: a bench test, a release, a document, a place, a question, a setting.

The correction is written into the TOML file with its comments kept. Shown are the diff, the
settings that are answered otherwise and for which firmware, and the text for a pull request.
"""

PR_TEXT = Annotated[
    Path | None,
    typer.Option(
        "--pr-text",
        metavar="FILE",
        help="Put the text for a pull request into this file, behind what it holds.",
    ),
]
"""Where the text for a pull request is kept."""
DATE = Key("date", "The day, such as 2026-03-14", Need.OFFERED, "DAY", usual="today")
NOTE = Key("note", "A remark", Need.OFFERED)
WHERE = Key("where", "Where it is found: shelf, repository, page in the web")
CONCERNS = Key("about", "The settings or groups it is about, parted by commas", metavar="LIST")
SOURCE = Key(
    "source",
    "Why we believe it: ID:PAGE, or for a bench test ID=works, ID=unreliable or ID=no-effect",
    metavar="SOURCE",
    many=True,
)
RANGE = "RANGE"
REMOVE = Key("remove", "Take this key out", metavar="KEY", many=True)
IN_BLOCK = Key(
    "in-block", "Correct the block that the setting comes from, for all who follow it", switch=True
)
ABOUT_PARTS = (
    "setting, source, release, rule, page, advisory, question, accepted, list or block and its "
    "name, or decoder, identity or firmware"
)


def _place_keys(need: Need) -> tuple[Key, ...]:
    """Every key of a place; ``need``: of those without which there is no place."""
    return (
        Key("kind", "What sort of value: number, switch, choice, flags, address, curve, text, "
            "fields or area", need, "KIND"),
        Key("cv", "The CV number", Need.OFFERED if need is Need.ALWAYS else need, "N"),
        Key("cvs", "Several CVs, most significant first: 17, 18 or 67-94", metavar="LIST"),
        Key("built-in", "yes: no CV; a fact fixed when the decoder was built", metavar="YES"),
        Key("also-at", "A second number of the same CV", metavar="N"),
        Key("page", "Index page: the values of CV 31 and CV 32, such as 16/2", metavar="PAGE"),
        Key("bits", "Bits of the CV, such as 0-3 or 5", metavar="BITS"),
        Key("firmware", "Firmware that has it, such as '>=2.0, <=2.4.118'; several parted by ;",
            Need.OFFERED if need is Need.ALWAYS else need, RANGE),
        Key("range", "Lowest and highest raw value, such as 1-200",
            Need.OFFERED if need is Need.ALWAYS else need, "A-B"),
        Key("scale", "What one raw step is worth, in the unit", metavar="FIGURE"),
        Key("offset", "Added after scaling, in the unit", metavar="FIGURE"),
        Key("unit", "The unit, such as cm", Need.OFFERED if need is Need.ALWAYS else need),
        Key("sign", "How minus is held: bit or twos-complement", metavar="FORM"),
        Key("values", "Raw values with a name: 0=off, 200-255=continuous", metavar="NAMES"),
        Key("choices", "Raw values and their names: 0=off, 1=servo", metavar="NAMES"),
        Key("flags", "Bit numbers and their names: 0=F1, 1=F2", metavar="NAMES"),
        Key("form", "Of an address: short, extended or plain", metavar="FORM"),
        Key("use", "Of an area: reserved, manufacturer, user, susi or indexed", metavar="USE"),
        Key("measure", "A formula of the standards: momentum or pwm-period", metavar="NAME"),
        Key("refers-to", "What the figure is measured against"),
        Key("default", "What a factory reset leaves: raw value, name, on or off",
            Need.OFFERED if need is Need.ALWAYS else need, "VALUE"),
        Key("defaults", "The same for each index of a repeat", metavar="LIST"),
        Key("step", "CVs from one index of a repeat to the next", metavar="N"),
        Key("page-step", "The same for the CV 32 part of the page", metavar="N"),
        Key("index", "Only these indexes, such as 2-6", metavar="LIST"),
        Key("when", "It exists only while, as in braking.mode=fixed distance", metavar="CONDITION"),
        Key("read-only", "yes: it can be read, not written", metavar="YES"),
        Key("volatile", "yes: it is lost without power", metavar="YES"),
        Key("internal", "yes: state that the decoder keeps for itself", metavar="YES"),
        Key("reserved", "yes: not to be used", metavar="YES"),
        Key("uniform", "yes: a standard fixes the values", metavar="YES"),
        Key("unused", "Why it does nothing, where it does nothing"),
        Key("requirement", "In a standard: mandatory, recommended or optional", metavar="WORD"),
        Key("note", "A remark on the place"),
    )  # fmt: skip


BENCH = Form(
    "bench",
    "What a bench test saw: a setting works, or has no effect.",
    """Write down what a bench test saw of some settings at one firmware.

    \b
    SETTING=works       a change of the CV was seen to act
    SETTING=unreliable  it acts, but not as the handbook says: stops that scatter, another unit
    SETTING=no-effect   it was not
    SETTING@CV=works    the place on this CV, where the setting has several
    SETTING@CV:VERSION=works   of several on this CV the one that this firmware has

    Instead of a setting, --trial my-loco.toml#2 takes all of it from a trial of "cvlib trial".

    The test goes before the handbooks at this very firmware, and nowhere else. Keep your hand at
    the switch: docs/cautions.md says what can be hurt.
    """,
    Key(
        "setting", "Setting that was tried, such as braking.mode=works", Need.ALWAYS,
        "SETTING=SEEN", many=True,
    ),
    (
        Key(
            "verdict", "What was seen: works, unreliable or no-effect", Need.ALWAYS, "WORD",
            in_subject=True,
        ),
        Key("firmware", "Firmware of the decoder that was tried", Need.ALWAYS, "VERSION"),
        DATE,
        Key("title", "What was tried, in a few words", Need.OFFERED),
        Key("note", "How: runs, speeds, what was measured", Need.OFFERED),
        Key("cv", "The CV that was tried, where the setting has several places", metavar="CV"),
        Key("source", "Id of the test; one that is there gets further settings", metavar="ID"),
        Key("page", "Page of the test's own notes"),
        WHERE,
        Key("trial", "A trial that says all this: my-loco.toml#2", metavar="LOCO#N"),
    ),
    examples(
        "cvlib amend bench ferrow/lark-8 braking.mode=works --firmware 4.2.60",
        "cvlib amend bench ferrow/lark-8 braking.stopping-distance@144=no-effect \\",
        '    --firmware 3.0.8 --date 2026-09-12 --note "three runs at three speeds"',
    ),
    "amend",
)  # fmt: skip
RELEASE = Form(
    "release",
    "A firmware that is known to exist.",
    "Add a firmware version that is known to exist, documented or not.",
    Key("version", "The version", Need.ALWAYS, "VERSION"),
    (
        Key("date", "Day of release, such as 2026-03-14", Need.OFFERED, "DAY"),
        Key("label", "Another name people use for it", Need.OFFERED),
        Key("answers", "What it really answers: 7=1, 109=2", metavar="CV=VALUE,..."),
        NOTE,
    ),
    examples("cvlib amend release ferrow/lark-8 5.1.0 --date 2026-09-14"),
    "amend",
)
DOCUMENT = Form(
    "document",
    "A handbook issue, a sheet, or the maker's word.",
    """Add a handbook issue, a sheet or the maker's word, and what firmware it speaks for.

    It speaks only for what cites it, unless you say that it was read whole: then what it does not
    list does not exist in its firmware. A further issue of a handbook says with --reissues that it
    repeats that one; what it has otherwise is corrected with the form place, citing it.
    """,
    Key("id", "Short id of the document, such as handbook-3", Need.ALWAYS, "ID"),
    (
        Key("title", "Title, with its issue", Need.ALWAYS),
        Key("firmware", "Firmware it speaks for, such as '>=4.0, <=4.3.9'", Need.ALWAYS, RANGE),
        Key("date", "Its date", Need.OFFERED, "DAY"),
        Key(
            "reissues",
            "Earlier document that it repeats, but for what cites it",
            Need.OFFERED,
            "ID",
            also="same-as",
        ),
        Key(
            "extent",
            "How much of it was read into the profile: whole, from first to last page, "
            "or cited; where not said, cited, or that of the one it reissues",
            Need.OFFERED,
            "WORD",
        ),
        Key("without", "Setting or group that it says is gone", metavar="SETTING", many=True),
        Key("replaces", "Document that it is an erratum to", metavar="ID"),
        Key("kind", "document, or maker for the maker's word", metavar="KIND", usual="document"),
        CONCERNS,
        WHERE,
        Key("note", "A remark"),
    ),
    examples(
        "cvlib amend document ferrow/lark-8 handbook-3 --title 'Lark 8 handbook, issue 3' \\",
        "    --firmware '>=5.0, <=5.0.1' --date 2026-02-01 --reissues handbook-2",
    ),
    "amend",
)
PLACE = Form(
    "place",
    "A place corrected: CV, range, firmware, default and so on.",
    """Correct a place of a setting, or add one with --new.

    Say which place with --at VERSION or --number N where the setting has several, then give each
    key that is wrong with its right value. The keys are those of docs/profile-format.md. With --new
    the place chosen is the pattern of the new one, but for firmware and sources. A place holds for
    what its documents speak for: --firmware only narrows that.
    """,
    Key("setting", "Setting whose place is wrong", Need.ALWAYS, "SETTING"),
    (
        Key("at", "Choose the place that holds in this firmware", Need.OFFERED, "VERSION"),
        Key("number", "Choose a place by its number, from 1", metavar="N"),
        Key("new", "Add another place instead", switch=True),
        Key("absent", "Add instead that the documents named say that it is not there", switch=True),
        *_place_keys(Need.SILENT),
        REMOVE,
        SOURCE,
        Key("uncite", "Source that it no longer calls on", metavar="ID", many=True),
        IN_BLOCK,
    ),
    examples(
        "cvlib amend place ferrow/lark-8 braking.stopping-distance --at 4.3.9 --range 1-180 \\",
        "    --source handbook-2:31",
        "cvlib amend place ferrow/lark-8 braking.stopping-distance --at 4.3.9 --new \\",
        "    --cv 205 --source bench-2026-06=works",
    ),
    "amend",
    "What is wrong, with its right value, such as cv=144",
)
TABLE = Form(
    "table",
    "A further handbook issue or version table, as a table of CVs.",
    """Hold the table of a further handbook issue or firmware against the profile, and write down
    what it has otherwise: moved, recoded, new default, new, gone.

    What was found is shown first, and at a terminal it is asked whether to write it. Without page
    numbers the document is written as one that repeats the one before, but for what changed.
    docs/new.md tells what a table may hold.
    """,
    Key("table", "Table of CVs, a file such as issue-2.csv", Need.ALWAYS, "TABLE"),
    (
        Key("source", "Short id of the document, such as handbook-2", Need.ALWAYS, "ID"),
        Key("title", "Title, with its issue", Need.ALWAYS),
        Key("firmware", "Firmware it speaks for, such as 2.0 to 2.4", Need.ALWAYS, RANGE),
        Key("date", "Its date", Need.OFFERED, "DAY"),
        Key(
            "complete",
            "The table lists every CV of the document, read from first to last page: what it does "
            "not list does not exist there",
            Need.OFFERED,
            switch=True,
            usual="no",
        ),
        Key(
            "reissues",
            "Document that it is held against; the nearest older one if you say nothing",
            metavar="ID",
        ),
        ID,
        REPEATS,
        LABEL,
        WHERE,
        Key("note", "A remark on the document"),
        Key("kind", "document, or maker for the maker's word", metavar="KIND", usual="document"),
        ACCEPTED,
    ),
    examples(
        "cvlib amend table ferrow/linnet issue-2.csv --source handbook-2 \\",
        "    --title 'Linnet handbook, issue 2' --firmware '2.0 to 2.4' --complete",
    ),
    "amend",
    confirms=True,
)
QUESTION = Form(
    "question",
    "Something that nobody knows yet.",
    "Ask what the profile does not know, with the read or test that would settle it.",
    Key("id", "Short id of the question, such as when-it-moved", Need.ALWAYS, "ID"),
    (
        Key("text", "What is not known", Need.ALWAYS),
        Key("settle", "The read or bench test that would settle it", Need.ALWAYS),
        Key("about", CONCERNS.help, Need.OFFERED, CONCERNS.metavar),
        Key("firmware", "Firmware it is about", Need.OFFERED, RANGE),
        DATE,
    ),
    examples(
        "cvlib amend question ferrow/lark-8 crawl-unit --about braking.crawl-speed \\",
        "    --text 'Is the crawl speed counted in 28 or in 126 steps?' \\",
        "    --settle 'Set 28 and compare with speed step 28 of 28.'",
    ),
    "amend",
)
ANSWER = Form(
    "answer",
    "A question that was settled.",
    """Answer a question. It leaves the profile; the answer is kept with the source that gives it.

    Correct what follows from it with the forms bench, document and place.
    """,
    Key("question", "Id of the question", Need.ALWAYS, "QUESTION"),
    (
        Key("source", "Id of the source that answers it", Need.ALWAYS, "ID"),
        Key("text", "The answer", Need.ALWAYS),
    ),
    examples(
        "cvlib amend answer ferrow/lark-8 five-smoke-sheet --source bench-2026-06 \\",
        "    --text 'It keeps them.'",
    ),
    "amend",
)
SETTING = Form(
    "setting",
    "A setting that the profile lacks.",
    """Add a setting with its first place; further places come with the form place and --new.

    Choose the id well: it stays for the whole life of the decoder type. A setting of a standard
    has the id of docs/standard-settings.md.
    """,
    Key("setting", "Id: a group, a dot and a name, such as braking.mode", Need.ALWAYS, "ID"),
    (
        Key("title", "Title, in plain words", Need.ALWAYS),
        Key("help-text", "One or two sentences on what it does", Need.OFFERED),
        RISK,
        Key("repeat", "It recurs: count=12, step=10, first=1", metavar="REPEAT"),
        *_place_keys(Need.ALWAYS),
        Key("source", SOURCE.help, Need.OFFERED, SOURCE.metavar, many=True),
    ),
    examples(
        "cvlib amend setting ferrow/lark-8 smoke.level --title 'Smoke level' --cv 158 \\",
        "    --kind number --range 0-7 --firmware '>=4.0, <=4.3.9' --source handbook-2:44",
    ),
    "amend",
)
ADVISORY = Form(
    "advisory",
    "Something that is known to misbehave.",
    "Warn of what is known to misbehave in some firmware, and say what to do.",
    Key("id", "Short id of the advisory", Need.ALWAYS, "ID"),
    (
        Key("firmware", "Firmware that misbehaves", Need.ALWAYS, RANGE),
        Key("text", "What is wrong", Need.ALWAYS),
        Key("do", "What to do about it", Need.ALWAYS),
        Key("about", CONCERNS.help, Need.OFFERED, CONCERNS.metavar),
        SOURCE,
    ),
    examples(
        "cvlib amend advisory ferrow/lark-8 long-stop --firmware '==4.4.2' --about braking \\",
        "    --text 'Stops too late from crawling speed.' --do 'Try the stop at several speeds.'",
    ),
    "amend",
)
CORRECT = Form(
    "correct",
    "A title, a help, a date or any other key that is wrong.",
    """Give any part of a profile its right values: a setting's title, a source, a release, a rule.

    Say what it is and its name, such as "source handbook-2". The keys are those of
    docs/profile-format.md. Places have a form of their own.
    """,
    Key("part", f"What is wrong: {ABOUT_PARTS}", Need.ALWAYS, "PART NAME"),
    (
        Key("title", "Its right title"),
        Key("help-text", "Its right help"),
        Key("set", "A key with its right value, such as date=2022-05-20", metavar="KEY=VALUE",
            many=True),
        REMOVE,
        IN_BLOCK,
    ),
    examples(
        "cvlib amend correct ferrow/lark-8 setting braking.mode --title 'Way of stopping'",
        "cvlib amend correct ferrow/lark-8 source handbook-2 --set date=2022-05-21",
    ),
    "amend",
)  # fmt: skip
DELETE = Form(
    "delete",
    "A part that should not be there.",
    """Take a part out: a setting or one of its places, a source, a release, a rule and so on.

    A setting that a standard or a block brings is named in without: the decoder lacks it. A source
    goes with its citations, unless a place has no other document.
    """,
    Key("part", f"What goes: {ABOUT_PARTS}", Need.ALWAYS, "PART NAME"),
    (
        Key("at", "Only the place that holds in this firmware", metavar="VERSION"),
        Key("number", "Only the place of this number, from 1", metavar="N"),
        IN_BLOCK,
    ),
    examples(
        "cvlib amend delete ferrow/lark-8 setting braking.reverse-distance --at 4.3.9",
        "cvlib amend delete ferrow/lark-8 source bench-2026-02",
    ),
    "amend",
)
_CONDITIONS = "SETTING=VALUE"
RULE = Form(
    "rule",
    "A rule between settings.",
    "Add a rule between settings, with exactly one of --requires, --conflicts, --order and --sum.",
    Key("id", "Short id of the rule", Need.ALWAYS, "ID"),
    (
        Key("text", "What is wrong where it is broken", Need.ALWAYS),
        Key("repair", "What to do then", Need.ALWAYS),
        Key("if", "It counts only while, as in braking.mode=fixed distance", Need.OFFERED,
            _CONDITIONS),
        Key("requires", "What has to hold, as in momentum.deceleration>=1", Need.OFFERED,
            _CONDITIONS),
        Key("conflicts", "What may not hold together; parted by ;", metavar=_CONDITIONS),
        Key("order", "Settings whose values may not fall", metavar="LIST"),
        Key("ignore", "With --order: values that do not count", metavar="LIST"),
        Key("sum", "The most that settings may come to: a.x + a.y <= 255", metavar="SUM"),
        Key("severity", "error, warning or note", metavar="WORD", usual="warning"),
        Key("trap", "yes: values that are allowed and have no effect", metavar="YES"),
        Key("source", "Who says so", metavar="ID"),
        Key("firmware", "Only this firmware", metavar=RANGE),
        Key("repeat", "It holds for each index: count=8", metavar="REPEAT"),
    ),
    examples(
        "cvlib amend rule ferrow/lark-8 lamps-low --text 'The lamps are dark.' \\",
        "    --conflicts 'lights.fade=0; lights.dim-brightness=0' --repair 'Raise the level.' \\",
        "    --source handbook-2",
    ),
    "amend",
)  # fmt: skip
PAGE = Form(
    "page",
    "What an index page is for.",
    "Say what an index page, or a span of them, is for.",
    Key("pages", "CV 31 and CV 32, such as 16/2 or 0/40-43", Need.ALWAYS, "PAGES"),
    (
        Key("title", "What it holds", Need.ALWAYS),
        Key("use", "defined, reserved or manufacturer", metavar="WORD", usual="defined"),
    ),
    examples("cvlib amend page ferrow/lark-8 17/0 --title 'Sounds of the horn'"),
    "amend",
)
ACCEPT = Form(
    "accept",
    "A finding of lint that is right all the same.",
    "Say why a finding of lint is right here; it is counted then and not told.",
    Key("code", "The code of the finding", Need.ALWAYS, "CODE"),
    (
        Key("about", CONCERNS.help, Need.ALWAYS, CONCERNS.metavar),
        Key("reason", "Why it is right", Need.ALWAYS),
    ),
    examples(
        "cvlib amend accept ferrow/lark-8 claimed-twice --about lights.fade \\",
        "    --reason 'One CV dims the lamps and sets the volume; handbook page 20.'",
    ),
    "amend",
)
FOLLOW = Form(
    "follow",
    "Settings taken over from a standard or a block.",
    "Take settings over from a standard's edition, or from a block of the maker.",
    Key("from", "Such as standard/rcn-225@2025-07-27 or ferrow/blocks/lamps", Need.ALWAYS, "FROM"),
    (
        Key("only", "Only these settings or groups", Need.OFFERED, "LIST"),
        Key("without", "All but these", metavar="LIST"),
        Key("firmware", "Only at this firmware", metavar=RANGE),
        Key("source", "Document that lists them, with its page: ID:PAGE", Need.OFFERED, "SOURCE",
            many=True),
    ),
    examples("cvlib amend follow ferrow/lark-8 ferrow/blocks/servos --source handbook-2:12"),
    "amend",
)  # fmt: skip
FORMS = (
    *(BENCH, RELEASE, DOCUMENT, TABLE, PLACE, QUESTION, ANSWER, SETTING, ADVISORY, CORRECT),
    *(DELETE, RULE, PAGE, ACCEPT, FOLLOW),
)
"""Every form, in the order of the help."""
