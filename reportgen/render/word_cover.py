"""The first page: what the document is, why it is a draft, and lines for people to fill in."""

from __future__ import annotations

from reportgen.compose.records import DRAFT_MORE_KEY, Cover, draft_reason_key
from reportgen.render.house_frame import COVER_PARTS
from reportgen.render.word_drawing import Drawing
from reportgen.render.word_fields import run_xml

_BOLD = "<w:b/><w:bCs/>"
_LONGEST_HISTORY = 500  # characters: what a first page without reasons for a draft has room for


def cover_xml(drawing: Drawing, block: Cover) -> str:
    draft, facts, approvals, history = COVER_PARTS
    parts = cover_parts(drawing, block, turns_page=history_follows(block))
    titles = drawing.paragraph("Title", run_xml(block.title)) + drawing.paragraph("Subtitle", run_xml(block.subtitle))
    return parts[draft] + titles + parts[facts] + parts[approvals] + parts[history]


def history_follows(block: Cover) -> bool:
    """Whether the revision history opens the second page, above the contents, because the first one is full."""
    written = sum(len(text) for line in block.history for text in line)
    return bool(block.history) and (_is_draft(block) or written > _LONGEST_HISTORY)


def _is_draft(block: Cover) -> bool:
    return bool(block.draft_reasons or block.draft_more)


def cover_parts(drawing: Drawing, block: Cover, *, turns_page: bool = False) -> dict[str, str]:
    """The pieces of a cover by the key of their place in a template; '' for one that this document does not have.

    turns_page: the revision history begins a page.
    """
    found = dict.fromkeys(COVER_PARTS, "")
    draft, facts, approvals, history = COVER_PARTS
    if _is_draft(block):
        box = [drawing.paragraph("DraftBox", run_xml("Draft - not for submission", _BOLD), keep_next=True)]
        told = [(draft_reason_key(reason), reason) for reason in block.draft_reasons]
        told += [(DRAFT_MORE_KEY, block.draft_more)] if block.draft_more else []
        box += [
            drawing.paragraph("DraftBox", run_xml("\u2022 ") + drawing.bound(key, run_xml(text))) for key, text in told
        ]
        found[draft] = "".join(box)
    found[facts] = _form_table(drawing, (0.3, 0.7), (), block.facts)
    if block.approvals:
        lines = tuple((role, name, "", "") for role, name in block.approvals)
        form = _form_table(drawing, (0.34, 0.26, 0.25, 0.15), ("Role", "Name", "Signature", "Date"), lines, height=540)
        found[approvals] = _cover_heading(drawing, "Approval") + form
    if block.history:
        titles = ("Revision", "Date", "Author", "Change")
        drawing.page_break = turns_page
        heading = _cover_heading(drawing, "Revision history")
        found[history] = heading + _form_table(drawing, (0.14, 0.16, 0.22, 0.48), titles, block.history)
    return found


def _cover_heading(drawing: Drawing, text: str) -> str:
    return drawing.paragraph("TOCHeading", run_xml(text))


def _form_table(
    drawing: Drawing,
    shares: tuple[float, ...],
    titles: tuple[str, ...],
    rows: tuple[tuple[str, ...], ...],
    *,
    height: int = 0,
) -> str:
    """A ruled form. `height` leaves room to write by hand, in twentieths of a point.

    Without titles, the first column says what stands in the second.
    """
    widths = [round(drawing.text_width * share) for share in shares]

    def row_xml(texts: tuple[str, ...], *, heading: bool) -> str:
        tall = f'<w:trHeight w:val="{height}" w:hRule="atLeast"/>' if height and not heading else ""
        cells = "".join(
            f'<w:tc><w:tcPr><w:tcW w:w="{width}" w:type="dxa"/></w:tcPr>'
            + drawing.paragraph("CoverText", run_xml(text, _BOLD if heading or (not titles and not index) else ""))
            + "</w:tc>"
            for index, (text, width) in enumerate(zip(texts, widths, strict=True))
        )
        repeated = "<w:tblHeader/>" if heading else ""
        return f"<w:tr><w:trPr><w:cantSplit/>{tall}{repeated}</w:trPr>{cells}</w:tr>"

    if not rows:
        return ""
    grid = "".join(f'<w:gridCol w:w="{width}"/>' for width in widths)
    lines = (row_xml(titles, heading=True) if titles else "") + "".join(row_xml(row, heading=False) for row in rows)
    return (
        f'<w:tbl><w:tblPr><w:tblStyle w:val="{drawing.style("FormTable" if titles else "FactsTable")}"/>'
        f'<w:tblW w:w="{sum(widths)}" w:type="dxa"/>'
        '<w:tblLayout w:type="fixed"/><w:tblLook w:val="0000"/></w:tblPr>'
        f"<w:tblGrid>{grid}</w:tblGrid>{lines}</w:tbl>{drawing.paragraph('SectionEnd', '')}"
    )
