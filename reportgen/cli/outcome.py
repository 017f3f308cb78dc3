"""How a command ends: what it prints on which stream, and with which exit code."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime

import typer

from reportgen.problems import Place, Problem, UnreadableInput

CLEAN, TO_MEND, UNREADABLE = 0, 1, 2


@contextmanager
def told_problems() -> Iterator[None]:
    """Turns unreadable input into one block per problem on stderr and exit code 2."""
    try:
        yield
    except UnreadableInput as unreadable:
        count = len(unreadable.problems)
        for problem in unreadable.problems:
            print(problem, end="\n\n", file=sys.stderr)
        print(f"{count} {'problem' if count == 1 else 'problems'}; nothing was written.", file=sys.stderr)
        raise typer.Exit(UNREADABLE) from None


def refuse(where: str, *, found: str, expected: str, mend: str) -> UnreadableInput:
    """An unusable argument, told like any other problem: `where` names the option."""
    return UnreadableInput([Problem(place=Place(where), found=found, expected=expected, mend=mend)])


def print_json(data: object) -> None:
    """One JSON document on stdout and nothing else. Not-a-number never gets out: absent is null."""
    print(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))


def document_date(given: str | None) -> str:
    """The date that documents carry: as given, else SOURCE_DATE_EPOCH, else today. The only clock in the program."""
    import os

    if given is not None:
        try:
            return date.fromisoformat(given).isoformat()
        except ValueError:
            raise refuse(
                "--date", found=repr(given), expected="a date such as 2026-03-31", mend="write year-month-day"
            ) from None
    epoch = os.environ.get("SOURCE_DATE_EPOCH")
    if epoch:
        try:
            return datetime.fromtimestamp(int(epoch), tz=UTC).date().isoformat()
        except (ValueError, OverflowError, OSError):
            raise refuse(
                "SOURCE_DATE_EPOCH",
                found=repr(epoch),
                expected="seconds since 1970-01-01 as a whole number",
                mend="correct or unset this environment variable",
            ) from None
    return datetime.now(tz=UTC).date().isoformat()
