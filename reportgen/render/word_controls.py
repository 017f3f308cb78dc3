"""Content controls: the tag of each says which bound value stands there, whatever people do to the prose around it."""

from __future__ import annotations

from reportgen.compose.records import LONGEST_CONTROL_TAG, control_tag
from reportgen.render.word_text import one_line


def inline_control(number: int, key: str, runs: str) -> str:
    """A control within a paragraph. It is not marked as plain text, since word processors then drop its bold type."""
    return f"<w:sdt><w:sdtPr>{_properties(number, key)}</w:sdtPr><w:sdtContent>{runs}</w:sdtContent></w:sdt>"


def block_control(number: int, key: str, blocks: str) -> str:
    """A control around whole paragraphs and tables."""
    return f"<w:sdt><w:sdtPr>{_properties(number, key)}</w:sdtPr><w:sdtContent>{blocks}</w:sdtContent></w:sdt>"


def _properties(number: int, key: str) -> str:
    tag = one_line(control_tag(key))
    return f'<w:alias w:val="{one_line(key[:LONGEST_CONTROL_TAG])}"/><w:tag w:val="{tag}"/><w:id w:val="{number}"/>'
