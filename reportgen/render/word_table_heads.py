"""The heading row of a table: what a column holds and, in brackets, its unit."""

from __future__ import annotations

from collections.abc import Sequence

from reportgen.compose.records import Column
from reportgen.render.word_drawing import Drawing
from reportgen.render.word_fields import run_xml
from reportgen.render.word_styles import SHADE
from reportgen.render.word_widths import BOLD, CELL_MARGIN, printed_width


def title_of(column: Column) -> str:
    return f"{column.title} [{column.unit}]" if column.unit else column.title


def heading_row(
    drawing: Drawing, columns: Sequence[Column], widths: Sequence[int], size: int, style: str, gaps: Sequence[str]
) -> str:
    """The row that is repeated on each page.

    size: of the type, in twentieths of a point. gaps: the indent of each column, '' where it has none. Where one unit
    has to stand under its title, all of them do.
    """
    stacked = any(
        column.unit and printed_width(title_of(column), size) * BOLD > width - 2 * CELL_MARGIN
        for column, width in zip(columns, widths, strict=True)
    )
    cells = "".join(
        f'<w:tc><w:tcPr><w:tcW w:w="{width}" w:type="dxa"/><w:shd w:val="clear" w:color="auto" w:fill="{SHADE}"/>'
        '<w:vAlign w:val="bottom"/></w:tcPr>'
        f"{drawing.paragraph(style, run_xml(_shown(column, stacked)), extra=gap, align=column.align)}</w:tc>"
        for column, width, gap in zip(columns, widths, gaps, strict=True)
    )
    return f"<w:tr><w:trPr><w:cantSplit/><w:tblHeader/></w:trPr>{cells}</w:tr>"


def _shown(column: Column, stacked: bool) -> str:
    return f"{column.title}\n[{column.unit}]" if column.unit and stacked else title_of(column)
