"""Content controls: the tag of each says which bound value stands there, whatever people do to the prose around it."""

from __future__ import annotations

from reportgen.compose.records import LONGEST_CONTROL_TAG, control_tag
from reportgen.render.word_text import one_line


def control(number: int, key: str, content: str) -> str:
    """A control around runs or around blocks.

    One around runs is not marked as plain text, since word processors then drop its bold type.
    """
    return f"<w:sdt><w:sdtPr>{_properties(number, key)}</w:sdtPr><w:sdtContent>{content}</w:sdtContent></w:sdt>"


def _properties(number: int, key: str) -> str:
    tag = one_line(control_tag(key))
    return f'<w:alias w:val="{one_line(key[:LONGEST_CONTROL_TAG])}"/><w:tag w:val="{tag}"/><w:id w:val="{number}"/>'
