"""What another program's file holds before it is translated: rows of texts under that program's own names."""

from __future__ import annotations

from dataclasses import dataclass, field

from reportgen.problems import Place


def plain_name(name: str) -> str:
    """A heading or attribute as one line: breaks inside a heading are the other program's layout."""
    return " ".join(name.split())


@dataclass(frozen=True, slots=True)
class ForeignRow:
    """One record of theirs. A cell may hold several values; `links` are ids that relations lead to, by our field.

    `place` is that of the record; a cell stands in it under its own name.
    """

    place: Place
    cells: dict[str, tuple[str, ...]]
    links: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def at(self, name: str) -> Place:
        return Place(self.place.file, self.place.row, name, self.place.sheet, self.place.item)


@dataclass(frozen=True, slots=True)
class ForeignTable:
    """The records of one kind and the names that their cells may have.

    `tells_decimals` is false where a number is a number, and not the text that somebody wrote.
    """

    place: Place
    names: tuple[str, ...]
    rows: tuple[ForeignRow, ...]
    tells_decimals: bool = True


def empty(place: Place) -> str:
    """How a value that is not there is told: a table has a cell for it, an object has no such attribute at all."""
    return "an empty cell" if place.item is None else "no value"
