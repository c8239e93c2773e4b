"""Firmware before or beyond all handbooks: whether the nearest handbook still holds there.

No handbook says anything else, so settings that belong together lie as in the nearest covered
firmware, or otherwise, and then nobody knows how. A read can only show that the CVs answer as that
handbook says. That they still do the same, only a test of the decoder shows.
"""

from __future__ import annotations

from cvlib.engine.bench.expect import UNKNOWN
from cvlib.engine.bench.layouts import Bundle, Disputed, Side, disputed_at, together
from cvlib.engine.bench.sheets import sheet_of
from cvlib.engine.known.resolve import Resolver
from cvlib.model.answer import Answer, Standing
from cvlib.model.coding import Area
from cvlib.model.cv import Slot
from cvlib.model.ranges import FirmwareRange
from cvlib.model.versions import FirmwareVersion

# A standard or block that was taken over says nothing of what belongs together here: it would put
# half of all settings in one bundle, and one read would speak for all of them.
AS_NEAREST, NONE_AS_NEAREST, SOME_AS_NEAREST = 0.6, 0.02, 0.38
"""How likely it is that everything is as in the nearest covered firmware, that nothing is, and that
some is."""

CHANGED = 0.15
"""How likely it is of one bundle that it is otherwise, where some are."""


def open_at(resolver: Resolver, version: FirmwareVersion) -> Disputed:
    """What a probe can ask about a firmware: what is disputed there; where nothing is, what is
    taken over from the nearest handbook because none covers it.
    """
    disputed = disputed_at(resolver, version)
    return disputed if disputed.bundles else _outside_at(resolver, version)


def _outside_at(resolver: Resolver, version: FirmwareVersion) -> Disputed:
    answers = resolver.at(version)
    settings = resolver.profile.settings
    asked = {name: answer for name, answer in answers.items() if _is_asked(answer)}
    sheet = sheet_of(settings, {name: answer.place for name, answer in answers.items()})
    silent = {Slot(cv) for cv in resolver.profile.identity.no_answer}
    bundles = []
    for names in together(settings, asked, by_origin=False):
        used = {
            part.slot for name in names for place in asked[name].places() for part in place.fields
        }
        slots = tuple(sorted(used & sheet.keys() - silent, key=lambda slot: slot.order))
        bundles.append(
            Bundle(
                names,
                (
                    Side(_nearest(resolver, asked[names[0]]), {n: asked[n].place for n in names}),
                    Side("", dict.fromkeys(names), is_unknown=True),
                ),
                slots,
                ({slot: sheet[slot] for slot in slots}, dict.fromkeys(slots, UNKNOWN)),
            )
        )
    bundles.sort(key=lambda held: (-len(held.settings), held.settings))
    shares = (AS_NEAREST, NONE_AS_NEAREST, SOME_AS_NEAREST)
    return Disputed(resolver.profile, version, tuple(bundles), shares, (1 - CHANGED, CHANGED))


def _is_asked(answer: Answer) -> bool:
    """Whether a setting is taken over from the nearest handbook, and can be read or tried."""
    place = answer.place
    if place is None or answer.standing not in (Standing.BEFORE, Standing.BEYOND):
        return False
    marks = place.marks
    is_own = marks.volatile or marks.internal or marks.reserved
    return bool(place.fields) and not isinstance(place.coding, Area) and not is_own


def _nearest(resolver: Resolver, answer: Answer) -> str:
    """The covered firmware that an answer is taken over from, in the spelling of profiles."""
    coverage = resolver.coverage_of(answer.setting)
    span = coverage.spans[0 if answer.standing is Standing.BEFORE else -1]
    return FirmwareRange(coverage.scheme, (span,), coverage.spelt).text()
