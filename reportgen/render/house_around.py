"""What stands around the content in a company's template, as text: before it, after it, and at the end of sections."""

from __future__ import annotations

from reportgen.compose.records import Cover
from reportgen.render.house_fields import fill_fields
from reportgen.render.house_fill import fill, renumber
from reportgen.render.house_frame import COVER, COVER_PARTS, Frame, Piece, relations_in, xml_of
from reportgen.render.house_sections import parsed_section
from reportgen.render.word_cover import cover_parts, cover_xml, history_follows
from reportgen.render.word_drawing import Drawing
from reportgen.render.word_parts import OFFICE, Parts
from reportgen.render.word_styles import WORD

_W = f"{{{WORD}}}"
_R = f"{{{OFFICE}}}"
# what a document has besides what its text names; of anything else in a template (macros, links to other files,
# remarks, the picture of its first page) nothing goes into our documents
_TAKEN_ALONG = {f"{OFFICE}/{kind}" for kind in ("styles", "numbering", "theme", "fontTable", "settings", "customXml")}
_OF_THE_PACKAGE = {f"{OFFICE}/{kind}" for kind in ("officeDocument", "custom-properties")}
_OUR_PICTURES = "figure"


def take_along(parts: Parts, frame: Frame) -> None:
    """Forget all that the kept text of the template does not name, and keep its names clear of ours."""
    named = relations_in(frame.trees) | set(frame.sections.references.values())
    parts.keep_relations(parts.main, lambda id, kind: id in named or kind in _TAKEN_ALONG)
    parts.keep_relations("", lambda _, kind: kind in _OF_THE_PACKAGE)
    renamed = {id: f"template_{id}" for id in parts.relations(parts.main) if id.startswith(_OUR_PICTURES)}
    for old, new in renamed.items():
        parts.rename_relation(parts.main, old, new)
    for tree in frame.trees if renamed else ():
        for node in tree.iter():
            for name in [name for name in node.attrib if name.startswith(_R) and node.get(name) in renamed]:
                node.set(name, renamed[node.get(name)])
    parts.sweep()


def fill_frame(frame: Frame, drawing: Drawing, texts: dict[str, str]) -> None:
    """Fill what the text around the content asks for."""
    for tree in frame.trees:
        fill(tree, texts)
        fill_fields(tree, texts)
    renumber(frame.trees, drawing.number)


class Around:
    """The text around the content, drawn once.

    front: what stands before the content, with the cover where the template has a place for it or a cover of its own.
    has_cover: whether that holds all of the document's cover.
    """

    def __init__(self, frame: Frame, drawing: Drawing, cover: Cover | None) -> None:
        self._frame, self._drawing = frame, drawing
        self.has_cover = not frame.lacks(COVER) or frame.has_own_cover
        self._drawn: dict[str, str] = {}
        front = left = ""
        if cover is not None and not frame.lacks(COVER):
            self._drawn = {COVER: cover_xml(drawing, cover)}
        elif cover is not None and self.has_cover:
            self._drawn = cover_parts(drawing, cover)
            draft, *others = COVER_PARTS
            front = self._drawn[draft] if frame.lacks(draft) else ""
            left = "".join(self._drawn[key] for key in others if frame.lacks(key))
        front += "".join(map(self._xml, frame.before))
        if front:
            closes_page = frame.before[-1] != COVER or cover is None or not history_follows(cover)
            drawing.page_break = closes_page and not frame.starts_page
        if left:
            front += drawing.paragraph("SectionEnd", "") + left
            drawing.page_break = True
        self.front = front

    def rest(self, *, landscape: bool) -> str:
        """What stands behind the content, up to the section that ends the document."""
        frame = self._frame
        if frame.ending is not None:
            section = parsed_section(frame.sections.next_xml(landscape=landscape))
            frame.ending.getparent().replace(frame.ending, section)
        text = "".join(map(self._xml, frame.after))
        if frame.ending is None:
            return text + frame.sections.next_xml(landscape=landscape)
        return text + ("" if frame.last is None else xml_of(frame.last))

    def _xml(self, piece: Piece) -> str:
        return self._drawn.get(piece, "") if isinstance(piece, str) else xml_of(piece)
