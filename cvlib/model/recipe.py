"""Where the values of a list in another layout stand, and what reading by it comes to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from cvlib.errors import Fault, Position, UndecidedError
from cvlib.model.cv import Slot
from cvlib.model.loco import Loco

_MOST_NAMED = 20


@dataclass(frozen=True, slots=True)
class Recipe:
    """XPath expressions that say where rows stand, and where in a row each thing does."""

    kind: str
    """xml, json or table."""
    paths: Mapping[str, str]
    """By key: ``rows`` from the top of the file, all others from a row."""
    notation: str = "decimal"
    skip: tuple[str, ...] = ()
    """Texts in the place of a value that mean there is none."""
    sets_page: bool = True
    """Whether rows of CV 31 and CV 32 choose the page of the rows that follow."""
    namespaces: Mapping[str, str] = field(default_factory=dict)
    delimiter: str = ""
    """What parts the cells of a table."""
    headings: int = 0
    """The line of a table with its headings; rows begin below it."""
    file: str = ""
    positions: Mapping[str, Position] = field(default_factory=dict)
    """Where the file of the recipe says each path."""
    roles: tuple[str, ...] = ()
    """The decoders asked for, where a file holds several."""


class RecipeRow(NamedTuple):
    """One row that a recipe finds, and what becomes of it."""

    line: int
    number: str
    value: str
    page: str
    decoder: tuple[str, ...] = ()
    """Role, name and address of its decoder, as written."""
    slot: Slot | None = None
    byte: int | None = None
    skipped: str = ""
    """Why the row is left out; empty where it is not."""
    fault: Fault | None = None


@dataclass(frozen=True, slots=True)
class ByRecipe:
    """A file read by a recipe, row by row."""

    file: str
    rows: tuple[RecipeRow, ...]
    locos: Mapping[tuple[str, ...], Loco]
    """Each decoder as a loco of its own, by its role, its loco's name and address as written."""
    faults: tuple[Fault, ...] = ()

    def loco(self, roles: Iterable[str] = ()) -> Loco:
        """The only loco, or the one whose decoder is asked for by role, name or address.

        Raises UndecidedError where there are several and none is asked for.
        """
        for role in roles:
            fitting = [loco for key, loco in self.locos.items() if role in (*key, label(key))]
            if len(fitting) == 1:
                (decoder,) = fitting[0].decoders
                return replace(fitting[0], decoders=(replace(decoder, role=role),))
        if len(self.locos) == 1:
            return next(iter(self.locos.values()))
        labels = [f'"{label(key)}"' for key in self.locos]
        more = ["…"] if len(labels) > _MOST_NAMED else []
        raise UndecidedError(
            Fault(
                f"the file holds {len(labels)} decoders: "
                f"{', '.join([*labels[:_MOST_NAMED], *more])}.",
                Position(self.file),
                "Choose one with --role, or narrow the rows of the recipe to it.",
            )
        )


def label(key: tuple[str, ...]) -> str:
    """What tells a decoder from others in its file, in one text."""
    return ", ".join(filter(None, key))


@dataclass(frozen=True, slots=True)
class RecipeProposal:
    """A recipe proposed for a file, and how sure that is."""

    text: str
    """The recipe as a file."""
    certainty: str
    """sure, likely or guess."""
    reasons: tuple[str, ...]
    outcome: ByRecipe
