"""Single entries of a correction looked at as soon as they are typed."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from pathlib import Path

from cvlib.errors import did_you_mean, problem
from cvlib.files.amend.bench import seen_of
from cvlib.files.amend.change import Wish
from cvlib.files.amend.parts import part_words
from cvlib.files.edit import cited_source
from cvlib.files.new_profile import accepted_of, id_of_row, read_table
from cvlib.files.shapes.base import INDEX, NAME, WORD
from cvlib.files.store import Store
from cvlib.files.typed_keys import parse_firmware, parse_key, parse_on_off, parse_verdict
from cvlib.model.profile import Profile

_NAME = re.compile(NAME)
_SETTING = re.compile(rf"{WORD}{INDEX}(?:\.{WORD}{INDEX})+")


def check_entry(store: Store, wish: Wish, key: str, text: str) -> None:
    """Refuse an entry that cannot be right; ``subject`` and ``profile`` are keys as well.

    Raises InputError with what would have been right.
    """
    if key == "profile":
        store.profile(text)
        return
    profile = store.profile(wish.profile)
    if key == "subject":
        if wish.form in _SUBJECTS:
            _SUBJECTS[wish.form](profile, text)
    elif key == "at" or (key, wish.form) == ("firmware", "bench"):
        profile.version(text)
    elif key == "firmware":
        parse_firmware(text, profile.scheme)
    elif key == "verdict":
        parse_verdict(text)
    elif key == "source" and wish.form in ("bench", "table"):
        _named(text, "source")
    elif key in _OF_TABLE:
        _OF_TABLE[key](text)
    elif key in ("reissues", "replaces"):
        held = [one.id for one in profile.sources.values() if one.is_document]
        _known(text, "document", held)
    elif key == "source":
        for one in parse_key("sources", text):
            _known(cited_source(one), "source", profile.sources)
    else:
        parse_key(key, text, wish.text("kind"))


def _tried(profile: Profile, text: str) -> None:
    profile.setting(text.partition("=")[0].partition("@")[0].strip())
    if "=" in text:
        seen_of(text, Wish("bench", profile.id, (), {}))


def _there(profile: Profile, text: str) -> None:
    profile.setting(text)


def _release(profile: Profile, text: str) -> None:
    version = profile.version(text)
    if profile.release_of(version) is not None:
        raise problem(f"release {version} is there already.", advice="Each is there once.")


def _new_setting(profile: Profile, text: str) -> None:
    if not _SETTING.fullmatch(text):
        raise problem(
            f'"{text}" cannot be the id of a setting.',
            advice='Write a group, a dot and a name in lower case, such as "braking.mode".',
        )
    _free(text, "setting", profile.settings)


def _document(profile: Profile, text: str) -> None:
    _named(text, "source")
    _free(text, "source", profile.sources)


def _question(profile: Profile, text: str) -> None:
    _named(text, "question")
    _free(text, "question", [one.id for one in profile.questions])


def _advisory(profile: Profile, text: str) -> None:
    _named(text, "advisory")
    _free(text, "advisory", [one.id for one in profile.advisories])


def _asked(profile: Profile, text: str) -> None:
    _known(text, "question", [one.id for one in profile.questions])


def _part(_profile: Profile, text: str) -> None:
    part_words(Wish("correct", "", (text,), {}))


_SUBJECTS: Mapping[str, Callable[[Profile, str], object]] = {
    "bench": _tried,
    "place": _there,
    "release": _release,
    "setting": _new_setting,
    "document": _document,
    "question": _question,
    "advisory": _advisory,
    "answer": _asked,
    "correct": _part,
    "delete": _part,
    "table": lambda _, text: read_table(Path(text)),
}
"""Of each form what is looked at; the others are looked at as a whole."""
_OF_TABLE: Mapping[str, Callable[[str], object]] = {
    "id": id_of_row,
    "accept": accepted_of,
    "complete": parse_on_off,
    "repeats": parse_on_off,
}


def _named(text: str, what: str) -> None:
    if not _NAME.fullmatch(text):
        raise problem(
            f'"{text}" cannot be the id of a {what}.',
            advice="Use letters, digits, hyphens and dots, without spaces.",
        )


def _free(id: str, what: str, known: Collection[str]) -> None:
    if id in known:
        raise problem(f'there is a {what} "{id}" already.', advice="Choose another id.")


def _known(id: str, what: str, known: Collection[str]) -> None:
    if id not in known:
        listed = f"There is {', '.join(known)}." if known else f"The profile has no {what}."
        raise problem(f'there is no {what} "{id}".', advice=did_you_mean(id, known) or listed)
