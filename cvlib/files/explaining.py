"""Things a person asks about, explained out of a store and the shipped pages."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from cvlib.engine.explain import explained
from cvlib.engine.explain.asking import Kind, sorted_things
from cvlib.engine.explain.scopes import Scope, edition_scope, firmware_scope, stretch_scopes
from cvlib.engine.known.months import one_firmware
from cvlib.engine.known.resolve import Resolver
from cvlib.engine.lint.rules import RULES
from cvlib.errors import problem
from cvlib.files.data import docs_folder
from cvlib.files.read.typed import parse_typed
from cvlib.files.read.values import parse_cv
from cvlib.files.store import Store
from cvlib.files.text import decode, file_name, read_bytes
from cvlib.findings.catalogue import row
from cvlib.model.cv import parse_page

STANDARDS = ("standard/nmra-s-9.2.2", "standard/rcn-225")
"""The standards by which things are explained where no profile is given."""


def explain(
    store: Store,
    things: Sequence[str],
    profile: str,
    firmware: str,
    options: Mapping[str, str | int],
) -> explained.Explanation:
    """Everything asked about: values first, then the rest in the order asked.

    Raises InputError for what is no thing to be explained, and for a firmware without a profile.
    """
    asked = sorted_things(things)
    if not asked:
        raise problem(
            "nothing to explain.",
            advice="Give a value such as 29=38, a CV, a setting or the code of a finding.",
        )
    scopes = scopes_of(store, profile, firmware)
    typed = parse_typed([text for kind, text in asked if kind is Kind.VALUE])
    values = {slot: saved.value for slot, saved in typed.items()}
    told, sums = explained.explain_values(scopes, values, options)
    found: list[explained.Thing] = [*told]
    for kind, text in asked:
        match kind:
            case Kind.CV:
                found.append(explained.explain_cv(scopes, parse_cv(text)))
            case Kind.PAGE:
                found.append(explained.explain_page(scopes, parse_page(text)))
            case Kind.CODE:
                found.append(_code(text))
            case Kind.WORDS:
                found.extend(explained.explain_words(scopes, text))
            case Kind.VALUE:
                pass  # told above, all together
    return explained.Explanation(scopes, tuple(found), sums)


def _code(code: str) -> explained.CodeExplained:
    """What a code means: of a finding of a check, or of one of lint."""
    rule = next((rule for rule in RULES if rule.code == code), None)
    if rule is not None:
        return explained.CodeExplained(code, rule.severity, "lint", rule.sentence, lint_page(code))
    told = row(code)
    return explained.CodeExplained(
        code, told.severity, told.family, told.sentence, finding_page(code)
    )


def finding_page(code: str) -> str:
    """The page about the code of a finding, as Markdown."""
    return _page("findings", code)


def review_page(code: str) -> str:
    """What a code of a review means, as a page in Markdown."""
    path = docs_folder() / "review-codes.md"
    text = decode(read_bytes(path), file_name(path))
    found = re.search(rf"^## {re.escape(code)}\n(.*?)(?=^## |\Z)", text, re.M | re.S)
    return f"# {code}\n{found[1]}".replace("\n### ", "\n## ") if found else ""


def lint_page(code: str) -> str:
    """The page about a code of lint, as Markdown."""
    return _page("lint", code)


def _page(folder: str, code: str) -> str:
    path = docs_folder() / folder / f"{code}.md"
    return decode(read_bytes(path), file_name(path))


def scopes_of(store: Store, profile: str, firmware: str) -> tuple[Scope, ...]:
    """What an explanation is for: both standards, one firmware, or every stretch of firmware."""
    if firmware and not profile:
        raise problem(
            "a firmware is given and no profile.", advice="Give the decoder with --profile."
        )
    if not profile:
        return tuple(edition_scope(Resolver(store.profile(name))) for name in STANDARDS)
    resolver = Resolver(store.profile(profile))
    if firmware:
        return (firmware_scope(resolver, one_firmware(resolver, firmware)),)
    if resolver.profile.kind == "standard":
        return (edition_scope(resolver),)
    return stretch_scopes(resolver)
