"""Text from anywhere to text that WordprocessingML can hold, without loss that nobody sees."""

from __future__ import annotations

import re

# XML 1.0 cannot hold these at all; line and tab characters are left to `text_xml`.
_NOT_XML = "\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff"
# Direction overrides and embeddings make text read otherwise than it is stored: shown, never obeyed.
_DIRECTION = "\u200e\u200f\u202a-\u202e\u2066-\u2069"
_HIDDEN = re.compile(f"[{_NOT_XML}{_DIRECTION}]")
_MARKUP = re.compile('[&<>"]')
_MARKUP_NAMES = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;"}
_LINES = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
_RIGHT_TO_LEFT = re.compile("[\u0590-\u08ff\ufb1d-\ufdcf\ufdf0-\ufdff\ufe70-\ufeff]")
_LEFT_TO_RIGHT = re.compile("[A-Za-z\u00c0-\u02af\u0370-\u052f]")
_PLAIN = re.compile(r"[A-Za-z0-9 .,;:/()_+*=%#\-]*\Z")


def visible(text: str) -> str:
    """The text with every character that cannot be stored, or that would hide something, written as its code point."""
    return _HIDDEN.sub(lambda match: f"[U+{ord(match.group()):04X}]", text)


def escaped(text: str) -> str:
    """The text, fit for element content and for attribute values in double quotes."""
    if _PLAIN.match(text):
        return text
    return _MARKUP.sub(lambda match: _MARKUP_NAMES[match.group()], visible(text))


def one_line(text: str) -> str:
    """The text as an attribute value: breaks and tabs become single spaces."""
    return escaped(" ".join(_LINES.sub(" ", text).replace("\t", " ").split()))


def text_xml(text: str) -> str:
    """`w:t` elements, with `w:br` and `w:tab` where the text breaks."""
    if _PLAIN.match(text):
        return f'<w:t xml:space="preserve">{text}</w:t>'
    lines = []
    for line in _LINES.split(text):
        pieces = (f'<w:t xml:space="preserve">{escaped(piece)}</w:t>' if piece else "" for piece in line.split("\t"))
        lines.append("<w:tab/>".join(pieces))
    return "<w:br/>".join(lines)


def is_right_to_left(text: str) -> bool:
    """Whether a run is to be laid out from right to left: it has such letters and no left-to-right ones."""
    return _RIGHT_TO_LEFT.search(text) is not None and _LEFT_TO_RIGHT.search(text) is None
