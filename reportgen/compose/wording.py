"""Small words: counts in singular and plural, lists, full stops."""

from __future__ import annotations

import re
from collections.abc import Iterable

from reportgen.project.records import DesignInput

_LOWER_CASE_WORD = re.compile(r"(?:[a-z]{3,}|an?)\b")
_MICROMETRES = re.compile(r"(?<=\d)um\b")


def counted(count: int, singular: str, plural: str | None = None) -> str:
    """'1 specimen', '2 specimens'."""
    return f"{count} {singular if count == 1 else (plural or singular + 's')}"


_COUNTS = ["One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten", "Eleven", "Twelve"]


def begun(text: str) -> str:
    """A sentence that begins with a small count, with the count in words: '2 groups were' -> 'Two groups were'."""
    count, blank, rest = text.partition(" ")
    is_small = count.isdecimal() and 1 <= int(count) <= len(_COUNTS)
    return f"{_COUNTS[int(count) - 1]}{blank}{rest}" if is_small else text


def in_words(count: int) -> str:
    """A small count within a sentence: 4 -> 'four'."""
    return _COUNTS[count - 1].lower() if 1 <= count <= len(_COUNTS) else str(count)


def listed(names: Iterable[str], *, word: str = "and") -> str:
    """'A', 'A and B', 'A, B and C'."""
    texts = list(names)
    if len(texts) <= 1:
        return "".join(texts)
    return f"{', '.join(texts[:-1])} {word} {texts[-1]}"


def ended(text: str) -> str:
    """A sentence with its full stop, so that what follows does not run into it."""
    settled = " ".join(text.split())
    return settled if not settled or settled[-1] in ".!?:;" else settled + "."


def plain_words(name: str) -> str:
    """A name of the registers as people read it: 'particles_10um' -> 'particles 10 µm'."""
    return _MICROMETRES.sub(" µm", name.replace("_", " "))


def name_of(design_input: DesignInput) -> str:
    """The characteristic as documents name it: by its own name, or by the words of its key."""
    return design_input.name or plain_words(design_input.characteristic)


def sentence(text: str) -> str:
    """A text of the project as a sentence of its own: full stop, and a capital unless it begins with a symbol (pH)."""
    settled = ended(text)
    return settled[:1].upper() + settled[1:] if _LOWER_CASE_WORD.match(settled) else settled
