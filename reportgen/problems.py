"""What can be wrong with an input, where, and the one way it is printed."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

_TEXTS = (".yaml", ".yml", ".md", ".j2", ".json", ".reqif")


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands in the files people keep: a path relative to the project folder, and what narrows it down.

    `row` is the line of a text file or the row of a table, counted from 1. `column` is a heading or a key path
    such as `analysis_plan.approach`. `item` is the object of a file that is no table; its columns are attributes.
    `character` is the position in a line of text, counted from 1.
    """

    file: str
    row: int | None = None
    column: str | None = None
    sheet: str | None = None
    item: str | None = None
    character: int | None = None

    @property
    def is_text(self) -> bool:
        """Whether the file is one that people read by its lines, not a table with rows and columns."""
        return self.file.lower().endswith(_TEXTS)

    @property
    def line_or_row(self) -> str:
        """'line 12' of a text, 'row 12' of a table; '' where it is not known."""
        if self.row is None:
            return ""
        return f"line {self.row}" if self.is_text else f"row {self.row}"

    def __str__(self) -> str:
        parts = [self.file]
        if self.sheet is not None:
            parts.append(f"sheet {self.sheet!r}")
        if self.row is not None:
            parts.append(self.line_or_row)
        if self.character is not None:
            parts.append(f"character {self.character}")
        if self.item is not None:
            parts.append(f"object {self.item!r}")
        if self.column is not None:
            word = "attribute" if self.item is not None else "key" if self.is_text else "column"
            parts.append(f"{word} {self.column!r}")
        return ", ".join(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One fault in an input: it stops the work, and the reader can mend it from this alone."""

    place: Place
    found: str
    expected: str
    mend: str

    def __str__(self) -> str:
        return f"{self.place}\n  found:    {self.found}\n  expected: {self.expected}\n  to mend:  {self.mend}"


class UnreadableInput(Exception):
    """Raised once at the end of a reading pass, with everything that was found wrong."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        if not self.problems:
            raise ValueError("UnreadableInput needs at least one problem")
        super().__init__("\n\n".join(str(problem) for problem in self.problems))


def counted_more(count: int, singular: str) -> str:
    """'1 more row', '2 more rows'."""
    return f"{count} more {singular}{'' if count == 1 else 's'}"


# signs that people mistake for one another in ids
_LOOK_ALIKE = str.maketrans({"o": "0", "i": "1", "l": "1", "_": "-", " ": "-"})


def near_name(given: str, known: Sequence[str]) -> str | None:
    """The known name that `given` most likely meant, or None when nothing is close."""
    alike = [name for name in known if name.lower().translate(_LOOK_ALIKE) == given.lower().translate(_LOOK_ALIKE)]
    # a spreadsheet drops the zeros at the front of an id that looks like a number
    alike += [name for name in known if given.isdecimal() and name.isdecimal() and int(name) == int(given)]
    if alike:
        return alike[0]
    matches = difflib.get_close_matches(given.lower(), [name.lower() for name in known], n=1, cutoff=0.6)
    if not matches:
        return None
    return next(name for name in known if name.lower() == matches[0])


def did_you_mean_or_add(given: str, known: Sequence[str], *, to: str) -> str:
    """As `did_you_mean`, for a name that may be right: then its record is missing, and `to` says where it belongs."""
    remedy = did_you_mean(given, known)
    return f"{remedy}, or add {given!r} to {to}" if known else remedy


def did_you_mean(given: str, known: Sequence[str]) -> str:
    """A remedy for an unknown name: the near name if there is one, else the names there are."""
    near = near_name(given, known)
    if near is not None:
        return f"write {near!r} if that is what was meant"
    if not known:
        return "there is nothing of that kind in this project yet: add it first"
    names = sorted(set(known))
    shown = ", ".join(repr(name) for name in names[:12])
    return f"use {shown}" if len(names) == 1 else f"use one of: {shown}" + (", ..." if len(names) > 12 else "")
