"""``cvlib pages``: the catalogue of the store as pages to read, and the locos of a fleet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cvlib.cli.exits import ExitCode, tell
from cvlib.cli.options import DefinitionsOption, examples
from cvlib.cli.progress import watched
from cvlib.cli.show import put

EXAMPLES = examples(
    "cvlib pages catalogue/",
    "cvlib pages catalogue/ --definitions definitions/",
    "cvlib pages my-pages/ my-locos/",
    "",
    "Open catalogue/index.html in a browser: from a disk, a stick or any web host.",
    "Run again, it writes only what changed.",
)


def run(
    out: Annotated[Path, typer.Argument(metavar="OUT", show_default=False)],
    locos: Annotated[
        list[Path] | None, typer.Argument(metavar="LOCO|FOLDER", show_default=False)
    ] = None,
    *,
    definitions: DefinitionsOption = None,
) -> int:
    """Write the catalogue of all decoders as a folder of pages, with a search.

    With locos also what to do and to write for each of them; publish that only if you mean to.
    A page for each decoder, CV and finding code. No page needs a network, and none needs a script.
    """
    from cvlib import api
    from cvlib.api.pages import write_pages

    done = write_pages(api.open_store(definitions), out, locos or (), watched)
    written = f"{len(done.written)} files written, the others were right already."
    put(f"{done.folder}: {done.profiles} decoders; {written}\n")
    tell(done.faults)
    return ExitCode.WRONG if done.faults else ExitCode.GOOD
