"""The samples on the pages of lint's codes, each made into a store of its own."""

import re
from dataclasses import dataclass
from pathlib import Path

from cvlib.files.lint.linting import lint
from cvlib.files.store import Store
from cvlib.findings.remark import Remark
from house.markdown import blocks_of
from house.tree import ROOT

PAGES = ROOT / "docs" / "lint"
NAME = "ferrow/sample.toml"
BASE = {
    "format": "format = 2",
    "decoder": '[decoder]\nid = "ferrow/sample"\nmaker = "Ferrow"\nname = "Sample"\nkind = "motor"',
    "identity": "[identity]\nmanufacturer = 13\nanswers = [{ cv = 250, value = 7 }]",
    "firmware": '[firmware]\nscheme = "dotted"\nparts = [{ cv = 7 }, { cv = 109 }, { cv = 110 }]\n'
    '[[firmware.release]]\nversion = "1.0"\n'
    '[[firmware.release]]\nversion = "2.0"\n'
    '[[firmware.release]]\nversion = "2.4.118"\n',
    "source": '[[source]]\nid = "handbook-1"\nkind = "document"\ntitle = "Sample handbook"\n'
    'date = 2018-10-01\nfirmware = ">=1.0, <=2.4.118"',
}
"""What a sample leaves out, table by table; a sample with a table of a kind has all of them."""


@dataclass(frozen=True)
class Sample:
    """What one page shows as failing or as passing: the files of a store, by their names."""

    page: Path
    files: dict[str, str]

    def store(self, folder: Path) -> Store:
        """A store in a new folder with nothing but the sample."""
        for name, text in self.files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        return Store(folder)

    def remarks(self, folder: Path) -> tuple[Remark, ...]:
        """What lint finds in it."""
        return lint(self.store(folder)).remarks


def sample(code: str, word: str) -> Sample:
    """The sample of a code: ``fails`` or ``passes``.

    The words behind the fence are ``toml fails`` for the profile, and ``toml fails
    ferrow/other.toml`` for a further file of the store.
    """
    page = PAGES / f"{code}.md"
    files = {}
    for block in blocks_of(page):
        kind, _, rest = block.tag.partition(" ")
        said, _, name = rest.partition(" ")
        if kind == "toml" and said == word:
            files[name or NAME] = whole(block.text, name or NAME)
    return Sample(page, files)


def whole(text: str, name: str) -> str:
    """A sample with the tables that it leaves out; a file of blocks is whole as it stands."""
    if name.endswith("/blocks.toml"):
        return f"format = 2\n{text}" if "format = " not in text else text
    used = {found.split(".")[0] for found in re.findall(r"^\[+([a-z.-]+)\]", text, re.M)}
    used |= {"format"} if re.search(r"^format = ", text, re.M) else set()
    head = "\n\n".join(part for table, part in BASE.items() if table not in used)
    own = head.replace('id = "ferrow/sample"', f'id = "{name.removesuffix(".toml")}"')
    # Keys without a heading stand first.
    first, _, rest = text.partition("\n[") if not text.startswith("[") else ("", "", text[1:])
    return f"{first}\n{own}\n\n[{rest}"
