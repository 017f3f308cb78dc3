"""What a company's template says besides its styles: cover, text around the content, and the place of the content.

A template that names at least one key in its body was made for our documents: its text is kept, and the content goes
where the control `document/content` stands. The text of any other is taken for a sample and left out.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from lxml import etree

from reportgen.render.house_fill import PREFIX, bookmark_key, key_of, keys_in
from reportgen.render.house_sections import Sections, sections_of
from reportgen.render.word_parts import OFFICE, Parts, parsed
from reportgen.render.word_styles import NAMESPACES, WORD

_W = f"{{{WORD}}}"
_R = f"{{{OFFICE}}}"
_MC = "{http://schemas.openxmlformats.org/markup-compatibility/2006}"
CONTENT = "document/content"
COVER = "document/cover"
COVER_PARTS = ("document/draft", "document/facts", "document/approvals", "document/history")
PLACES = (CONTENT, COVER, *COVER_PARTS)
# what points into parts that are not taken along: notes and remarks on the template's own text
_ASIDE = ("footnoteReference", "endnoteReference", "commentReference", "commentRangeStart", "commentRangeEnd")

Piece = Any  # an element of the template, or the key of a place as text


@dataclass(slots=True)
class Frame:
    """The template around the content. `before` and `after` hold elements, and keys where one of our blocks goes.

    ending: the section of the content where it ends in `after`, and not with the document. last: the section that ends
    the document, then. keys: all that body, headers and footers ask for. notes: what is lacking, in words.
    """

    sections: Sections
    before: list[Piece] = field(default_factory=list)
    after: list[Piece] = field(default_factory=list)
    ending: Any | None = None
    last: Any | None = None
    attributes: str = ""
    keys: set[str] = field(default_factory=set)
    notes: list[str] = field(default_factory=list)

    @property
    def trees(self) -> list[Any]:
        """The kept elements, the last section included."""
        kept = [piece for piece in (*self.before, *self.after) if not isinstance(piece, str)]
        return kept if self.last is None else [*kept, self.last]

    @property
    def has_own_cover(self) -> bool:
        """Whether the template has a first page of its own, which takes the place of ours."""
        return COVER not in self.before and any(_says_something(piece) for piece in self.before)

    @property
    def starts_page(self) -> bool:
        """Whether what stands before the content ends its page by itself."""
        if not self.before or isinstance(self.before[-1], str):
            return False
        last = self.before[-1]
        return last.find(f".//{_W}sectPr") is not None or any(
            node.get(f"{_W}type") == "page" for node in last.iter(f"{_W}br")
        )

    def lacks(self, key: str) -> bool:
        return key not in self.before and key not in self.after


def read_frame(parts: Parts, *, keeps_text: bool) -> Frame:
    """The frame of a template. Without its text, only its page set-up is taken."""
    root = parsed(parts.read(parts.main))
    body = root.find(f"{_W}body")
    children = [child for child in (() if body is None else body) if isinstance(child.tag, str)]
    last = children.pop() if children and children[-1].tag == f"{_W}sectPr" else None
    keys = {key for child in children for key in keys_in(child)}
    if not keeps_text or not any(key.startswith(PREFIX) for key in keys):
        return _without_text(children, last, keeps_text=keeps_text)
    pieces = [piece for child in children for piece in _pieces(child)]
    notes = _misplaced(pieces)
    if CONTENT not in pieces:
        pieces.append(CONTENT)
        notes.append(
            "Your Word template has no control tagged document/content on its own line in the body, so the content was"
            " put at its end"
        )
    at = pieces.index(CONTENT)
    ends = [(index, node) for index, piece in enumerate(pieces) for node in _sections_in(piece)]
    every = [node for _, node in ends] + ([] if last is None else [last])
    nth = sum(index < at for index, _ in ends)
    is_inside = nth < len(ends)
    frame = Frame(
        sections=sections_of(every, at=min(nth, len(every) - 1)),
        before=pieces[:at],
        after=[piece for piece in pieces[at + 1 :] if piece != CONTENT],
        ending=ends[nth][1] if is_inside else None,
        last=last if is_inside else None,
        attributes=_root_attributes(root),
        keys=keys,
        notes=notes,
    )
    _drop_blanks(frame)
    if _drop_asides(frame.trees):
        frame.notes.append("Notes and comments of your Word template's own text were left out")
    return frame


def _without_text(children: list[Any], last: Any | None, *, keeps_text: bool) -> Frame:
    every = [node for child in children for node in _sections_in(child)] + ([] if last is None else [last])
    upright = [index for index, node in enumerate(every) if not sections_of(every, at=index).is_landscape]
    at = (upright[0] if upright else 0) if not keeps_text else len(every) - 1
    frame = Frame(sections=sections_of(every, at=at))
    if keeps_text and any(_says_something(child) for child in children):
        frame.notes.append(
            "The text of your Word template was left out: put a control tagged document/content where the content"
            " should stand to keep it"
        )
    return frame


def _pieces(child: Any) -> Iterator[Piece]:
    """An element as it is, or the key of the block that goes there; the end of a section is never lost."""
    key = _place_of(child)
    if not key:
        yield child
        return
    yield key
    if next(child.iter(f"{_W}sectPr"), None) is not None:
        ending = next(node for node in child.iter(f"{_W}p") if node.find(f"{_W}pPr/{_W}sectPr") is not None)
        kept = copy.deepcopy(ending)
        for gone in [node for node in kept if node.tag != f"{_W}pPr"]:
            kept.remove(gone)
        yield kept


def _place_of(child: Any) -> str:
    """The place that a body element is: a control, or a paragraph that holds nothing but one or its bookmark."""
    if child.tag == f"{_W}sdt":
        key = key_of(child)
        return key if key in PLACES else ""
    if child.tag != f"{_W}p":
        return ""
    return next((key for key in keys_in(child) if key in PLACES), "")


def _misplaced(pieces: list[Piece]) -> list[str]:
    found = [
        key
        for piece in pieces
        if not isinstance(piece, str)
        for node in piece.iter(f"{_W}sdt", f"{_W}bookmarkStart")
        if (key := key_of(node) if node.tag == f"{_W}sdt" else bookmark_key(node)) in PLACES
    ]
    return [
        f"The control tagged {key} of your Word template stands inside a table or another control, where no block fits:"
        " it was left empty; give it a line of its own"
        for key in dict.fromkeys(found)
    ]


def _sections_in(piece: Piece) -> list[Any]:
    return [] if isinstance(piece, str) else list(piece.iter(f"{_W}sectPr"))


def _says_something(piece: Piece) -> bool:
    if isinstance(piece, str):
        return piece in COVER_PARTS
    shown = piece.iter(f"{_W}t", f"{_W}drawing", f"{_W}pict", f"{_W}tbl", f"{_W}sdt")
    return any(node.tag != f"{_W}t" or (node.text or "").strip() for node in shown)


def _drop_blanks(frame: Frame) -> None:
    """Empty paragraphs before and after a content that stands alone could open pages of their own."""
    if not any(_says_something(piece) or isinstance(piece, str) or _sections_in(piece) for piece in frame.before):
        frame.before = []
    if not any(_says_something(piece) or isinstance(piece, str) or _sections_in(piece) for piece in frame.after):
        frame.after = []


def _drop_asides(trees: list[Any]) -> bool:
    found = [node for tree in trees for node in tree.iter(*(f"{_W}{name}" for name in _ASIDE))]
    for node in found:
        node.getparent().remove(node)
    return bool(found)


def _root_attributes(root: Any) -> str:
    """Declarations that kept elements rely on: names besides ours, and which of them a reader may ignore."""
    ignorable = root.get(f"{_MC}Ignorable", "")
    declared = "".join(
        f' xmlns:{prefix}="{uri}"'
        for prefix, uri in sorted(root.nsmap.items(), key=lambda pair: str(pair[0]))
        if prefix and f"xmlns:{prefix}=" not in NAMESPACES
    )
    known = [name for name in ignorable.split() if name in root.nsmap]
    if not known:
        return declared
    mc = next((prefix for prefix, uri in root.nsmap.items() if uri == _MC[1:-1] and prefix), None)
    return declared + (f' {mc}:Ignorable="{" ".join(known)}"' if mc else "")


def xml_of(tree: Any) -> str:
    return str(etree.tostring(tree, encoding="unicode", with_tail=False))


def relations_in(trees: list[Any]) -> set[str]:
    """The relationships that elements name."""
    return {
        value
        for tree in trees
        for node in tree.iter()
        for name, value in node.attrib.items()
        if name.startswith(_R) or name.endswith("}relid")
    }
