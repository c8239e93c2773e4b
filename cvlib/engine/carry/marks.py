"""What a setting may do, by the marks that a profile gives it: never by the words of its title."""

from __future__ import annotations

from cvlib.model.profile import Risk, Setting


def limits_current(setting: Setting | None) -> bool:
    """Whether a higher value lets more current flow, so that it must never grow unasked."""
    return setting is not None and Risk.CURRENT in (setting.risk or ())
