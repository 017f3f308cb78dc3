"""Tables: widths, headings, pieces, verdict cells."""

from __future__ import annotations

import dataclasses
import io

import docx
from lxml import etree

from reportgen.compose.records import Callout, Cell, Column, Emphasis, Heading, PageBreak, Paragraph, Run, Table
from reportgen.render.word import word_bytes
from reportgen.render.word_tables import ROWS_PER_PIECE
from reportgen.render.word_widths import CELL_MARGIN, printed_width
from tests.render.sample_document import raw_data, results_table, sample_document, t

W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"


def tables_of(*blocks: object) -> list[etree._Element]:
    return list(body_of(*blocks).iter(f"{W}tbl"))


def body_of(*blocks: object) -> etree._Element:
    document = dataclasses.replace(sample_document(), blocks=blocks, bound=())
    return docx.Document(io.BytesIO(word_bytes(document, house=None))).element.body


def text_of(element: etree._Element) -> str:
    return "".join(node.text or "" for node in element.iter(f"{W}t"))


def test_heading_rows_repeat_and_no_row_breaks_across_pages() -> None:
    (table,) = tables_of(results_table())
    rows = table.findall(f"{W}tr")
    assert [row.find(f"{W}trPr/{W}tblHeader") is not None for row in rows] == [True] + [False] * 6
    assert all(row.find(f"{W}trPr/{W}cantSplit") is not None for row in rows)
    assert [text_of(cell) for cell in rows[0].findall(f"{W}tc")][3:5] == ["Mean [N]", "Lower bound [N]"]


def test_a_row_taller_than_a_page_may_break() -> None:
    table = results_table()
    tall = dataclasses.replace(
        table.rows[1][0], runs=(dataclasses.replace(table.rows[1][0].runs[0], text="x" * 10_000),)
    )
    (drawn,) = tables_of(dataclasses.replace(table, rows=((tall, *table.rows[1][1:]),)))
    assert drawn.findall(f"{W}tr")[1].find(f"{W}trPr/{W}cantSplit") is None


def test_verdicts_differ_by_word_sign_and_shade() -> None:
    (table,) = tables_of(results_table())
    verdicts = [row.findall(f"{W}tc")[-1] for row in table.findall(f"{W}tr")[2:6]]
    words: tuple[Emphasis, ...] = ("met", "not met", "not demonstrated", "not tested")
    assert [text_of(cell) for cell in verdicts] == [
        f"{sign}\u00a0{word}" for sign, word in zip("✔✖◐○", words, strict=True)
    ]
    assert len({cell.find(f"{W}tcPr/{W}shd").get(f"{W}fill") for cell in verdicts}) == 4
    assert all("✔" not in text_of(cell.find(f".//{W}sdt")) for cell in verdicts)


def test_a_heading_cell_alone_in_its_row_spans_the_table() -> None:
    (table,) = tables_of(results_table())
    (cell,) = table.findall(f"{W}tr")[1].findall(f"{W}tc")
    assert cell.find(f"{W}tcPr/{W}gridSpan").get(f"{W}val") == "6"


def test_numbers_stand_at_the_right() -> None:
    (table,) = tables_of(results_table())
    aligned = [cell.find(f"{W}p/{W}pPr/{W}jc") for cell in table.findall(f"{W}tr")[2].findall(f"{W}tc")]
    assert [node is not None and node.get(f"{W}val") for node in aligned] == [
        False,
        False,
        "right",
        "right",
        "right",
        False,
    ]


def test_raw_data_is_cut_into_pieces_that_each_have_the_heading_and_lose_no_row() -> None:
    data = raw_data(2 * ROWS_PER_PIECE + 7)
    tables = tables_of(data)
    assert [len(table.findall(f"{W}tr")) for table in tables] == [ROWS_PER_PIECE + 1, ROWS_PER_PIECE + 1, 8]
    read = [
        tuple(text_of(cell) for cell in row.findall(f"{W}tc"))
        for table in tables
        for row in table.findall(f"{W}tr")[1:]
    ]
    assert tuple(read) == data.rows
    assert {table.getparent().getparent().find(f"{W}sdtPr/{W}tag").get(f"{W}val") for table in tables} == {data.key}


def test_a_table_whose_words_do_not_fit_is_set_in_smaller_type() -> None:
    columns = tuple(Column(title=f"Characteristic{i}") for i in range(9))
    rows = (tuple(Cell(runs=t("text")) for _ in columns),)
    (drawn,) = tables_of(Table(anchor="", caption="", columns=columns, rows=rows))
    assert {node.get(f"{W}val") for node in drawn.iter(f"{W}pStyle")} == {"DataHeading", "DataText"} or {
        node.get(f"{W}val") for node in drawn.iter(f"{W}pStyle")
    } == {"DenseHeading", "DenseText"}
    (roomy,) = tables_of(Table(anchor="", caption="", columns=columns[:3], rows=(rows[0][:3],)))
    assert {node.get(f"{W}val") for node in roomy.iter(f"{W}pStyle")} == {"TableHeading", "TableText"}


def test_a_box_stays_whole_unless_it_is_long() -> None:
    # LibreOffice 7.4 gives up on a long chain of paragraphs kept together, and on the heading before it
    short = Callout(title="Read", paragraphs=tuple(t(f"caution {at}") for at in range(12)), tone="caution")
    (box,) = tables_of(short)
    assert [row.find(f"{W}trPr/{W}cantSplit") is not None for row in box.findall(f"{W}tr")] == [True]
    assert len(list(box.iter(f"{W}p"))) == 13
    assert tables_of(Callout(title="Read", paragraphs=(t("long " * 700),), tone="caution")) == []


def test_a_long_box_breaks_only_between_its_middle_paragraphs() -> None:
    long = Callout(title="Read", paragraphs=tuple(t("caution " * 30) for _ in range(6)), tone="caution")
    styles = [(p, p.find(f"{W}pPr/{W}pStyle")) for p in body_of(long, Paragraph(runs=t("more"))).iter(f"{W}p")]
    lines = [p for p, style in styles if style is not None and style.get(f"{W}val") == "CautionBox"]
    held = [p.find(f"{W}pPr/{W}keepNext") is not None for p in lines]
    assert held == [True, True, False, False, False, True, False]  # title and first; the last two


def test_a_long_box_stays_whole_where_the_page_ends_behind_it() -> None:
    long = Callout(title="Read", paragraphs=tuple(t("caution " * 30) for _ in range(6)), tone="caution")
    column = (Column(title="A"),)
    turned = Table(anchor="", caption="", columns=column, rows=((Cell(runs=t("1")),),), landscape=True)
    assert len(tables_of(long, turned)) == 2
    assert len(tables_of(long, Paragraph(runs=t("more")))) == 0
    assert len(tables_of(long)) == 1  # the end of the document


def styles_in(table: etree._Element) -> set[str | None]:
    return {node.get(f"{W}val") for node in table.iter(f"{W}pStyle")}


def test_smaller_type_where_that_spares_a_page_of_few() -> None:
    columns = tuple(Column(title=f"Column {at}") for at in range(6))

    def drawn(count: int) -> set[str | None]:
        row = tuple(Cell(runs=t("some words that take three lines or so in a column of this width")) for _ in columns)
        (table,) = tables_of(Table(anchor="", caption="", columns=columns, rows=(row,) * count, landscape=True))
        return styles_in(table)

    large, small = {"TableHeading", "TableText"}, {"DataHeading", "DataText"}
    found = [drawn(count) for count in range(1, 60)]
    assert found[0] == large
    assert small in found  # where the last rows would stand alone on a second or third page
    assert found[-1] == large  # a long table is looked up in, and stays readable


def test_every_word_of_a_heading_has_room_beside_the_gap() -> None:
    numbers = [("n", ""), ("Min", "N"), ("Mean", "N"), ("Max", "N"), ("SD", "N"), ("k", ""), ("Lower bound", "N")]
    columns = (
        Column(title="Group"),
        *(Column(title=title, unit=unit, align="right", width=0.7) for title, unit in numbers),
        Column(title="Reliability, descriptive", align="right"),
        Column(title="Margin", unit="N", align="right", width=0.5),
        Column(title="Verdict", width=3.0),
    )
    row = tuple(Cell(runs=t("not demonstrated" if column.title == "Verdict" else "9.999")) for column in columns)
    (drawn,) = tables_of(Table(anchor="", caption="", columns=columns, rows=(row,) * 3))
    margin = drawn.findall(f"{W}tr")[0].findall(f"{W}tc")[-2]
    indent = margin.find(f".//{W}ind").get(f"{W}right")
    width = int(margin.find(f"{W}tcPr/{W}tcW").get(f"{W}w"))
    size = 180 if "TableHeading" in styles_in(drawn) else 160 if "DataHeading" in styles_in(drawn) else 140
    # 'Margin' in Arial bold: 3278 thousandths of the type size (advance widths of the font's own tables, from memory)
    assert width >= 3.278 * size + int(indent) + 2 * 80


def test_where_one_unit_stands_under_its_title_all_do() -> None:
    def heads(text: str) -> list[str]:
        columns = (
            Column(title="What was measured", width=6.0),
            Column(title="Lower bound of all", unit="N", width=1.0, align="right"),
            Column(title="SD", unit="N", width=1.0, align="right"),
        )
        row = (cell_of(text), cell_of("1.0"), cell_of("0.2"))
        (table,) = tables_of(Table(anchor="t", caption="T", columns=columns, rows=(row,)))
        (head, *_) = table.findall(f"{W}tr")
        return [
            "".join("|" if node.tag == f"{W}br" else node.text or "" for node in cell.iter(f"{W}t", f"{W}br"))
            for cell in head.findall(f"{W}tc")
        ]

    assert heads("short") == ["What was measured", "Lower bound of all [N]", "SD [N]"]
    assert heads("a long line of text " * 12) == ["What was measured", "Lower bound of all|[N]", "SD|[N]"]


def test_a_verdict_stands_on_one_line() -> None:
    columns = (Column(title="Group", width=9.0), Column(title="Verdict", width=0.5))
    verdict = Cell(runs=(Run(text="not demonstrated"),), emphasis="not demonstrated")
    (table,) = tables_of(Table(anchor="t", caption="T", columns=columns, rows=((cell_of("word " * 60), verdict),)))
    width = [int(column.get(f"{W}w")) for column in table.iter(f"{W}gridCol")][1]
    assert width - 2 * CELL_MARGIN > printed_width("\u25d0 not demonstrated", 180)


def test_what_follows_a_table_without_source_does_not_hang_low_on_a_new_page() -> None:
    table = Table(anchor="t", caption="T", columns=(Column(title="A"),), rows=((cell_of("1"),),))
    behind = next(element for element in body_of(table).iterchildren(f"{W}tbl")).getnext()
    assert behind.find(f"{W}pPr/{W}pStyle").get(f"{W}val") == "SectionEnd"


def cell_of(text: str) -> Cell:
    return Cell(runs=(Run(text=text),))


def test_a_heading_on_top_of_a_page_has_no_room_above_it() -> None:
    inside, on_top = Heading(level=1, text="One"), Heading(level=1, text="Two")
    text = Paragraph(runs=(Run(text="text"),))
    body = body_of(text, inside, text, PageBreak(), on_top)
    closers = {
        text_of(paragraph): paragraph.find(f"{W}pPr/{W}spacing")
        for paragraph in body.iter(f"{W}p")
        if text_of(paragraph)
    }
    assert closers["One"] is None
    assert closers["Two"].get(f"{W}before") == "0"
