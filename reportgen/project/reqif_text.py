"""Formatted text of a ReqIF file (XHTML) as plain text: nothing that a reader would see is lost or run together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

XHTML = "{http://www.w3.org/1999/xhtml}"
_BLOCKS = frozenset(
    (
        "address", "blockquote", "caption", "center", "dd", "div", "dl", "dt", "fieldset", "form", "h1", "h2", "h3",
        "h4", "h5", "h6", "hr", "li", "ol", "p", "pre", "table", "tbody", "tfoot", "thead", "tr", "ul",
    )
)  # fmt: skip
_SUPERSCRIPT = str.maketrans("0123456789+-=()n", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁼⁽⁾ⁿ")
_SUBSCRIPT = str.maketrans("0123456789+-=()", "₀₁₂₃₄₅₆₇₈₉₊₋₌₍₎")


class StruckOut(Exception):
    """Text that somebody marked as deleted: whether it still holds is not for a program to say."""


@dataclass(slots=True)
class _Gathered:
    """Pieces of text; a break asked for twice is one, and a paragraph's own white space is one space."""

    lines: list[str] = field(default_factory=lambda: [""])

    def text(self, piece: str) -> None:
        words = " ".join(piece.split())
        if piece[:1].isspace() and not self.lines[-1].endswith(" ") and self.lines[-1]:
            self.lines[-1] += " "
        self.lines[-1] += words
        if words and piece[-1:].isspace():
            self.lines[-1] += " "

    def exact(self, piece: str) -> None:
        first, *others = piece.split("\n")
        self.lines[-1] += first
        self.lines.extend(others)

    def block(self) -> None:
        if self.lines[-1].strip():
            self.lines.append("")

    def line(self) -> None:
        self.lines.append("")


def plain_text(element: Any) -> str:
    """The text of an XHTML element, a line for each paragraph, list item and table row; cells parted by ' | '.

    Superscripts and subscripts keep their meaning: m² and not m2. A picture or other object stands as its own text or
    name in brackets. Raises: StruckOut.
    """
    gathered = _Gathered()
    _inside(element, gathered, exact=False)
    lines = [line.strip() for line in gathered.lines]
    while lines and not lines[0]:
        lines.pop(0)
    while lines and not lines[-1]:
        lines.pop()
    return "\n".join(lines)


def _inside(element: Any, gathered: _Gathered, *, exact: bool) -> None:
    _put(element.text, gathered, exact=exact)
    for child in element:
        _element(child, gathered, exact=exact)
        _put(child.tail, gathered, exact=exact)


def _put(piece: str | None, gathered: _Gathered, *, exact: bool) -> None:
    if piece:
        if exact:
            gathered.exact(piece)
        else:
            gathered.text(piece)


def _element(child: Any, gathered: _Gathered, *, exact: bool) -> None:
    name = child.tag.removeprefix(XHTML) if isinstance(child.tag, str) else ""
    if name in {"del", "s", "strike"} or "line-through" in child.get("style", ""):
        if "".join(child.itertext()).strip():
            raise StruckOut(" ".join("".join(child.itertext()).split()))
        return
    if name == "br":
        gathered.line()
    elif name in {"sup", "sub"}:
        gathered.exact(_raised(" ".join("".join(child.itertext()).split()), up=name == "sup"))
    elif name in {"object", "img"}:
        gathered.exact(_object(child))
    elif name in {"td", "th"}:
        if gathered.lines[-1].strip():
            gathered.exact(" | ")
        _inside(child, gathered, exact=exact)
    elif name in _BLOCKS:
        gathered.block()
        _inside(child, gathered, exact=exact or name == "pre")
        gathered.block()
    else:
        _inside(child, gathered, exact=exact)


def _raised(text: str, *, up: bool) -> str:
    table, sign = (_SUPERSCRIPT, "^") if up else (_SUBSCRIPT, "_")
    if not text:
        return ""
    if all(ord(letter) in table for letter in text):
        return text.translate(table)
    return f"{sign}{text}" if len(text) == 1 else f"{sign}({text})"


def _object(element: Any) -> str:
    """What stands for a picture or a file: the text given for it, else its name."""
    words = next(_texts(element), "")
    return f"[{words or element.get('name') or element.get('data') or element.get('src') or 'object'}]"


def _texts(element: Any) -> Iterator[str]:
    alternative = element.get("alt") or " ".join("".join(element.itertext()).split())
    if alternative:
        yield alternative
