"""Keeps a spreadsheet program from taking a text in a CSV file for a formula, and gives the text back exactly.

A text that begins with one of the signs below gets an apostrophe before it; so does one that begins with an apostrophe
and one of them, so that taking one apostrophe away again always gives back what was there. Numbers stay as they are.
The signs are those that OWASP names under "CSV injection" (recalled from memory), with their full-width forms.
"""

from __future__ import annotations

import re

_SIGNS = "=+\\-@\t\r＝＋－＠"
_TAKEN_FOR_FORMULA = re.compile(rf"'*[{_SIGNS}]")
_GUARDED = re.compile(rf"''*[{_SIGNS}]")
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?", re.ASCII)


def guarded(text: str) -> str:
    """The text as a CSV file of ours holds it."""
    return f"'{text}" if _TAKEN_FOR_FORMULA.match(text) and not _NUMBER.fullmatch(text) else text


def unguarded(text: str) -> str:
    """The text that `guarded` was given."""
    return text[1:] if _GUARDED.match(text) else text
