"""Model objects from terse tables: how the cases in data files and the tests write them.

A place is a table such as ``{ at = "29:0-3", in = ">=2.0", kind = "choice", names = {…} }``. ``at``
lists slots with their bits, most significant first, as in ``"17, 18"`` or ``"257@16/2"``; an empty
``at`` is a fact fixed at build time. ``cites`` lists ``"source:page"`` or ``"source works"``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeAlias

from cvlib.engine.account.check import Saved
from cvlib.engine.account.undated import History
from cvlib.engine.known.resolve import Resolver
from cvlib.model.coding import (
    Area,
    Choice,
    Coding,
    Fields,
    Flags,
    Number,
    SignForm,
    Switch,
)
from cvlib.model.coding_many import Address, AddressForm, Curve, Text
from cvlib.model.conditions import Condition, Rule, Test, When
from cvlib.model.cv import WHOLE, Field, Slot, parse_bits, parse_slot
from cvlib.model.named import NamedSpan
from cvlib.model.profile import (
    Advisory,
    Answered,
    Citation,
    Extent,
    Identity,
    Marks,
    Place,
    Profile,
    Release,
    Risk,
    Setting,
    Source,
    SourceKind,
    Verdict,
    VersionPart,
)
from cvlib.model.ranges import FirmwareRange
from cvlib.model.units import Measure, factor_of
from cvlib.model.versions import Scheme, parse_version

Table: TypeAlias = Mapping[str, Any]
CASES = Path(__file__).parent / "cases"


def read_cases(folder: str) -> Iterator[tuple[str, Table, Table]]:
    """Each case of a folder of data files: its id, what its file holds besides, and the case."""
    for path in sorted((CASES / folder).glob("*.toml")):
        held = tomllib.loads(path.read_text(encoding="utf-8"))
        cases = held.pop("case")
        names = [case["name"] for case in cases]
        assert len(set(names)) == len(names), f"{path.name}: two cases of one name"
        for case in cases:
            yield f"{path.stem}: {case['name']}", held, case


def firmware(text: str | list[str] | None, scheme: Scheme) -> FirmwareRange:
    """A range; every firmware where there is no text."""
    return FirmwareRange.everything(scheme) if text is None else FirmwareRange.parse(text, scheme)


def fields(text: str) -> tuple[Field, ...]:
    """The CVs and bits that ``at`` names."""
    made = []
    for part in filter(None, (part.strip() for part in text.split(","))):
        slot, _, bits = part.partition(":")
        made.append(Field(parse_slot(slot), parse_bits(bits) if bits else WHOLE))
    return tuple(made)


def names(table: Mapping[str, str]) -> tuple[NamedSpan, ...]:
    """Named raw values: ``"0"`` or ``"2..7"`` and the name."""
    spans = []
    for text, name in table.items():
        low, _, high = text.partition("..")
        spans.append(NamedSpan(int(low), int(high or low), name))
    return tuple(spans)


def coding(table: Table, widths: tuple[int, ...] = (8,)) -> Coding:
    """The coding a table describes, for fields of these widths."""
    kind = table.get("kind", "number")
    top = (1 << sum(widths)) - 1
    match kind:
        case "number":
            return _number(table, widths, top)
        case "switch":
            return Switch(widths)
        case "choice":
            return Choice(widths, names(table["names"]))
        case "flags":
            return Flags(widths, tuple((int(bit), name) for bit, name in table["names"].items()))
        case "curve":
            return Curve(widths, *table.get("range", (0, 255)), _sign(table))
        case "text":
            return Text(widths)
        case "fields":
            return Fields(widths, names(table.get("names", {})))
        case "area":
            return Area(widths, use=table.get("use", "reserved"))
        case _:
            usual = {"short": (1, 127), "extended": (1, 10239)}.get(kind, (0, top))
            return Address(widths, AddressForm(kind), *table.get("range", usual))


def _number(table: Table, widths: tuple[int, ...], top: int) -> Number:
    low, high = table.get("range", (0, top))
    return Number(
        widths,
        low,
        high,
        factor_of(Fraction(str(table.get("scale", 1)))),
        Decimal(str(table.get("offset", 0))),
        table.get("unit", ""),
        _sign(table),
        names(table.get("names", {})),
        Measure(table["measure"]) if "measure" in table else None,
        table.get("refers-to", ""),
    )


def _sign(table: Table) -> SignForm | None:
    return SignForm(table["sign"]) if "sign" in table else None


def citation(text: str) -> Citation:
    """A source with its page, ``"h1:23"``, or with what a bench test saw, ``"b1 works"``."""
    source, _, verdict = text.partition(" ")
    name, _, page = source.partition(":")
    return Citation(name, page, Verdict(verdict) if verdict else None)


def whens(table: Table) -> tuple[When, ...]:
    """Setting ids and the values that the place needs, or a table of one test and its values."""
    made = []
    for name, values in table.items():
        tests = values if isinstance(values, Mapping) else {"is": values}
        made += [When(name, tuple(held), Test(test)) for test, held in tests.items()]
    return tuple(made)


def place(table: Table, scheme: Scheme = Scheme.DOTTED) -> Place:
    """The place a table describes."""
    parts = fields(table["at"])
    made = coding(table, tuple(field.width for field in parts) or (8,))
    marks: dict[str, Any] = {name.replace("-", "_"): True for name in table.get("marks", ())}
    return Place(
        firmware(table.get("in"), scheme),
        parts,
        made,
        made.raw(table["default"]) if "default" in table else None,
        whens(table.get("when", {})),
        tuple(citation(text) for text in table.get("cites", ())),
        Marks(**marks, requirement=table.get("requirement", "")),
        table.get("also-at"),
        table.get("note", ""),
        narrowing=firmware(table["in"], scheme) if "in" in table else None,
    )


def is_of_tests(one: Place, sources: Mapping[str, Source]) -> bool:
    """Whether bench tests alone saw a place, at just the firmware it is narrowed to."""
    rest = one.narrowing
    for cited in one.citations:
        if rest is not None and cited.source in sources:
            rest = rest - sources[cited.source].firmware
    return bool(one.citations) and rest is not None and rest.is_empty()


def listed(one: Place, setting: str, sources: Mapping[str, Source]) -> Place:
    """A place of a short table as one that every document lists which speaks for it.

    The short tables name sources only where a page or a verdict matters. A place that tests alone
    have seen, at just their firmware, is left as it is.
    """
    documents = [held for held in sources.values() if held.is_document]
    cited = {c.source for c in one.citations}
    if is_of_tests(one, sources):
        return one
    speaking = [
        held
        for held in documents
        if held.speaks_for(setting)
        and (one.narrowing is None or not (held.firmware & one.narrowing).is_empty())
    ]
    more = tuple(Citation(held.id) for held in speaking if held.id not in cited)
    if not more and not any(held.id in cited for held in documents):
        more = tuple(Citation(held.id) for held in documents if held.speaks_for(setting))
    citations = one.citations + more
    mine = [held for held in documents if held.id in {c.source for c in citations}]
    claim = FirmwareRange.everything(one.firmware.scheme)
    if mine:
        claim = FirmwareRange.nothing(one.firmware.scheme)
        for held in mine:
            claim |= held.firmware
    if one.narrowing is not None:
        claim &= one.narrowing
    return replace(one, citations=citations, firmware=claim)


def read_whole(held: Profile) -> Profile:
    """A profile of short tables as if somebody had read every document from first to last page."""
    sources = {
        id: replace(one, extent=Extent.WHOLE) if one.is_document else one
        for id, one in held.sources.items()
    }
    settings = {
        id: replace(one, places=tuple(listed(place, id, sources) for place in one.places))
        for id, one in held.settings.items()
    }
    return replace(held, sources=sources, settings=settings)


def setting(id: str, places: Table | Iterable[Table], scheme: Scheme = Scheme.DOTTED) -> Setting:
    """A setting with one place or several; ``risk`` marks it, None takes the mark away."""
    tables = [places] if isinstance(places, Mapping) else list(places)
    made = tuple(place(table, scheme) for table in tables)
    said = next((table["risk"] for table in tables if "risk" in table), ())
    risk = None if said is None else frozenset(map(Risk, said))
    return Setting(id, f"Title of {id}", made, risk=risk)


def source(id: str, table: Table | str | list[str], scheme: Scheme) -> Source:
    """A document for every setting where only a range is given, else what the table says."""
    held: Table = table if isinstance(table, Mapping) else {"in": table}
    kind = SourceKind(held.get("kind", "document"))
    about = tuple(held.get("about", ()))
    return Source(id, kind, f"Title of {id}", firmware(held["in"], scheme), about=about)


def condition(table: Table) -> Condition:
    """One test of one setting."""
    (test,) = (key for key in table if key != "setting")
    operand = table[test]
    return Condition(
        table["setting"], Test(test), tuple(operand) if isinstance(operand, list) else (operand,)
    )


def rule(table: Table, scheme: Scheme = Scheme.DOTTED) -> Rule:
    """A rule, written as in a profile."""
    total = table.get("sum", {})
    return Rule(
        table.get("id", "the-rule"),
        table.get("severity", "warning"),
        "What is wrong.",
        "What to do.",
        firmware=firmware(table["firmware"], scheme) if "firmware" in table else None,
        given=tuple(map(condition, table.get("if", ()))),
        requires=tuple(map(condition, table.get("requires", ()))),
        conflicts=tuple(map(condition, table.get("conflicts", ()))),
        order=tuple(table.get("order", ())),
        ignore=tuple(table.get("ignore", ())),
        sum_of=tuple(total.get("of", ())),
        sum_max=total.get("max"),
        trap=table.get("trap", False),
    )


def advisory(table: Table, scheme: Scheme) -> Advisory:
    """An advisory."""
    return Advisory(
        table["id"],
        firmware(table["in"], scheme),
        "What misbehaves.",
        "What to do.",
        tuple(table.get("about", ())),
    )


def part(table: Table) -> VersionPart:
    """A part of the version as the decoder answers it."""
    return VersionPart(fields(table["at"])[0], table.get("digit", ""))


def release(table: Table | str, scheme: Scheme) -> Release:
    """A release: its version alone, or with label and answers."""
    held: Table = table if isinstance(table, Mapping) else {"version": table}
    answers = tuple((int(cv), value) for cv, value in held.get("answers", {}).items())
    version = parse_version(held["version"], scheme)
    return Release(version, held.get("date", ""), held.get("label", ""), answers)


def identity(table: Table, scheme: Scheme) -> Identity:
    """What the decoder answers: ``answers`` lists slot, lowest and highest value."""
    answers = tuple(
        Answered(
            parse_slot(one["at"]),
            one["low"],
            one.get("high", one["low"]),
            firmware(one["in"], scheme) if "in" in one else None,
            parse_bits(one.get("bits", "0-7")),
        )
        for one in table.get("answers", ())
    )
    return Identity(table.get("manufacturer"), answers, tuple(table.get("no-answer", ())))


def profile(table: Table) -> Profile:
    """The profile a table describes; its places are all dotted unless ``scheme`` says otherwise."""
    scheme = Scheme(table.get("scheme", "dotted"))
    settings = table.get("settings", {})
    made = Profile(
        "test/decoder",
        "Ferrow",
        "Decoder",
        table.get("kind", "motor"),
        scheme,
        {id: setting(id, places, scheme) for id, places in settings.items()},
        {id: source(id, held, scheme) for id, held in table.get("sources", {}).items()},
        identity(table.get("identity", {}), scheme),
        tuple(map(part, table.get("parts", ()))),
        tuple(release(held, scheme) for held in table.get("releases", ())),
        rules=tuple(rule(held, scheme) for held in table.get("rules", ())),
        advisories=tuple(advisory(held, scheme) for held in table.get("advisories", ())),
    )
    return read_whole(made)


def resolver(table: Table) -> Resolver:
    """The answers of the profile a table describes."""
    return Resolver(profile(table))


def values(table: Mapping[str, int]) -> dict[Slot, int]:
    """Saved CV values, keyed ``"27"`` or ``"257@16/2"``."""
    return {parse_slot(text): value for text, value in table.items()}


def saved(
    held: Profile,
    table: Mapping[str, int],
    saved_for: str | Mapping[str, str] = "",
    options: Mapping[str, str | int] | None = None,
    history: History | None = None,
) -> Saved:
    """Saved values, with the firmware they were saved for: one for all, or slot by slot."""
    found = values(table)
    if isinstance(saved_for, str):
        saved_for = dict.fromkeys(table, saved_for) if saved_for else {}
    versions = {parse_slot(text): held.version(firmware) for text, firmware in saved_for.items()}
    return Saved(found, versions, options or {}, history or History())
