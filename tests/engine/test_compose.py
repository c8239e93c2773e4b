"""What a decoder takes over from standards and blocks, and what wins."""

from dataclasses import replace

import pytest

from cvlib.engine.known.compose import Taken, chosen, compose, from_block, from_standard, unmatched
from cvlib.model.coding import Area, Number
from cvlib.model.conditions import Condition, Rule
from cvlib.model.conditions import Test as Asked
from cvlib.model.cv import Field, Slot
from cvlib.model.profile import Citation, IndexPages, Place, Profile, Setting
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import Scheme, parse_version

EVERY = FirmwareRange.everything(Scheme.DOTTED)
PAGES = IndexPages((0, 0), (0, 9), "defined", "Defined")


def firmware(text: str, scheme: Scheme = Scheme.DOTTED) -> FirmwareRange:
    """A range as a file writes it."""
    return FirmwareRange.parse(text, scheme)


def place(cv: int, held: FirmwareRange = EVERY, *, cited: str = "") -> Place:
    """A plain number in one CV."""
    citations = (Citation(cited, "7"),) if cited else ()
    return Place(held, (Field(Slot(cv)),), Number((8,)), citations=citations)


def setting(id: str, *places: Place, title: str = "") -> Setting:
    """A setting with its places."""
    return Setting(id, title or id, places)


def rule(id: str, *names: str, held: FirmwareRange | None = None, source: str = "") -> Rule:
    """A rule that looks at some settings."""
    needed = tuple(Condition(name, Asked.MIN, (1,)) for name in names)
    return Rule(id, "error", "t", "r", source, held, requires=needed)


def taken(id: str, *settings: Setting, rules: tuple[Rule, ...] = ()) -> Taken:
    """What a block brings."""
    return from_block(id, id, settings, rules, EVERY)


def own(*settings: Setting, rules: tuple[Rule, ...] = ()) -> Profile:
    """A decoder's own part."""
    return Profile(
        id="heath/owl",
        maker="Heath",
        name="Owl",
        kind="motor",
        scheme=Scheme.DOTTED,
        settings={one.id: one for one in settings},
        sources={},
        rules=rules,
    )


def standard() -> Profile:
    """A standard of two editions."""
    first, second = (firmware(f"=={text}", Scheme.DATE) for text in ("2019-05", "2023-11-20"))
    area = Place(first | second, (Field(Slot(40)),), Area((8,)))
    return Profile(
        id="standard/rules",
        maker="Test",
        name="Rules",
        kind="standard",
        scheme=Scheme.DATE,
        settings={
            one.id: one
            for one in (
                setting("a.moved", place(1, first, cited="rules"), place(2, second)),
                setting("a.new", place(3, second)),
                setting("area.40", area),
            )
        },
        sources={"rules": None},  # type: ignore[dict-item]
        pages=(PAGES,),
        rules=(
            rule("always", "a.moved", source="rules:4"),
            rule("later", "a.new", held=second, source="someone"),
        ),
    )


def edition(text: str, held: FirmwareRange = EVERY) -> Taken:
    """An edition of the standard as a decoder takes it over."""
    version = parse_version(text, Scheme.DATE)
    narrowing = None if held == EVERY else held
    return from_standard(standard(), version, f"standard/rules@{text}", narrowing, held)


def cvs(profile: Profile) -> dict[str, list[tuple[int, str]]]:
    """Each setting with its CVs and their firmware."""
    return {
        id: [(one.fields[0].slot.cv, one.firmware.text()) for one in setting.places]
        for id, setting in profile.settings.items()
    }


def test_an_edition_brings_the_places_that_it_has() -> None:
    """Places of other editions stay behind; those that come hold for every firmware."""
    assert cvs(compose(own(), [edition("2019-05")])) == {
        "a.moved": [(1, "every firmware")],
        "area.40": [(40, "every firmware")],
    }
    assert cvs(compose(own(), [edition("2023-11-20", firmware(">=2.0"))])) == {
        "a.moved": [(2, ">=2.0")],
        "a.new": [(3, ">=2.0")],
        "area.40": [(40, ">=2.0")],
    }


def test_citations_name_the_edition_and_no_source_is_added() -> None:
    """A standard is cited as profile id and edition, with its page; coverage does not grow."""
    whole = compose(own(), [edition("2019-05")])
    (moved,) = whole.settings["a.moved"].places
    assert moved.citations == (Citation("standard/rules@2019-05", "7"),)
    assert whole.settings["area.40"].places[0].citations == (Citation("standard/rules@2019-05"),)
    assert whole.settings["a.moved"].origin == "standard/rules@2019-05"
    assert whole.sources == {}
    assert whole.source_title("standard/rules@2019-05") == "Test Rules, edition 2019-05"
    assert whole.follows == ("standard/rules@2019-05",)


def test_rules_and_pages_of_an_edition_come_along() -> None:
    """Rules of the edition come, with the edition for their source and the decoder's firmware."""
    whole = compose(own(), [edition("2019-05")])
    assert [(r.id, r.source, r.firmware) for r in whole.rules] == [
        ("always", "standard/rules@2019-05:4", None)
    ]
    assert whole.pages == (PAGES,)
    limited = compose(own(), [edition("2023-11-20", firmware(">=2.0"))])
    assert [(r.id, r.source, r.firmware) for r in limited.rules] == [
        ("always", "standard/rules@2023-11-20:4", firmware(">=2.0")),
        ("later", "someone", firmware(">=2.0")),
    ]


def test_a_setting_of_the_profile_replaces_the_followed_one_whole() -> None:
    """Places, words and origin are the profile's own; nothing of the followed one is left."""
    whole = compose(own(setting("a.moved", place(9))), [edition("2019-05")])
    assert cvs(whole)["a.moved"] == [(9, "every firmware")]
    assert whole.settings["a.moved"].origin == ""


def test_a_later_entry_replaces_an_earlier_one() -> None:
    """Of two entries with firmware in common, the later one's setting stands alone."""
    entries = [taken("x", setting("a.b", place(1))), taken("y", setting("a.b", place(2)))]
    whole = compose(own(), entries)
    assert cvs(whole) == {"a.b": [(2, "every firmware")]}
    assert whole.settings["a.b"].origin == "y"


def test_entries_for_firmware_apart_are_joined() -> None:
    """The same setting for firmware that has nothing in common has the places of both."""
    entries = [
        from_block("x", "x", [setting("a.b", place(1))], [], firmware("<2.0")),
        from_block("y", "y", [setting("a.b", place(2))], [], firmware(">=3.0")),
    ]
    assert cvs(compose(own(), entries)) == {"a.b": [(1, "<2.0"), (2, ">=3.0")]}
    third = from_block("z", "z", [setting("a.b", place(3))], [], firmware("<1.0"))
    assert cvs(compose(own(), [*entries, third])) == {"a.b": [(2, ">=3.0"), (3, "<1.0")]}


def test_a_block_is_cut_to_the_firmware_it_is_followed_for() -> None:
    """Places that say a firmware of their own keep what both have; empty ones go."""
    parts = [
        setting("a.b", place(1, firmware("<2.0")), place(2, firmware(">=2.0"))),
        setting("a.gone", place(3, firmware("<1.0"))),
    ]
    rules = [rule("old", "a.b", held=firmware("<1.0")), rule("new", "a.b", held=firmware(">1.5"))]
    whole = compose(own(), [from_block("x", "x", parts, rules, firmware(">=1.5"))])
    assert cvs(whole) == {"a.b": [(1, ">=1.5, <2.0"), (2, ">=2.0")]}
    assert [(r.id, r.firmware) for r in whole.rules] == [("new", firmware(">1.5"))]


def test_only_and_without_choose_settings_by_id_and_group() -> None:
    """Groups, ids and ids with [n] choose; a rule stays while one of its settings does."""
    block = taken(
        "x",
        *(setting(f"lamp[{n}].level", place(n)) for n in (1, 2)),
        setting("lamp[1].type", place(8)),
        setting("speed.start", place(9)),
        rules=(rule("lamps", "lamp[1].level"), rule("both", "lamp[1].level", "speed.start")),
    )

    def left(only: list[str], without: list[str]) -> list[str]:
        return [one.id for one in chosen(block, only, without).settings]

    assert left([], ["lamp"]) == ["speed.start"]
    assert left(["lamp"], []) == ["lamp[1].level", "lamp[2].level", "lamp[1].type"]
    assert left(["lamp[n].level"], []) == ["lamp[1].level", "lamp[2].level"]
    assert left(["lamp"], ["lamp[1].level"]) == ["lamp[2].level", "lamp[1].type"]
    assert [one.id for one in chosen(block, ["speed"], []).rules] == ["both"]
    assert chosen(block, [], []) is block


def test_only_leaves_the_index_pages_behind() -> None:
    """A few settings of a standard do not bring its table of index pages."""
    assert chosen(edition("2019-05"), ["a"], []).pages == ()
    assert chosen(edition("2019-05"), [], ["a"]).pages == (PAGES,)


def test_without_of_the_decoder_removes_from_every_entry() -> None:
    """What the decoder lacks goes from all entries, areas too, but not from its own part."""
    whole = compose(own(setting("a.new", place(9))), [edition("2023-11-20")], ["a.new", "area"])
    assert cvs(whole) == {"a.moved": [(2, "every firmware")], "a.new": [(9, "every firmware")]}


def test_a_rule_goes_when_all_its_settings_are_gone() -> None:
    """A rule of a followed standard stays only while one of its settings is there."""
    whole = compose(own(), [edition("2023-11-20")], ["a.new"])
    assert [r.id for r in whole.rules] == ["always"]


def test_a_rule_of_the_profile_replaces_the_followed_one() -> None:
    """Of two rules with the same id the profile's own counts."""
    mine = rule("always", "a.moved", source="mine")
    whole = compose(own(rules=(mine,)), [edition("2019-05")])
    assert whole.rules == (mine,)


def test_a_narrow_entry_does_not_narrow_the_rules_of_a_wide_one() -> None:
    """Following a few settings again for some firmware leaves the other rules as they were."""
    wide = edition("2023-11-20")
    narrow = chosen(edition("2023-11-20", firmware("<2.0")), ["a.new"], [])
    rules = {r.id: r.firmware for r in compose(own(), [wide, narrow]).rules}
    assert rules == {"always": None, "later": firmware("<2.0")}


@pytest.mark.parametrize(
    ("names", "left"),
    [
        (["lamp", "lamp[n].level", "lamp[2].level"], []),
        (["lam", "lamp[3].level", "level"], ["lam", "lamp[3].level", "level"]),
    ],
)
def test_names_that_stand_for_nothing_are_found(names: list[str], left: list[str]) -> None:
    """A name stands for a setting, for all of a repeat, or for a group; others are unmatched."""
    assert unmatched(names, ["lamp[1].level", "lamp[2].level"]) == left


def test_a_rule_stays_while_one_of_its_settings_does() -> None:
    """A followed rule about two settings does not go with the first of them."""
    block = taken(
        "x",
        setting("a.one", place(1)),
        setting("a.two", place(2)),
        rules=(rule("both", "a.one", "a.two"),),
    )
    for gone in ("a.one", "a.two"):
        assert [one.id for one in compose(own(), [block], [gone]).rules] == ["both"]
    assert compose(own(), [block], ["a"]).rules == ()


@pytest.mark.parametrize(
    ("first", "second", "left"),
    [("<3.0", ">=2.0", [">=2.0"]), ("<2.0", ">=3.0", ["<2.0", ">=3.0"]), ("<3.0", "", [""])],
)
def test_rules_of_one_id_are_joined_only_where_their_firmware_is_apart(
    first: str, second: str, left: list[str]
) -> None:
    """Of two rules of one id for some firmware in common the later one counts, for all of it."""
    entries = [
        taken(
            name,
            setting("a.b", place(1)),
            rules=(rule("same", "a.b", held=firmware(text) if text else None, source=name),),
        )
        for name, text in (("x", first), ("y", second))
    ]
    found = compose(own(), entries).rules
    assert [one.firmware.text() if one.firmware else "" for one in found] == left
    assert found[-1].source == "y"


def test_of_joined_settings_the_later_entry_gives_the_words() -> None:
    """Title, help and origin are those of the entry named last; the places are those of both."""
    older = replace(setting("a.b", place(1, firmware("<2.0"))), title="Old", help="Old help.")
    newer = replace(setting("a.b", place(2, firmware(">=3.0"))), title="New", help="New help.")
    for entries, words in (
        ([taken("x", older), taken("y", newer)], ("New", "New help.", "y")),
        ([taken("y", newer), taken("x", older)], ("Old", "Old help.", "x")),
    ):
        made = compose(own(), entries).settings["a.b"]
        assert (made.title, made.help, made.origin) == words
        assert len(made.places) == 2
