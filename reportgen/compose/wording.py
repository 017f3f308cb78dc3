"""Small words: counts in singular and plural, lists, full stops."""

from __future__ import annotations

from collections.abc import Iterable


def counted(count: int, singular: str, plural: str | None = None) -> str:
    """'1 specimen', '2 specimens'."""
    return f"{count} {singular if count == 1 else (plural or singular + 's')}"


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
