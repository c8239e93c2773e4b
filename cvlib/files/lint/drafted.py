"""What lint has against a change of one file that is not written yet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date

from cvlib.engine.lint.rules import RULES
from cvlib.errors import InputError
from cvlib.files.followed import followed_names
from cvlib.files.lint.linting import lint
from cvlib.files.store import Store
from cvlib.findings.remark import Remark

_OF_THE_STORE = frozenset(rule.code for rule in RULES if rule.across is not None)
"""Codes that only the whole store can bring about."""


def new_remarks(before: Store, after: Store, name: str, today: date) -> list[Remark]:
    """What is found once a file of a store has changed and was not found before.

    The file is named as in the store, with the ending. It is looked at with the profiles that take
    settings from it. A finding is the one of before where it is of the same kind about the same
    part, even if it now names other firmware. The rest of the store is read only where the file
    now says otherwise who the decoder is.
    """
    chosen = {name, *followers(after, name)}
    alone = all(_identity(before, one) == _identity(after, one) for one in chosen)
    new = lint(after, today=today, chosen=chosen, alone=alone).remarks
    alone = alone or not any(one.code in _OF_THE_STORE for one in new)
    old = lint(before, today=today, chosen=chosen, alone=alone).remarks if new else ()
    return added(old, new)


def _identity(store: Store, name: str) -> tuple[object, ...]:
    """Everything by which a profile is told from others; nothing of a file of blocks."""
    id = name.removesuffix(".toml")
    if id not in store.ids():
        return ()
    try:
        profile = store.profile(id)
    except InputError:
        return ()
    answers = [(str(one.version), one.answers) for one in profile.releases]
    return profile.identity, profile.parts, answers


def added(old: Iterable[Remark], new: Iterable[Remark]) -> list[Remark]:
    """The findings that are not among those of before; such a one may name other firmware now."""
    old = tuple(old)
    known = Counter(_key(one) for one in old)
    told = {one.problem for one in old}
    found: list[Remark] = []
    for one in sorted(new, key=lambda remark: remark.problem not in told):
        if known[_key(one)]:
            known[_key(one)] -= 1
        else:
            found.append(one)
    return sorted(found, key=lambda one: one.order)


def _key(remark: Remark) -> tuple[str, str, str]:
    return remark.code, remark.position.file, remark.about or remark.problem


def followers(store: Store, name: str) -> list[str]:
    """The profiles that take settings from a file."""
    names = [f"{id}.toml" for id in store.ids()]
    return [one for one in names if name in followed_names(store.text(one)[1])]
