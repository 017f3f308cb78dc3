"""What can be wrong with an input, where, and the one way it is printed."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands in the files people keep: a path relative to the project folder, and what narrows it down.

    `row` is the line of a text file or the row of a sheet, counted from 1. `column` is a heading or a key path
    such as `analysis_plan.approach`. `item` is the object of a file that is no table; its columns are attributes.
    """

    file: str
    row: int | None = None
    column: str | None = None
    sheet: str | None = None
    item: str | None = None

    def __str__(self) -> str:
        parts = [self.file]
        if self.sheet is not None:
            parts.append(f"sheet {self.sheet!r}")
        if self.row is not None:
            parts.append(f"row {self.row}")
        if self.item is not None:
            parts.append(f"object {self.item!r}")
        if self.column is not None:
            parts.append(f"{'column' if self.item is None else 'attribute'} {self.column!r}")
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


# signs that people mistake for one another in ids
_LOOK_ALIKE = str.maketrans({"o": "0", "i": "1", "l": "1", "_": "-", " ": "-"})


def near_name(given: str, known: Sequence[str]) -> str | None:
    """The known name that `given` most likely meant, or None when nothing is close."""
    alike = [name for name in known if name.lower().translate(_LOOK_ALIKE) == given.lower().translate(_LOOK_ALIKE)]
    if alike:
        return alike[0]
    matches = difflib.get_close_matches(given.lower(), [name.lower() for name in known], n=1, cutoff=0.6)
    if not matches:
        return None
    return next(name for name in known if name.lower() == matches[0])


def did_you_mean(given: str, known: Sequence[str]) -> str:
    """A remedy for an unknown name: the near name if there is one, else the names there are."""
    near = near_name(given, known)
    if near is not None:
        return f"write {near!r} if that is what was meant"
    if not known:
        return "there is nothing of that kind in this project yet: add it first"
    shown = ", ".join(repr(name) for name in sorted(known)[:12])
    return f"use one of: {shown}" + (", ..." if len(known) > 12 else "")
