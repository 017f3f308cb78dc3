"""A document model to the bytes of a Word file: the same document gives the same bytes."""

from __future__ import annotations

from collections.abc import Iterator

from reportgen.compose.records import (
    Block,
    Bullets,
    Callout,
    Contents,
    Cover,
    DataTable,
    Document,
    Figure,
    Heading,
    PageBreak,
    Paragraph,
    Table,
)
from reportgen.render.house_around import Around, fill_frame, take_along
from reportgen.render.house_frame import Frame, read_frame
from reportgen.render.house_furniture import add_missing_furniture, fill_furniture
from reportgen.render.house_type import type_scale
from reportgen.render.word_blocks import bullets_xml, callout_xml, contents_xml, figure_xml, heading_xml, paragraph_xml
from reportgen.render.word_cover import cover_xml, history_follows
from reportgen.render.word_drawing import Drawing, picture_id
from reportgen.render.word_dress import add_restarted_lists, dress
from reportgen.render.word_furniture import core_properties_xml, extended_properties_xml, footnotes_xml
from reportgen.render.word_house import house_bytes
from reportgen.render.word_labels import count_labels
from reportgen.render.word_parts import CORE_PROPERTIES, OFFICE, WORD_TYPE, Parts
from reportgen.render.word_settings import write_settings
from reportgen.render.word_styles import DECLARATION, NAMESPACES
from reportgen.render.word_tables import data_table_pieces, table_xml

_LONGEST_INTRODUCTION = 600  # characters
_LONGEST_LEAD = 240  # characters, about three lines


def word_bytes(document: Document, *, house: bytes | None, keeps_text: bool = True) -> bytes:
    """The Word file of a document in a company's template `house`, or else in the shipped one.

    Args: keeps_text: the template's own cover, header, footer and text too, not just its styles and page set-up.
    Raises ValueError where the document breaks its own promises: an anchor twice, a reference to none, a ragged table.
    """
    parts = Parts(house if house is not None else house_bytes())
    frame = read_frame(parts, keeps_text=keeps_text)
    take_along(parts, frame)
    worn = dress(parts, language=document.language)
    add_missing_furniture(parts, frame, worn.styles)
    drawing = Drawing(
        labels=count_labels(document.blocks),
        styles=worn.styles,
        headings=worn.headings,
        bullets=worn.bullets,
        ordered=worn.ordered,
        text_width=frame.sections.text_width(landscape=False),
        text_height=frame.sections.text_height(landscape=False),
        type_scale=type_scale(parts, worn.styles["TableText"]),
    )
    turned = [asked and not frame.sections.is_landscape for asked in _orientations(document.blocks)]
    texts = document.texts_by_tag()
    fill_frame(frame, drawing, texts)
    fill_furniture(parts, frame, drawing, texts=texts, turns=any(turned))
    body = list(_body_pieces(drawing, frame, document.blocks, turned))
    opening = f"{DECLARATION}<w:document {NAMESPACES}{frame.attributes}><w:body>"
    parts.write(parts.main, [opening, *body, "</w:body></w:document>"], content_type=f"{WORD_TYPE}.document.main+xml")
    add_restarted_lists(parts, drawing.restarted_lists, worn.ordered_abstract)
    _write_pictures(parts, drawing)
    _write_rest(parts, drawing, document)
    parts.sweep()
    return parts.zipped()


def _body_pieces(drawing: Drawing, frame: Frame, blocks: tuple[Block, ...], turned: list[bool]) -> Iterator[str]:
    cover = next((block for block in blocks if isinstance(block, Cover)), None)
    around = Around(frame, drawing, cover)
    yield around.front
    begun, starts_page = bool(around.front), not around.front
    held = ""  # the last piece, which may have to carry the end of a section
    for index, block in enumerate(blocks):
        if turned[index] != drawing.landscape:
            drawing.page_break = False
            if begun:
                section = frame.sections.next_xml(landscape=drawing.landscape)
                held = _ending_section(drawing, held, section)
            drawing.landscape = turned[index]
            drawing.text_width = frame.sections.text_width(landscape=drawing.landscape)
            drawing.text_height = frame.sections.text_height(landscape=drawing.landscape)
            starts_page = drawing.starts_page = True
        if isinstance(block, PageBreak):
            drawing.page_break = not starts_page
        elif block is not cover or not around.has_cover:
            below = blocks[index + 1] if index + 1 < len(blocks) else None
            turns = below is None or turned[index + 1] != turned[index]
            for piece in _block_pieces(drawing, index, block, below=below, turns=turns):
                yield held
                held = piece
            begun, starts_page, drawing.starts_page = True, False, False
    if drawing.landscape and frame.after:
        held = _ending_section(drawing, held, frame.sections.next_xml(landscape=True))
        drawing.landscape = False
    yield held
    yield around.rest(landscape=drawing.landscape)


def _ending_section(drawing: Drawing, piece: str, section: str) -> str:
    """A piece that ends its section: in its last paragraph where it has one, since one more could open a page."""
    body = piece.removesuffix(drawing.paragraph("SectionEnd", ""))
    last = body.rfind("<w:p>")
    properties = body.find("</w:pPr>", last)
    # a caption keeps its own paragraph: LibreOffice loses references to one that also ends a section
    is_plain = last >= 0 and "<w:bookmarkStart" not in body[last:]
    if body.endswith("</w:p>") and is_plain and properties >= 0:
        return body[:properties] + section + body[properties:]
    return f'{body}<w:p><w:pPr><w:pStyle w:val="{drawing.style("SectionEnd")}"/>{section}</w:pPr></w:p>'


def _orientations(blocks: tuple[Block, ...]) -> list[bool]:
    """Which blocks stand on a turned page: the tables that ask for it, and what introduces them.

    A heading goes with its table, and so do a few lines between the two: alone they would leave a page empty.
    """
    turned = [isinstance(block, Table | DataTable) and block.landscape for block in blocks]
    for index, is_turned in enumerate(tuple(turned)):
        if is_turned:
            start = _introduction(blocks, index)
            turned[start:index] = [True] * (index - start)
    return turned


def _introduction(blocks: tuple[Block, ...], table: int) -> int:
    """Where the heading of a table begins; the table itself, if more than a few lines or no heading stand before it."""
    first, length = table, 0
    while first > 0 and isinstance(before := blocks[first - 1], Paragraph | PageBreak):
        length += sum(len(run.text) for run in before.runs) if isinstance(before, Paragraph) else 0
        first -= 1
    if length > _LONGEST_INTRODUCTION or first == 0 or not isinstance(blocks[first - 1], Heading):
        return table
    while first > 0 and isinstance(blocks[first - 1], Heading | PageBreak):
        first -= 1
    return first


def _leads(block: Paragraph, below: Block | None) -> bool:
    """Whether a paragraph is a line or two that introduce a list, table or figure: alone it would end a page oddly."""
    if not isinstance(below, Bullets | Table | DataTable | Figure):
        return False
    return sum(len(run.text) for run in block.runs) <= _LONGEST_LEAD


def _block_pieces(drawing: Drawing, index: int, block: Block, *, below: Block | None, turns: bool) -> Iterator[str]:
    """below: what follows. turns: whether that stands on a page turned the other way, or nothing follows."""
    label = drawing.labels.by_block.get(index)
    match block:
        case Heading():
            yield heading_xml(drawing, block, drawing.labels.by_block[index])
        case Paragraph():
            yield paragraph_xml(drawing, block, leads=_leads(block, below))
        case Bullets():
            yield bullets_xml(drawing, block, last_on_page=turns)
        case Callout():
            yield callout_xml(drawing, block, last_on_page=turns)
        case Table():
            yield table_xml(drawing, block, label)
        case DataTable():
            yield from data_table_pieces(drawing, block, label)
        case Figure():
            yield figure_xml(drawing, block, label)
        case Contents():
            yield contents_xml(drawing, block)
        case Cover():
            yield cover_xml(drawing, block)
            drawing.page_break = not history_follows(block)


def _write_pictures(parts: Parts, drawing: Drawing) -> None:
    for number, picture in enumerate(drawing.pictures, start=1):
        name = f"word/media/{picture.name}"
        parts.write(name, picture.png, content_type="image/png")
        parts.relate(parts.main, f"{OFFICE}/image", name, id=picture_id(number))


def _write_rest(parts: Parts, drawing: Drawing, document: Document) -> None:
    """Settings, footnotes and properties."""
    write_settings(parts, language=document.language, footnotes=bool(drawing.footnotes))
    if drawing.footnotes:
        xml = footnotes_xml(drawing)
        parts.write("word/footnotes.xml", xml.encode(), content_type=f"{WORD_TYPE}.footnotes+xml")
        parts.relate(parts.main, f"{OFFICE}/footnotes", "word/footnotes.xml")
    parts.unrelate("", CORE_PROPERTIES)
    core = "application/vnd.openxmlformats-package.core-properties+xml"
    parts.write("docProps/core.xml", core_properties_xml(document).encode(), content_type=core)
    parts.relate("", CORE_PROPERTIES, "docProps/core.xml")
    if document.company:
        app = "application/vnd.openxmlformats-officedocument.extended-properties+xml"
        parts.write("docProps/app.xml", extended_properties_xml(document).encode(), content_type=app)
        parts.relate("", f"{OFFICE}/extended-properties", "docProps/app.xml")
