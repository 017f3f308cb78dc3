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
from reportgen.render.word_blocks import bullets_xml, callout_xml, contents_xml, figure_xml, heading_xml, paragraph_xml
from reportgen.render.word_cover import cover_xml
from reportgen.render.word_drawing import Drawing, picture_id
from reportgen.render.word_dress import add_restarted_lists, dress
from reportgen.render.word_furniture import core_properties_xml, footer_xml, footnotes_xml, header_xml
from reportgen.render.word_house import house_bytes, section_xml, settings_xml, text_width
from reportgen.render.word_labels import count_labels
from reportgen.render.word_parts import CORE_PROPERTIES, OFFICE, WORD_TYPE, Parts
from reportgen.render.word_styles import DECLARATION, NAMESPACES
from reportgen.render.word_tables import data_table_pieces, table_xml

_LEFT_BEHIND = ("header", "footer", "footnotes", "endnotes", "comments", "settings")
_LONGEST_INTRODUCTION = 600  # characters
_ORIENTATIONS = {"Portrait": False, "Landscape": True}


def word_bytes(document: Document, *, house: bytes | None) -> bytes:
    """The Word file of a document, in the styles of `house` (another Word file) or else of the shipped template.

    Raises ValueError where the document breaks its own promises: an anchor twice, a reference to none, a ragged table.
    """
    parts = Parts(house if house is not None else house_bytes())
    for kind in _LEFT_BEHIND:
        parts.unrelate(parts.main, f"{OFFICE}/{kind}")
    worn = dress(parts, language=document.language)
    drawing = Drawing(
        labels=count_labels(document.blocks),
        styles=worn.styles,
        headings=worn.headings,
        bullets=worn.bullets,
        ordered=worn.ordered,
        text_width=text_width(landscape=False),
    )
    body = list(_body_pieces(drawing, document.blocks))
    opening, closing = f"{DECLARATION}<w:document {NAMESPACES}><w:body>", "</w:body></w:document>"
    parts.write(parts.main, [opening, *body, closing], content_type=f"{WORD_TYPE}.document.main+xml")
    add_restarted_lists(parts, drawing.restarted_lists, worn.ordered_abstract)
    _write_pictures(parts, drawing)
    _write_furniture(parts, drawing, document)
    return parts.zipped()


def _body_pieces(drawing: Drawing, blocks: tuple[Block, ...]) -> Iterator[str]:
    turned = _orientations(blocks)
    starts_page = True
    held = ""  # the last piece, which may have to carry the end of a section
    for index, block in enumerate(blocks):
        if turned[index] != drawing.landscape:
            drawing.page_break = False
            section = section_xml(landscape=drawing.landscape, references=_references(drawing.landscape))
            if index:
                held = _ending_section(drawing, held, section)
            drawing.landscape = turned[index]
            drawing.text_width = text_width(landscape=drawing.landscape)
            starts_page = True
        if isinstance(block, PageBreak):
            drawing.page_break = not starts_page
        else:
            for piece in _block_pieces(drawing, index, block):
                yield held
                held = piece
            starts_page = False
    yield held
    yield section_xml(landscape=drawing.landscape, references=_references(drawing.landscape))


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


def _block_pieces(drawing: Drawing, index: int, block: Block) -> Iterator[str]:
    label = drawing.labels.by_block.get(index)
    match block:
        case Heading():
            yield heading_xml(drawing, block, drawing.labels.by_block[index])
        case Paragraph():
            yield paragraph_xml(drawing, block)
        case Bullets():
            yield bullets_xml(drawing, block)
        case Callout():
            yield callout_xml(drawing, block)
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
            drawing.page_break = True


def _references(landscape: bool) -> str:
    name = "Landscape" if landscape else "Portrait"
    return (
        f'<w:headerReference w:type="default" r:id="header{name}"/>'
        f'<w:footerReference w:type="default" r:id="footer{name}"/>'
    )


def _write_pictures(parts: Parts, drawing: Drawing) -> None:
    for number, picture in enumerate(drawing.pictures, start=1):
        name = f"word/media/{picture.name}"
        parts.write(name, picture.png, content_type="image/png")
        parts.relate(parts.main, f"{OFFICE}/image", name, id=picture_id(number))


def _write_furniture(parts: Parts, drawing: Drawing, document: Document) -> None:
    """Headers, footers, footnotes, settings and properties."""
    for name, landscape in _ORIENTATIONS.items():
        width = text_width(landscape=landscape)
        for kind, xml in (
            ("header", header_xml(drawing, document, width)),
            ("footer", footer_xml(drawing, document, width)),
        ):
            part = f"word/{kind}{name}.xml"
            parts.write(part, xml.encode(), content_type=f"{WORD_TYPE}.{kind}+xml")
            parts.relate(parts.main, f"{OFFICE}/{kind}", part, id=f"{kind}{name}")
    settings = settings_xml(language=document.language, footnotes=bool(drawing.footnotes))
    related = {"settings": settings}
    if drawing.footnotes:
        related["footnotes"] = footnotes_xml(drawing)
    for kind, xml in related.items():
        parts.write(f"word/{kind}.xml", xml.encode(), content_type=f"{WORD_TYPE}.{kind}+xml")
        parts.relate(parts.main, f"{OFFICE}/{kind}", f"word/{kind}.xml")
    parts.unrelate("", CORE_PROPERTIES)
    parts.unrelate("", f"{OFFICE}/extended-properties")
    core = "application/vnd.openxmlformats-package.core-properties+xml"
    parts.write("docProps/core.xml", core_properties_xml(document).encode(), content_type=core)
    parts.relate("", CORE_PROPERTIES, "docProps/core.xml")
