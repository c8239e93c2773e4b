"""The catalogue of a store as a folder of pages, and the pages of a fleet beside it."""

from __future__ import annotations

import signal
from collections import deque
from collections.abc import Callable, Collection, Generator, Iterable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import closing
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from cvlib.errors import CvlibError, Fault, InputError

if TYPE_CHECKING:
    from cvlib.engine.bench.outcome import DecoderChecked
    from cvlib.engine.carry.carry_loco import DecoderCarried
    from cvlib.files.site import ProfilePages, SiteFolder
    from cvlib.files.store import Store
    from cvlib.model.loco import Loco

FEW = 24
"""Profiles up to which a second process costs more time than it saves."""
BATCH = 6
"""Profiles that a process makes before it forgets the store again."""
PROCESSES = 2
SETTLED = 100
"""Profiles after which what was done is made to last: a disk takes its time for that."""

Watch = Callable[[Collection[str]], Iterable[str]]


class PagesWritten(NamedTuple):
    """What became of a folder of pages."""

    folder: Path
    profiles: int
    written: tuple[str, ...]
    """The names of the files that were written; the others were right already."""
    faults: tuple[Fault, ...]


def write_pages(
    store: Store, folder: Path, locos: Sequence[Path] = (), watch: Watch = tuple
) -> PagesWritten:
    """Bring a folder of pages up to date with a store; ``watch`` sees each profile go by.

    Raises :class:`~cvlib.errors.InputError` where the folder cannot be used.
    """
    from cvlib.files.site import open_site, page_name

    faults: list[Fault] = []
    ids = store.ids()
    digests = store.digests()
    with open_site(folder) as site:
        fresh = site.stale(ids, digests)
        with closing(_made(store.folders, fresh)) as made:
            for at, (_, (pages, fault)) in enumerate(zip(watch(fresh), made, strict=True), 1):
                faults += fault
                if pages is not None:
                    site.keep(pages, digests)
                if at % SETTLED == 0:
                    site.settle()
        site.keep_only("decoder", map(page_name, ids))
        _write_locos(store, site, locos, faults)
        _write_shared(site, has_locos=bool(locos))
        return PagesWritten(folder, len(ids), tuple(site.written), tuple(faults))


Made = tuple["ProfilePages | None", tuple[Fault, ...]]


def _made(folders: tuple[Path, ...], ids: Sequence[str]) -> Generator[Made, None, None]:
    """The pages of profiles in their order, by two processes where they are many."""
    batches = iter([list(ids[at : at + BATCH]) for at in range(0, len(ids), BATCH)])
    if len(ids) <= FEW:
        for batch in batches:
            yield from pages_of(folders, batch)
        return
    pool = ProcessPoolExecutor(PROCESSES, get_context("spawn"), _leave_interrupts)
    waiting: deque[Future[list[Made]]] = deque()
    try:
        for batch in batches:
            waiting.append(pool.submit(pages_of, folders, batch))
            if len(waiting) > 2 * PROCESSES:
                yield from waiting.popleft().result()
        while waiting:
            yield from waiting.popleft().result()
    finally:
        pool.shutdown(cancel_futures=True)


def _leave_interrupts() -> None:
    """An interruption is for the process that writes; it ends the others."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def pages_of(folders: tuple[Path, ...], ids: Iterable[str]) -> list[Made]:
    """What some profiles put into the catalogue, or their faults; the store is opened for them."""
    from cvlib.engine.known.resolve import Resolver
    from cvlib.files.site import ProfilePages
    from cvlib.files.store import Store
    from cvlib.render.site.decoder import decoder_page
    from cvlib.render.site.facts import DecoderFacts
    from cvlib.render.site.search import entries_of, uses_of

    store = Store(*folders)
    found: list[Made] = []
    for id in ids:
        try:
            facts = DecoderFacts(Resolver(store.profile(id)))
        except InputError as error:
            found.append((None, error.faults))
            continue
        made = ProfilePages(
            id,
            facts.name,
            facts.profile.kind,
            facts.sentence(),
            decoder_page(facts),
            tuple(entries_of(facts)),
            tuple(uses_of(facts)),
            store.names_behind(id),
        )
        found.append((made, ()))
    return found


def _write_shared(site: SiteFolder, *, has_locos: bool) -> None:
    """The pages that several profiles share: those that are due."""
    from cvlib.files.data import page_script, trade_words
    from cvlib.render.page_style import PAGE_STYLE
    from cvlib.render.site.search import CvUse, index_part, index_words
    from cvlib.render.site.shared import DecoderRow, cv_list, cv_page, home_page

    if site.due("all"):
        _write_codes(site)
        site.put("style.css", PAGE_STYLE)
        site.put("script.js", page_script().read_text(encoding="utf-8"))
    cvs = site.cvs()
    for number in site.due("cv"):
        uses = ((id, name, CvUse(int(number), *rest)) for id, name, *rest in site.uses(int(number)))
        if int(number) in cvs:
            site.put(f"cv/{number}.html", cv_page(int(number), uses))
        site.done("cv", number)
    for part in site.due("part"):
        site.put(f"search/{part}.js", index_part(part, site.part(part)))
        site.done("part", part)
    rows = [DecoderRow(*row) for row in site.rows()]
    parts = {word[:2] for word in site.words()}
    names = [(row.id, row.name) for row in rows]
    site.put("search/words.js", index_words(site.words(), names, cvs, trade_words()))
    site.put("cv/index.html", cv_list(cvs))
    site.put("index.html", home_page(rows, len(cvs), has_locos=has_locos))
    site.keep_only("cv", ["cv/index.html", *(f"cv/{cv}.html" for cv in cvs)])
    site.keep_only("search", ["search/words.js", *(f"search/{part}.js" for part in parts)])
    site.done("all", "all")


def _write_locos(
    store: Store, site: SiteFolder, paths: Sequence[Path], faults: list[Fault]
) -> None:
    """The pages of a fleet; without one those of an earlier run go, so that none is published."""
    from cvlib.api.checks import Asked, check_loco, locos_of
    from cvlib.engine.explain.card import LocoCard, decoder_card
    from cvlib.files.text import typed
    from cvlib.render.site.fleet import FleetRow, fleet_page, fleet_rows, loco_page, page_names

    if not paths:
        site.keep_only("locos", ())
        return
    wrong: list[Fault] = []
    locos = list(locos_of(Asked(tuple(paths)), wrong))
    names = page_names(Path(loco.file).stem or loco.name for loco in locos)
    rows: list[FleetRow] = []
    for loco, name in zip(locos, names, strict=True):
        try:
            checked = check_loco(store, loco)
        except InputError as error:
            wrong.extend(error.faults)
            continue
        sheets = [_sheet_of(store, loco, held) for held in checked.decoders]
        values = LocoCard(loco, tuple(map(decoder_card, checked.decoders)))
        site.put(f"locos/{name}", loco_page(checked, sheets, values, typed))
        rows += fleet_rows(name, checked, sheets)
    site.put("locos/index.html", fleet_page(rows, map(str, wrong)))
    site.keep_only("locos", ["locos/index.html", *(f"locos/{row.page}" for row in rows)])
    faults += wrong


def _sheet_of(store: Store, loco: Loco, held: DecoderChecked) -> DecoderCarried | str:
    """What to write so that the values mean at the installed firmware what they meant; or why
    that cannot be said.
    """
    from cvlib.engine.carry.carry_loco import Wish
    from cvlib.files.carrying import carry_loco

    if held.checked is None:
        return "the firmware is not known; the page of the decoder says what there is."
    try:
        return carry_loco(store, loco, Wish(to=str(held.checked.firmware), role=held.decoder.role))
    except CvlibError as error:
        return str(error.faults[0])


def _write_codes(site: SiteFolder) -> None:
    """A page for each code of a finding and of lint."""
    from cvlib.engine.lint.rules import RULES
    from cvlib.files.explaining import finding_page, lint_page
    from cvlib.findings.catalogue import CATALOGUE
    from cvlib.render.site.search import code_entries
    from cvlib.render.site.shared import code_list, code_page

    findings = [(row.code, row.sentence) for row in CATALOGUE]
    lint = [(rule.code, rule.sentence) for rule in RULES]
    for code, _ in findings:
        site.put(f"codes/finding-{code}.html", code_page(finding_page(code), code))
    for code, _ in lint:
        site.put(f"codes/lint-{code}.html", code_page(lint_page(code), code))
    site.put("codes/index.html", code_list(findings, lint))
    site.keep_words("finding", code_entries("finding", findings))
    site.keep_words("lint", code_entries("lint", lint))
