"""One thing to say about a spot of a file: what lint finds and what a review shows there."""

from __future__ import annotations

from dataclasses import dataclass

from cvlib.errors import Position
from cvlib.findings.catalogue import Severity


@dataclass(frozen=True, slots=True)
class Remark:
    """A code, how grave it is, where it is, what is the matter and what to do."""

    code: str
    severity: Severity
    position: Position
    problem: str
    advice: str = ""
    about: str = ""
    """What of the file it is about, in words that stay the same when lines move."""
    other: Position | None = None
    """The other end, where two parts do not go together."""

    def __str__(self) -> str:
        """The remark on one line: ``file:line:column: severity: code message``."""
        return f"{self.position}: {self.severity.value}: {self.code} {self.text}{self._ends}"

    @property
    def _ends(self) -> str:
        """The other end in words: its line, and its file where that is another."""
        if self.other is None:
            return ""
        line = f"line {self.other.line or 1}"
        where = line if self.other.file == self.position.file else f"{self.other.file}, {line}"
        return f" The other end is {where}."

    @property
    def text(self) -> str:
        """What is the matter and what to do."""
        return f"{self.problem} {self.advice}" if self.advice else self.problem

    @property
    def order(self) -> tuple[str, int, int, str, str]:
        """The key that sorts remarks by file and spot."""
        spot = self.position
        return spot.file, spot.line or 0, spot.column or 0, self.code, self.problem
