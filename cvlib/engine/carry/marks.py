"""What a setting may do, by the marks that a profile gives it: never by the words of its title."""

from __future__ import annotations

from cvlib.model.profile import Setting


def risks_of(setting: Setting | None) -> frozenset[str] | None:
    """The marks of a setting, such as ``current`` or ``heat``; nothing where nobody has looked."""
    marks = getattr(setting, "risk", None)
    return None if marks is None else frozenset(str(getattr(one, "value", one)) for one in marks)


def limits_current(setting: Setting | None) -> bool:
    """Whether a higher value lets more current flow, so that it must never grow unasked."""
    return "current" in (risks_of(setting) or ())
