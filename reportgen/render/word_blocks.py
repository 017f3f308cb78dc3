"""Blocks other than tables: headings, paragraphs, lists, boxes, figures, contents and the cover."""

from __future__ import annotations

from reportgen.compose.records import Bullets, Callout, Contents, Figure, Heading, Paragraph, note_key
from reportgen.render.charts import chart_png
from reportgen.render.word_drawing import Drawing, Picture, picture_id
from reportgen.render.word_fields import bookmark_xml, field_end_xml, field_start_xml, link_xml, run_xml
from reportgen.render.word_labels import Kind, Label
from reportgen.render.word_tables import caption_xml
from reportgen.render.word_text import one_line

_EMU_PER_MM = 36_000
_TWIPS_PER_MM = 1440 / 25.4
_DEEPEST_LISTED_HEADING = 3
_LONGEST_WHOLE_BOX, _LONGEST_BOX_OF_A_PAGE = 800, 3_000  # characters: ten lines, most of a page
_PARAGRAPH_STYLES = {"body": "BodyText", "note": "Note", "source": "SourceNote", "quote": "Quote"}
_CALLOUT_STYLES = {"caution": "CautionBox", "draft": "DraftBox", "plain": "PlainBox"}
_NO_NUMBER = '<w:numPr><w:ilvl w:val="0"/><w:numId w:val="0"/></w:numPr>'
_FLUSH = '<w:ind w:left="0" w:firstLine="0"/>'
_BRING_UP_TO_DATE = "Page numbers appear when the fields are brought up to date: select all, then press F9."


def heading_xml(drawing: Drawing, block: Heading, label: Label) -> str:
    content = bookmark_xml(drawing.number(), label.bookmark, run_xml(block.text))
    # on top of a page the room above a heading would only hang it lower
    closer = '<w:spacing w:before="0"/>' if drawing.page_break or drawing.starts_page else ""
    if not block.numbered:
        extra = _NO_NUMBER + closer + _FLUSH
    elif drawing.headings is None:
        extra = closer
    else:
        level = f'<w:ilvl w:val="{label.level - 1}"/><w:numId w:val="{drawing.headings}"/>'
        extra = f"<w:numPr>{level}</w:numPr>{closer}"
    return drawing.paragraph(f"Heading{label.level}", content, extra=extra)


def paragraph_xml(drawing: Drawing, block: Paragraph, *, leads: bool = False) -> str:
    """leads: whether it introduces what stands below, and so belongs on the same page."""
    return drawing.paragraph(_PARAGRAPH_STYLES[block.style], drawing.runs(block.runs), keep_next=leads)


def bullets_xml(drawing: Drawing, block: Bullets, *, last_on_page: bool = False) -> str:
    """last_on_page: whether the page ends behind the list; then its last two items stay together."""
    if not block.ordered:
        style, listed = "ListBullet", drawing.bullets
    else:
        style, listed = "ListNumber", drawing.restarted_list()
    numbering = f'<w:numPr><w:ilvl w:val="0"/><w:numId w:val="{listed}"/></w:numPr>'
    held = len(block.items) - 2 if last_on_page else -1
    return "".join(
        drawing.paragraph(style, drawing.runs(item), extra=numbering, keep_next=at == held)
        for at, item in enumerate(block.items)
    )


def callout_xml(drawing: Drawing, block: Callout, *, last_on_page: bool = False) -> str:
    """A box of paragraphs in one style: word processors draw one frame around neighbours that share theirs.

    A short one stands in a cell that does not break: a long chain of paragraphs that are kept together is given up
    halfway by LibreOffice 7.4, which then leaves a heading or a part of the box behind. A long one, which would leave
    half a page blank, may break after its first two and before its last two paragraphs; not where the page ends behind
    it anyway (last_on_page) unless it could fill one, since its end would then be alone on a page.
    """
    style = _CALLOUT_STYLES[block.tone]
    lines = [drawing.paragraph(style, run_xml(block.title, "<w:b/><w:bCs/>"), keep_next=True)] if block.title else []
    last = len(block.paragraphs) - 1
    longest = _LONGEST_BOX_OF_A_PAGE if last_on_page else _LONGEST_WHOLE_BOX
    whole = sum(len(run.text) for runs in block.paragraphs for run in runs) <= longest
    lines += [
        drawing.paragraph(style, drawing.runs(runs), keep_next=index < last and (whole or index in (0, last - 1)))
        for index, runs in enumerate(block.paragraphs)
    ]
    box = "".join(lines)
    if whole:
        box = (
            f'<w:tbl><w:tblPr><w:tblW w:w="{drawing.text_width}" w:type="dxa"/><w:tblLayout w:type="fixed"/>'
            f'<w:tblCellMar><w:left w:w="0" w:type="dxa"/><w:right w:w="0" w:type="dxa"/></w:tblCellMar></w:tblPr>'
            f'<w:tblGrid><w:gridCol w:w="{drawing.text_width}"/></w:tblGrid><w:tr><w:trPr><w:cantSplit/></w:trPr><w:tc>'
            f'<w:tcPr><w:tcW w:w="{drawing.text_width}" w:type="dxa"/></w:tcPr>{box}</w:tc></w:tr></w:tbl>'
        )
    # a paragraph must part the box from a table behind it; a full one could open a page of its own
    return box + drawing.paragraph("SectionEnd", "")


def figure_xml(drawing: Drawing, block: Figure, label: Label | None) -> str:
    # whole millimetres: a program that saves the file moves margins by a hair, and the picture must stay the same
    scale = min(1.0, round(drawing.text_width / _TWIPS_PER_MM) / block.width_mm)
    width_mm, height_mm = block.width_mm * scale, block.height_mm * scale
    name = f"figure{len(drawing.pictures) + 1}.png"
    drawing.pictures.append(Picture(name, chart_png(block.chart, width_mm=width_mm, height_mm=height_mm)))
    inline = _inline_picture(drawing.number(), len(drawing.pictures), block.alt, width_mm, height_mm)
    picture = drawing.paragraph("Figure", f"<w:r><w:drawing>{inline}</w:drawing></w:r>", keep_next=label is not None)
    if block.key:
        picture = drawing.bound(block.key, picture)
    below = caption_xml(drawing, label, below=True, closing=not (block.note or block.source)) if label else ""
    told = []
    if block.note:
        note = drawing.beside(block.key and note_key(block.key), block.note)
        told.append(drawing.paragraph("TableNote", note, keep_next=bool(block.source)))
    if block.source:
        told.append(drawing.paragraph("SourceNote", drawing.source(block)))
    return picture + below + "".join(told)


def _inline_picture(number: int, picture: int, alt: str, width_mm: float, height_mm: float) -> str:
    size = f'cx="{round(width_mm * _EMU_PER_MM)}" cy="{round(height_mm * _EMU_PER_MM)}"'
    named = f'id="{number}" name="Figure {picture}" descr="{one_line(alt)}"'
    return (
        f'<wp:inline distT="0" distB="0" distL="0" distR="0"><wp:extent {size}/><wp:docPr {named}/>'
        '<wp:cNvGraphicFramePr><a:graphicFrameLocks noChangeAspect="1"/></wp:cNvGraphicFramePr><a:graphic>'
        '<a:graphicData uri="http://schemas.openxmlformats.org/drawingml/2006/picture"><pic:pic><pic:nvPicPr>'
        f"<pic:cNvPr {named}/><pic:cNvPicPr/></pic:nvPicPr>"
        f'<pic:blipFill><a:blip r:embed="{picture_id(picture)}"/><a:stretch><a:fillRect/></a:stretch></pic:blipFill>'
        f'<pic:spPr><a:xfrm><a:off x="0" y="0"/><a:ext {size}/></a:xfrm><a:prstGeom prst="rect"><a:avLst/>'
        "</a:prstGeom></pic:spPr></pic:pic></a:graphicData></a:graphic></wp:inline>"
    )


def contents_xml(drawing: Drawing, block: Contents) -> str:
    """A list as a field with its entries in place, so that it reads before any word processor has counted.

    Page numbers are a matter of layout: the field gets them when it is brought up to date, and the hint that says so
    is part of what the field then replaces.
    """
    title = drawing.paragraph("TOCHeading", run_xml(block.title))
    kinds: dict[str, Kind] = {"headings": "heading", "tables": "table", "figures": "figure"}
    kind = kinds[block.of]
    labels = [
        label for label in drawing.labels.listed(kind) if kind != "heading" or label.level <= _DEEPEST_LISTED_HEADING
    ]
    if not labels:
        return title + drawing.paragraph("BodyText", run_xml(f"This document has no {block.of}."))
    listing = f'\\o "1-{_DEEPEST_LISTED_HEADING}"' if kind == "heading" else f'\\c "{kind.capitalize()}"'
    start, end = field_start_xml(f"TOC {listing} \\h \\z" + (" \\u" if kind == "heading" else "")), field_end_xml()
    lines = []
    for index, label in enumerate(labels):
        entry = link_xml(label.bookmark, _entry(label))
        style = f"TOC{label.level}" if kind == "heading" else "TableofFigures"
        lines.append(drawing.paragraph(style, (start if index == 0 else "") + entry))
    hint = "" if drawing.contents_hinted else run_xml(_BRING_UP_TO_DATE, "<w:i/><w:iCs/>")
    drawing.contents_hinted = True
    return title + "".join(lines) + drawing.paragraph("TableNote", hint + end)


def _entry(label: Label) -> str:
    if label.kind != "heading":
        return run_xml(f"{label.text}. {label.title}")
    return (run_xml(label.text) + "<w:r><w:tab/></w:r>" if label.text else "") + run_xml(label.title)
