"""Releases, documents, questions and advisories: what a profile keeps in lists of their own."""

from __future__ import annotations

from typing import Any

from cvlib.errors import did_you_mean, problem
from cvlib.files.amend.change import Change, Wish, bounding_versions
from cvlib.files.toml_tree import Node
from cvlib.files.typed_keys import parse_firmware, parse_key
from cvlib.model.profile import Extent, SourceKind

DOCUMENTS = (SourceKind.DOCUMENT.value, SourceKind.MAKER.value)


def release(change: Change, wish: Wish) -> None:
    """Add a release."""
    version = change.profile.version(wish.subject("version"))
    if change.profile.release_of(version) is not None:
        raise problem(f"release {version} is there already.", advice="Each is there once.")
    data = {"version": str(version), **wish.keys("date", "label", "answers", "note")}
    change.add_release(data)
    day = f" of {data['date'].isoformat()}" if "date" in data else ""
    change.told.title = f"firmware {version}"
    change.told.did.append(f"Firmware {version}{day} is added to the known releases.")
    if version not in change.resolver.coverage:
        change.told.notes.append(
            f"No document speaks for {version} yet. A handbook is added with the form document."
        )


def document(change: Change, wish: Wish) -> None:
    """Add a document, or the maker's word."""
    id = _free(change, wish.subject("id"), "source", change.profile.sources)
    kind = wish.text("kind", DOCUMENTS[0])
    if kind not in DOCUMENTS:
        raise problem(
            f'a source of kind "{kind}" is not added so.',
            advice=did_you_mean(kind, DOCUMENTS) or "Say document or maker; tests are for bench.",
        )
    firmware = parse_firmware(wish.needed("firmware"), change.profile.scheme)
    covered = change.profile.range(firmware)
    for named in bounding_versions(firmware):
        change.version(named)
    title = wish.needed("title")
    data: dict[str, Any] = {"id": id, "kind": kind, "title": title, **wish.keys("date")}
    data |= {"firmware": firmware, **wish.keys("extent", "about")}
    for key in ("reissues", "replaces"):
        if wish.text(key):
            data[key] = _older(change, wish.text(key))
    gone = [one for said in wish.several("without") for one in parse_key("without", said)]
    data |= {"without": gone} if gone else {}
    data |= wish.keys("where", "note")
    change.draft.add(data, "source")
    change.told.title = title
    change.told.evidence.append(id)
    change.told.did.append(
        f"{title} ({id}) is added to the sources; it speaks for {covered.text()}."
    )
    older = change.profile.sources.get(data.get("reissues", ""))
    if older is not None:
        change.told.did.append(
            f"It says what {older.title or older.id} says, but for what cites it"
            f"{' and what it is without' if gone else ''}."
        )
    elif data.get("extent") == Extent.WHOLE:
        change.told.notes.append(
            "What it does not list does not exist in its firmware: name it at everything that it "
            "lists, with the form place. Where it lists the same as an earlier issue, say "
            "--reissues ID."
        )
    else:
        change.told.notes.append(
            "It speaks only for what cites it: name it with the form place. A further issue that "
            "says the same says so with --reissues ID, and one that you read from first to last "
            "page with --extent whole."
        )


def _older(change: Change, id: str) -> str:
    """The id of a document that a later one is about; raises with those that there are."""
    documents = [one.id for one in change.profile.sources.values() if one.is_document]
    if id not in documents:
        listed = f"There is {', '.join(documents)}." if documents else "Add it first."
        what = f'there is no document "{id}" in {change.profile.id}.'
        raise problem(what, advice=did_you_mean(id, documents) or listed)
    return id


def question(change: Change, wish: Wish) -> None:
    """Ask a question."""
    known = [held.id for held in change.profile.questions]
    id = _free(change, wish.subject("id"), "question", known)
    day = parse_key("date", wish.text("date", change.today.isoformat()))
    text = wish.needed("text")
    data = {"id": id, "date": day, **wish.keys("about"), "text": text}
    data |= {"settle": wish.needed("settle"), **wish.keys("firmware")}
    change.draft.add(data, "question")
    change.told.title = f"question {id}"
    change.told.did.append(f"Asked: {text}")


def answer(change: Change, wish: Wish) -> None:
    """Answer a question: it goes, and what was found out stands with the source that tells it."""
    id = wish.subject("question")
    held = {one.id: one for one in change.profile.questions}
    if id not in held:
        listed = ", ".join(held)
        raise problem(
            f'there is no question "{id}" in {change.profile.id}.',
            advice=did_you_mean(id, held) or (f"There is {listed}." if held else "It has none."),
        )
    source = change.source(wish.needed("source"))
    text = wish.needed("text")
    node = change.draft.find("source", source)
    if node is not None:
        note = node.table.setdefault("note", Node(""))
        before = str(note.value).strip().rstrip(".")
        note.value = f"{before}. Answers {id}: {text}" if before else f"Answers {id}: {text}"
        note.raw = ""
    asked = change.draft.find("question", id)
    if asked is not None:
        change.draft.drop(asked, "question")
    change.told.title = f"question {id} answered"
    change.told.evidence.append(source)
    change.told.did += [f"Asked was: {held[id].text}", f"Answer: {text}"]


def advisory(change: Change, wish: Wish) -> None:
    """Say what is known to misbehave."""
    known = [held.id for held in change.profile.advisories]
    id = _free(change, wish.subject("id"), "advisory", known)
    text = wish.needed("text")
    data: dict[str, Any] = {"id": id, "firmware": parse_key("firmware", wish.needed("firmware"))}
    change.profile.range(data["firmware"])
    data |= {"text": text, "do": wish.needed("do"), **wish.keys("about")}
    sources = [one for said in wish.several("source") for one in parse_key("sources", said)]
    change.cited(sources)
    change.draft.add({**data, "sources": sources} if sources else data, "advisory")
    change.told.title = f"advisory {id}"
    change.told.did.append(f"Warned of: {text}")


def _free(change: Change, id: str, what: str, known: Any) -> str:
    """An id that nothing of its kind has yet."""
    if id in known:
        raise problem(
            f'there is a {what} "{id}" in {change.profile.id} already.', advice="Choose another id."
        )
    return id
