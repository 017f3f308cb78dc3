"""What stands around the text: header, footer, footnotes and the properties of the file."""

from __future__ import annotations

import datetime
from collections.abc import Mapping

from reportgen.compose.records import Document
from reportgen.render.word_controls import control
from reportgen.render.word_drawing import Drawing
from reportgen.render.word_fields import field_xml, run_xml
from reportgen.render.word_styles import DECLARATION, FRAME, NAMESPACES
from reportgen.render.word_text import escaped

_BOLD = "<w:b/><w:bCs/>"


def header_xml(styles: Mapping[str, str], width: int) -> str:
    """Number and revision on the left, title on the right, and the note that marks a draft below.

    What it shows stands in controls, as in the header of any template. `styles`: id of each style of ours.
    """
    named = _paragraph(
        styles["header"],
        _asked(1, "document/number", "Document number", _BOLD)
        + run_xml("  ")
        + _asked(2, "document/revision_label", "Revision"),
    )
    titled = _paragraph(styles["header"], _asked(3, "document/short_title", "Title"), align="right")
    note = _paragraph(styles["header"], _asked(4, "document/draft_note", "Note on a draft", _BOLD), before=60)
    return f"{DECLARATION}<w:hdr {NAMESPACES}>{_row(width, 0.3, named, titled, edge='bottom')}{note}</w:hdr>"


def footer_xml(styles: Mapping[str, str], width: int) -> str:
    note = _paragraph(styles["footer"], _asked(5, "document/program", "Program and caution"))
    pages = run_xml("Page ") + field_xml("PAGE", "1") + run_xml(" of ") + field_xml("NUMPAGES", "1")
    row = _row(width, 0.89, note, _paragraph(styles["footer"], pages, align="right"), edge="top")
    return f"{DECLARATION}<w:ftr {NAMESPACES}>{row}{_paragraph(styles['SectionEnd'], '')}</w:ftr>"


def _paragraph(style: str, content: str, *, align: str = "", before: int = 0) -> str:
    """before: room above, in twentieths of a point."""
    spaced = f'<w:spacing w:before="{before}"/>' if before else ""
    aligned = f'<w:jc w:val="{align}"/>' if align else ""
    return f'<w:p><w:pPr><w:pStyle w:val="{style}"/>{spaced}{aligned}</w:pPr>{content}</w:p>'


def _asked(number: int, key: str, shown: str, properties: str = "") -> str:
    """A control that asks for a text; documents give it another number."""
    return control(number, key, run_xml(shown, properties))


def _row(width: int, share: float, left: str, right: str, *, edge: str) -> str:
    """Two texts at the two margins: in cells, so that a long one wraps instead of running into the other."""
    widths = (round(width * share), width - round(width * share))
    cells = "".join(
        f'<w:tc><w:tcPr><w:tcW w:w="{cell}" w:type="dxa"/></w:tcPr>{content}</w:tc>'
        for cell, content in zip(widths, (left, right), strict=True)
    )
    return (
        f'<w:tbl><w:tblPr><w:tblW w:w="{width}" w:type="dxa"/>'
        f'<w:tblBorders><w:{edge} w:val="single" w:sz="4" w:space="0" w:color="{FRAME}"/></w:tblBorders>'
        '<w:tblLayout w:type="fixed"/><w:tblCellMar><w:left w:w="0" w:type="dxa"/><w:right w:w="0" w:type="dxa"/>'
        f'</w:tblCellMar><w:tblLook w:val="0000"/></w:tblPr><w:tblGrid><w:gridCol w:w="{widths[0]}"/>'
        f'<w:gridCol w:w="{widths[1]}"/></w:tblGrid><w:tr>{cells}</w:tr></w:tbl>'
    )


def footnotes_xml(drawing: Drawing) -> str:
    """The notes, after the two rules that word processors draw above them."""
    rules = "".join(
        f'<w:footnote w:type="{kind}" w:id="{number}"><w:p><w:r><w:{mark}/></w:r></w:p></w:footnote>'
        for kind, number, mark in (
            ("separator", -1, "separator"),
            ("continuationSeparator", 0, "continuationSeparator"),
        )
    )
    sign = f'<w:r><w:rPr><w:rStyle w:val="{drawing.style("FootnoteReference")}"/></w:rPr><w:footnoteRef/></w:r>'
    notes = "".join(
        f'<w:footnote w:id="{number}">{drawing.paragraph("FootnoteText", sign + run_xml(f" {text}"))}</w:footnote>'
        for number, text in enumerate(drawing.footnotes, start=1)
    )
    return f"{DECLARATION}<w:footnotes {NAMESPACES}>{rules}{notes}</w:footnotes>"


def core_properties_xml(document: Document) -> str:
    """Title, subject, author and language; the two dates are the document's, never the clock's."""
    stamp = _stamp(document.date)
    dates = "".join(
        f'<dcterms:{name} xsi:type="dcterms:W3CDTF">{stamp}</dcterms:{name}>'
        for name in ("created", "modified")
        if stamp
    )
    return (
        f'{DECLARATION}<cp:coreProperties xmlns:cp="http://schemas.openxmlformats.org/package/2006/metadata/core-properties"'
        ' xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:dcterms="http://purl.org/dc/terms/"'
        ' xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">'
        f"<dc:title>{escaped(document.title)}</dc:title><dc:subject>{escaped(document.subject)}</dc:subject>"
        f"<dc:creator>{escaped(document.author)}</dc:creator><dc:identifier>{escaped(document.number)}</dc:identifier>"
        f"<dc:language>{escaped(document.language)}</dc:language><cp:lastModifiedBy>{escaped(document.author)}"
        f"</cp:lastModifiedBy><cp:version>{escaped(document.revision)}</cp:version>{dates}</cp:coreProperties>"
    )


def extended_properties_xml(document: Document) -> str:
    """The company, for fields and controls that show it."""
    return (
        f'{DECLARATION}<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/extended-properties">'
        f"<Application>reportgen</Application><Company>{escaped(document.company)}</Company></Properties>"
    )


def _stamp(date: str) -> str:
    """Midnight of an ISO date, or nothing where the date is in other words."""
    try:
        return f"{datetime.date.fromisoformat(date).isoformat()}T00:00:00Z"
    except ValueError:
        return ""
