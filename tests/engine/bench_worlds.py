"""Indexes to identify decoders in: of invented decoders in numbers, and of the shipped store."""

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from cvlib.engine.bench.expect import NO_ANSWER
from cvlib.engine.bench.index import IdentityIndex, merged, part_of
from cvlib.engine.bench.weigh import Read
from cvlib.files.store import Store, open_store
from cvlib.model.cv import parse_slot
from tools.bench.made_store import made_profiles


@cache
def made_index(count: int, seed: int = 3) -> IdentityIndex:
    """The index of so many invented decoders with several generations each."""
    with TemporaryDirectory() as folder:
        for id, text in made_profiles(count, seed):
            file = Path(folder) / f"{id}.toml"
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")
        store = Store(Path(folder))
        return merged(part_of(store.profile(id)) for id in store.ids())


@cache
def shipped_index() -> IdentityIndex:
    """The index of the shipped store."""
    store = open_store()
    return merged(part_of(store.profile(id)) for id in store.ids())


def reads(text: str) -> list[Read]:
    """Reads as they are typed: ``8=13 28=none 261@0/255=42``."""
    pairs = (word.split("=") for word in text.split())
    return [
        Read(parse_slot(slot), NO_ANSWER if answer == "none" else int(answer))
        for slot, answer in pairs
    ]
