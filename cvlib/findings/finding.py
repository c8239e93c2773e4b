"""One result of a check, as names and numbers; wording and colour come later."""

from __future__ import annotations

from dataclasses import dataclass

from cvlib.findings.catalogue import Severity


@dataclass(frozen=True, slots=True)
class Bits:
    """Some bits of a saved CV, and the CV's whole value."""

    cv: int
    page: str
    """The index page as ``16/2``, or empty."""
    mask: int
    value: int


@dataclass(frozen=True, slots=True)
class Told:
    """What one side says of a setting: where it lives there, and what a value means there."""

    setting: str
    title: str
    where: str = ""
    """The place in words, such as "CV 141" or "bits 0-3 of CV 29"."""
    value: str = ""
    """The saved value in words."""
    legal: str = ""
    """The legal values, or how the value is coded there."""
    firmware: str = ""
    """The firmware it speaks of."""
    is_allowed: bool = True
    """Whether the value is one that may stand there."""
    keeper: str = ""
    """``decoder`` where nobody can set it, ``reserved`` where nobody may, ``nobody`` where it does
    nothing."""
    writes: str = ""
    """The CVs with the numbers that say the value, such as "CV 55 = 24"."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found about the saved values of a decoder."""

    code: str
    severity: Severity
    settings: tuple[str, ...] = ()
    bits: tuple[Bits, ...] = ()
    was: tuple[Told, ...] = ()
    """What the values meant in the firmware they were saved for, or in the firmware that knows
    them."""
    now: tuple[Told, ...] = ()
    """What the installed firmware makes of the CVs; empty where it makes nothing of them."""
    lives_at: tuple[Told, ...] = ()
    """Where the settings of ``was`` live in the installed firmware; empty where they are gone."""
    after_update: tuple[Told, ...] = ()
    """What newer firmware would make of the CVs."""
    decided_by: tuple[Told, ...] = ()
    """The settings without a saved value that decide what the CVs mean."""
    standing: str = ""
    text: str = ""
    """The words of a rule or an advisory."""
    advice: str = ""
    """What the profile says to do."""
    name: str = ""
    """The id of the rule or advisory."""
    carried: tuple[Told, ...] = ()
    """The settings of ``was`` and ``now`` of which carry has a value for the installed firmware."""
    offered: tuple[Told, ...] = ()
    """Settings of ``now`` that nobody saved, with the factory value that carry offers."""
    of_some: bool = False
    """Whether it is known of other values what they were saved for."""
