"""Fields and bookmarks: what word processors count, number and look up by themselves."""

from __future__ import annotations

import hashlib
import re

from reportgen.render.word_text import escaped, one_line, text_xml

_BOOKMARK_SAFE = re.compile(r"[^A-Za-z0-9_]")
_LONGEST_STEM = 20  # a bookmark's name may have 40 characters


def bookmark_name(anchor: str) -> str:
    """A bookmark name for an anchor. Names with a leading underscore stay out of people's lists of bookmarks."""
    stem = _BOOKMARK_SAFE.sub("_", anchor)
    if stem == anchor and len(anchor) <= _LONGEST_STEM:
        return f"_Ref_{stem}"
    digest = hashlib.sha256(anchor.encode("utf-8", "surrogatepass")).hexdigest()
    return f"_Ref_{stem[:_LONGEST_STEM]}_{digest[:12]}"


def bookmark_xml(number: int, name: str, content: str) -> str:
    return f'<w:bookmarkStart w:id="{number}" w:name="{name}"/>{content}<w:bookmarkEnd w:id="{number}"/>'


def run_xml(text: str, properties: str = "") -> str:
    held = f"<w:rPr>{properties}</w:rPr>" if properties else ""
    return f"<w:r>{held}{text_xml(text)}</w:r>"


def field_xml(instruction: str, result: str, properties: str = "") -> str:
    """A field and what it shows until it is brought up to date. `result` is text."""
    return field_start_xml(instruction, properties) + run_xml(result, properties) + field_end_xml(properties)


def field_start_xml(instruction: str, properties: str = "") -> str:
    held = f"<w:rPr>{properties}</w:rPr>" if properties else ""
    return (
        f'<w:r>{held}<w:fldChar w:fldCharType="begin"/></w:r>'
        f'<w:r>{held}<w:instrText xml:space="preserve"> {escaped(instruction)} </w:instrText></w:r>'
        f'<w:r>{held}<w:fldChar w:fldCharType="separate"/></w:r>'
    )


def field_end_xml(properties: str = "") -> str:
    held = f"<w:rPr>{properties}</w:rPr>" if properties else ""
    return f'<w:r>{held}<w:fldChar w:fldCharType="end"/></w:r>'


def link_xml(bookmark: str, content: str) -> str:
    """A jump to a bookmark of the same document."""
    return f'<w:hyperlink w:anchor="{one_line(bookmark)}" w:history="1">{content}</w:hyperlink>'
