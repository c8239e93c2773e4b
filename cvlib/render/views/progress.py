"""How far a session has come, in one line."""

from __future__ import annotations

from cvlib.engine.bench.identify import Identified
from cvlib.engine.bench.probe import Probed
from cvlib.render.phrases import counted
from cvlib.render.views.bench_words import share_words
from cvlib.render.views.identify import firmware_of


def identify_progress(found: Identified) -> str:
    """How many candidates are left and which is the likeliest; empty before the first read."""
    if not found.reads:
        return ""
    fitting = found.fitting
    if not fitting:
        return "No profile fits these answers."
    best = fitting[0]
    left = counted(len(fitting), "candidate")
    chance = share_words(best.chance)
    return f"{left} left; the likeliest is {best.profile}, {firmware_of(best)} ({chance})."


def probe_progress(probed: Probed) -> str:
    """How many of the disputed settings are settled; empty before the first answer."""
    if not probed.reads and not probed.results:
        return ""
    known = sum(
        len(bundle.settings)
        for bundle, standing in zip(probed.disputed.bundles, probed.standings, strict=True)
        if standing.side is not None
    )
    whole = sum(len(bundle.settings) for bundle in probed.disputed.bundles)
    return f"{known} of {counted(whole, 'disputed setting')} settled."
