"""Tables: captioned results by cell, and long raw data by the row."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from reportgen.compose.records import Cell, Column, DataTable, Emphasis, Table
from reportgen.render.word_drawing import Drawing
from reportgen.render.word_fields import bookmark_xml, field_xml, run_xml
from reportgen.render.word_heights import balanced, lines_of_rows, pages_of
from reportgen.render.word_labels import Label
from reportgen.render.word_styles import SHADE
from reportgen.render.word_table_heads import heading_row, title_of
from reportgen.render.word_text import one_line, text_xml
from reportgen.render.word_widths import CELL_MARGIN, column_widths, least_widths, printed_width, whole_words

# Word processors lay out tables of this length about 20 times faster than one table of 10,000 rows.
ROWS_PER_PIECE = 250

# A sign and a shade beside the word, so that a grey print and a colour-blind reader tell verdicts apart.
_SIGNS: dict[Emphasis, str] = {
    "met": "\u2714",
    "not met": "\u2716",
    "not demonstrated": "\u25d0",
    "not tested": "\u25cb",
}
_FILLS: dict[Emphasis, str] = {
    "met": "E8F1EA",
    "not met": "F0C9C2",
    "not demonstrated": "F7E8C8",
    "not tested": "EFEFEF",
    "heading": SHADE,
}
_MUTED = '<w:color w:val="56616B"/>'
_TALLEST_WHOLE_ROW = 25  # lines; a row that is taller may break across pages, or it might not fit any
_SHORT_DATA = 60  # rows; of longer raw data only the last ones are kept together
_LAST_TOGETHER = 4  # rows of raw data that may stand alone on a last page
_MANY_COLUMNS = 8  # so many figures side by side are what a smaller type is for
_MUCH_TALLER = 1.6
_PAGES_WORTH_SPARING_ONE = 3  # longer tables are looked up in rather than read at one go
_TALLEST_PAIR = 1_200  # twentieths of a point
_TALLEST_WHOLE_TABLE = 4_500  # twentieths of a point, a third of a page: a taller one would leave too much of it blank

_CLOSER = '<w:spacing w:after="120"/>'

# between numbers that end on the right and texts that begin on the left: in twentieths of a point, and as measured
_GAP, _ROOM = 100, "\u00a0\u00a0"
_WORD = re.compile(r"[^ \t\r\n]+")


def table_xml(drawing: Drawing, table: Table, label: Label | None) -> str:
    _check_rows(table.columns, table.rows)
    shown = [[_shown_text(cell) for cell in row] for row in table.rows]
    titles, *texts = _measured(table.columns, [[title_of(column) for column in table.columns], *shown])
    asked = [column.width for column in table.columns]
    sizes = _as_wide(drawing, _NORMAL, _DATA, _DENSE)
    face, widths = _roomy_type(asked, titles, texts, (drawing.text_width, drawing.text_height), sizes)
    above = caption_xml(drawing, label) if label else ""
    start = drawing.paragraph("SectionEnd", "") if drawing.page_break else ""
    kept = _kept_with_next(texts, widths, face, closing=bool(table.notes or table.source))
    rows = "".join(
        _row_xml(drawing, table, row, widths, face, whole=_is_short(row_texts, widths), keep_next=keep)
        for row, row_texts, keep in zip(table.rows, texts, kept, strict=True)
    )
    grid = _table_start(drawing, widths, table.caption) + heading_row(
        drawing, table.columns, widths, face.size, face.heading, _gaps(table.columns)
    )
    body = f"{grid}{rows}</w:tbl>"
    if table.key:
        body = drawing.bound(table.key, body)
    return above + start + body + _below(drawing, table)


def data_table_pieces(drawing: Drawing, table: DataTable, label: Label | None) -> Iterator[str]:
    """The table in pieces, each with its heading; a key binds all of them as one."""
    _check_rows(table.columns, table.rows)
    titles, *first_rows = _measured(
        table.columns, [[title_of(column) for column in table.columns], *table.rows[:ROWS_PER_PIECE]]
    )
    asked = [column.width for column in table.columns]
    sizes = _as_wide(drawing, _DENSE) if table.dense else _as_wide(drawing, _DATA, _DENSE)
    face = _type_that_fits(sizes, titles, first_rows, drawing.text_width)
    widths = _shared_widths(asked, titles, first_rows, drawing.text_width, face)
    if label:
        yield caption_xml(drawing, label)
    if table.source:
        # above a long table: below it, the line would now and then stand alone on a page
        yield drawing.paragraph("SourceNote", drawing.source(table), keep_next=True)
    start = _table_start(drawing, widths, table.caption) + heading_row(
        drawing, table.columns, widths, face.size, face.heading, _gaps(table.columns)
    )
    cells, kept_cells = (_data_cells(drawing, table.columns, widths, face, keep) for keep in ("", "<w:keepNext/>"))
    count = len(table.rows)
    kept = _kept_with_next(first_rows, widths, face, closing=False) if count <= _SHORT_DATA else []
    alone = {at for at, keep in enumerate(kept) if keep} | set(range(max(count - _LAST_TOGETHER, 0), count - 1))
    pieces = [
        start
        + "".join(
            _data_row(kept_cells if at in alone else cells, row, widths)
            for at, row in enumerate(table.rows[first : first + ROWS_PER_PIECE], start=first)
        )
        + "</w:tbl>"
        for first in range(0, max(count, 1), ROWS_PER_PIECE)
    ]
    between = drawing.paragraph("TableNote", run_xml(f"{label.text}, continued") if label else "", keep_next=True)
    body = between.join(pieces)
    yield drawing.bound(table.key, body) if table.key else body
    yield drawing.paragraph("SectionEnd", "")


def _roomy_type(
    asked: Sequence[float],
    titles: Sequence[str],
    rows: Sequence[Sequence[str]],
    page: tuple[int, int],
    sizes: tuple[_Type, ...],
) -> tuple[_Type, tuple[int, ...]]:
    """The largest type that fits, or the next smaller one where that spares a page, or many rows a second line.

    page: width and height of the type area.
    """
    total, height = page
    normal, data, *_ = sizes
    face = _type_that_fits(sizes, titles, rows, total)
    widths = _shared_widths(asked, titles, rows, total, face)
    if face is not normal:
        return face, widths
    narrower = _shared_widths(asked, titles, rows, total, data)
    tall, low = sum(_heights(widths, rows, normal)), sum(_heights(narrower, rows, data))
    pages, fewer = pages_of(tall, height), pages_of(low, height)
    spares_a_page = fewer < pages <= _PAGES_WORTH_SPARING_ONE
    is_much_lower = len(titles) >= _MANY_COLUMNS and tall > _MUCH_TALLER * low
    return (data, narrower) if spares_a_page or is_much_lower else (face, widths)


def _heights(widths: Sequence[int], rows: Sequence[Sequence[str]], face: _Type) -> list[float]:
    line, gap = face.size * 1.15, 2 * face.gap + 10
    return [count * line + gap for count in lines_of_rows(widths, rows, size=face.size)]


def _shared_widths(
    asked: Sequence[float], titles: Sequence[str], rows: Sequence[Sequence[str]], total: int, face: _Type
) -> tuple[int, ...]:
    """As asked and as words need, then moved a little where that makes the table shorter."""
    widths = column_widths(asked, titles, rows, total, size=face.size)
    return balanced(widths, whole_words(titles, rows, size=face.size), titles, rows, size=face.size)


def _kept_with_next(rows: Sequence[Sequence[str]], widths: Sequence[int], face: _Type, *, closing: bool) -> list[bool]:
    """Which rows stay on the page of the row below: all of a short table; of a long one the first and the last two.

    closing: whether a line below the table belongs to its last row.
    """
    if not rows:
        return []
    heights = _heights(widths, rows, face)
    last = len(rows) - 1
    if sum(heights) <= _TALLEST_WHOLE_TABLE:
        return [True] * last + [closing]
    # tall rows are many lines by themselves: keeping two of them together would leave a gap instead
    return [
        (at == last and closing) or (at in (0, last - 1) and heights[at] + heights[at + 1] <= _TALLEST_PAIR)
        for at in range(len(rows))
    ]


def caption_xml(drawing: Drawing, label: Label, *, below: bool = False, closing: bool = True) -> str:
    """'Table 3. What it shows': the number is a field, and references point at the bookmark around it.

    closing: whether nothing else belongs to what the caption stands below.
    """
    kind, number = label.text.split("\u00a0")
    counted = run_xml(f"{kind}\u00a0") + field_xml(f"SEQ {kind} \\* ARABIC", number)
    marked = bookmark_xml(drawing.number(), label.bookmark, counted)
    closer = f'<w:spacing w:before="60" w:after="{200 if closing else 20}"/>' if below else ""
    return drawing.paragraph(
        "Caption", marked + run_xml(f". {label.title}"), extra=closer, keep_next=not below or not closing
    )


@dataclass(frozen=True, slots=True)
class _Type:
    """A type size and the gap over and under a line, in twentieths of a point, and the styles of cells and headings."""

    size: int
    gap: int
    text: str
    heading: str


_NORMAL, _DATA, _DENSE = (
    _Type(180, 30, "TableText", "TableHeading"),
    _Type(160, 10, "DataText", "DataHeading"),
    _Type(140, 10, "DenseText", "DenseHeading"),
)


def _as_wide(drawing: Drawing, *types: _Type) -> tuple[_Type, ...]:
    """The types at the size at which ours would run as wide as the template's do."""
    return tuple(replace(one, size=round(one.size * drawing.type_scale)) for one in types)


def _type_that_fits(sizes: Sequence[_Type], titles: Sequence[str], rows: Sequence[Sequence[str]], total: int) -> _Type:
    """The largest type in which no word has to break, or else the smallest."""
    fitting = (one for one in sizes if sum(least_widths(titles, rows, total, size=one.size)) <= total)
    return next(fitting, sizes[-1])


def _check_rows(columns: Sequence[Column], rows: Sequence[Sequence[object]]) -> None:
    for number, row in enumerate(rows, start=1):
        if len(row) != len(columns):
            raise ValueError(f"row {number} has {len(row)} cells for {len(columns)} columns")


def _jc(align: str) -> str:
    return f'<w:jc w:val="{align}"/>' if align != "left" else ""


def _gaps(columns: Sequence[Column]) -> list[str]:
    """The indent of each column whose numbers end where the texts of the next one begin: the two would touch."""
    following = [column.align for column in columns[1:]] + [""]
    return [
        f'<w:ind w:right="{_GAP}"/>' if column.align == "right" and after == "left" else ""
        for column, after in zip(columns, following, strict=True)
    ]


def _measured(columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> list[Sequence[str]]:
    """The texts as widths are found from them: with room for the gap where there is one."""
    gaps = [at for at, gap in enumerate(_gaps(columns)) if gap]
    if not gaps:
        return list(rows)
    # behind each word, since each may end a line
    return [[_WORD.sub(rf"\g<0>{_ROOM}", text) if at in gaps else text for at, text in enumerate(row)] for row in rows]


def _table_start(drawing: Drawing, widths: Sequence[int], caption: str) -> str:
    named = f'<w:tblCaption w:val="{one_line(caption[:240])}"/>' if caption else ""
    columns = "".join(f'<w:gridCol w:w="{width}"/>' for width in widths)
    return (
        f'<w:tbl><w:tblPr><w:tblStyle w:val="{drawing.style("ReportTable")}"/>'
        f'<w:tblW w:w="{sum(widths)}" w:type="dxa"/>'
        '<w:tblLayout w:type="fixed"/><w:tblLook w:val="0020" w:firstRow="1" w:lastRow="0" w:firstColumn="0"'
        f' w:lastColumn="0" w:noHBand="1" w:noVBand="1"/>{named}</w:tblPr><w:tblGrid>{columns}</w:tblGrid>'
    )


def _row_xml(
    drawing: Drawing,
    table: Table,
    row: Sequence[Cell],
    widths: Sequence[int],
    face: _Type,
    *,
    whole: bool,
    keep_next: bool,
) -> str:
    properties = "<w:trPr><w:cantSplit/></w:trPr>" if whole else ""
    gaps = _gaps(table.columns)
    if len(row) > 1 and row[0].emphasis == "heading" and not any(run.text for cell in row[1:] for run in cell.runs):
        cell = _cell_xml(drawing, row[0], sum(widths), "left", face, span=len(row), keep_next=keep_next)
        return f"<w:tr>{properties}{cell}</w:tr>"
    cells = "".join(
        _cell_xml(drawing, cell, width, column.align, face, gap=gap, keep_next=keep_next)
        for cell, width, column, gap in zip(row, widths, table.columns, gaps, strict=True)
    )
    return f"<w:tr>{properties}{cells}</w:tr>"


def _cell_xml(
    drawing: Drawing,
    cell: Cell,
    width: int,
    align: str,
    face: _Type,
    *,
    span: int = 1,
    gap: str = "",
    keep_next: bool = False,
) -> str:
    fill = _FILLS.get(cell.emphasis)
    properties = (
        f'<w:tcW w:w="{width}" w:type="dxa"/>'
        + (f'<w:gridSpan w:val="{span}"/>' if span > 1 else "")
        + (f'<w:shd w:val="clear" w:color="auto" w:fill="{fill}"/>' if fill else "")
    )
    content = drawing.runs(cell.runs, properties=_MUTED if cell.emphasis == "muted" else "")
    if cell.emphasis in _SIGNS:
        content = (
            run_xml(f"{_SIGNS[cell.emphasis]}\u00a0", f'<w:rStyle w:val="{drawing.style("VerdictSign")}"/>') + content
        )
    heading = cell.emphasis == "heading"
    style = face.heading if heading else face.text
    paragraph = drawing.paragraph(style, content, extra=gap, align=align, keep_next=heading or keep_next)
    return f"<w:tc><w:tcPr>{properties}</w:tcPr>{paragraph}</w:tc>"


def _data_cells(
    drawing: Drawing, columns: Sequence[Column], widths: Sequence[int], face: _Type, keep: str
) -> list[str]:
    """What stands before the text of each cell of a row."""
    return [
        f'<w:tc><w:tcPr><w:tcW w:w="{width}" w:type="dxa"/></w:tcPr><w:p><w:pPr><w:pStyle w:val="'
        f'{drawing.style(face.text)}"/>{keep}{gap}{_jc(column.align)}</w:pPr><w:r>'
        for column, width, gap in zip(columns, widths, _gaps(columns), strict=True)
    ]


def _data_row(cells: Sequence[str], row: Sequence[str], widths: Sequence[int]) -> str:
    written = "".join([f"{start}{text_xml(text)}</w:r></w:p></w:tc>" for start, text in zip(cells, row, strict=True)])
    whole = "<w:trPr><w:cantSplit/></w:trPr>" if max(map(len, row), default=0) < 100 or _is_short(row, widths) else ""
    return f"<w:tr>{whole}{written}</w:tr>"


def _shown_text(cell: Cell) -> str:
    text = "".join(run.text for run in cell.runs)
    # a verdict is measured as one word, so that its column is as wide
    return f"{_SIGNS[cell.emphasis]} {text}".replace(" ", "\u00a0") if cell.emphasis in _SIGNS else text


def _is_short(texts: Sequence[str], widths: Sequence[int]) -> bool:
    """Whether a row surely fits on one page, so that it may be kept whole."""
    for text, width in zip(texts, widths, strict=True):
        lines = printed_width(text, _NORMAL.size) / max(width - 2 * CELL_MARGIN, 1) + text.count("\n")
        if lines > _TALLEST_WHOLE_ROW:
            return False
    return True


def _below(drawing: Drawing, table: Table) -> str:
    """Notes and source under a table; an empty line where there are none, since tables that touch become one."""
    last = len(table.notes) - 1
    lines = [
        drawing.paragraph("TableNote", drawing.runs(note), keep_next=at < last or bool(table.source))
        for at, note in enumerate(table.notes)
    ]
    if table.source:
        lines.append(drawing.paragraph("SourceNote", drawing.source(table)))
    else:
        # next to nothing high: on top of a page, where it may end up, it would hang lower what follows
        lines.append(drawing.paragraph("SectionEnd", "", extra=_CLOSER))
    return "".join(lines)
