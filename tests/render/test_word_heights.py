"""Tables that take few lines, and that stay together where they are short."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from reportgen.compose.records import Cell, Column, DataTable, Table
from reportgen.render.word_heights import balanced, lines_of_rows
from reportgen.render.word_widths import column_widths, whole_words
from tests.render.sample_document import t
from tests.render.test_word_tables import W, tables_of

TOTAL = 9072
WORDY = [["LT-2601", "word " * 40, "a few words"], ["LT-2602", "x", "other words that need room of their own, too"]]


def test_lines_are_counted_by_the_tallest_cell() -> None:
    (first, second) = lines_of_rows([2000, 5072, 2000], WORDY, size=180)
    # 40 times 'word ' in Liberation Sans: 40 x 2.501 em at 9 pt in 4,912 twentieths of a point is 3.7 lines, so 4
    assert (first, second) == (4, 3)
    assert lines_of_rows([TOTAL], [], size=180) == []


def test_room_moves_to_the_column_that_makes_the_table_tall() -> None:
    titles = ["Lot", "Text", "More"]
    rows = [["LT-2601", "word " * 40, "a few words, and some more"] for _ in range(4)]
    rows.append(["LT-2602", "x", "word " * 30])
    asked = column_widths([1, 2, 4], titles, rows, TOTAL, size=180)
    least = whole_words(titles, rows, size=180)
    moved = balanced(asked, least, titles, rows, size=180)
    assert sum(moved) == TOTAL
    assert sum(lines_of_rows(moved, rows, size=180)) < sum(lines_of_rows(asked, rows, size=180))
    assert all(width >= need - 1 for width, need in zip(moved, least, strict=True))


@given(st.lists(st.lists(st.text(max_size=80), min_size=3, max_size=3), max_size=5))
def test_the_width_stays_as_it_is_and_no_table_gets_taller(rows: list[list[str]]) -> None:
    titles = ["a", "b", "c"]
    widths = column_widths([1, 2, 3], titles, rows, TOTAL, size=160)
    moved = balanced(widths, whole_words(titles, rows, size=160), titles, rows, size=160)
    assert sum(moved) == TOTAL
    assert all(width > 0 for width in moved)
    if rows:
        assert sum(lines_of_rows(moved, rows, size=160)) <= sum(lines_of_rows(widths, rows, size=160)) + 1


def kept(table: etree._Element) -> list[bool]:
    rows = table.findall(f"{W}tr")[1:]
    return [all(p.find(f"{W}pPr/{W}keepNext") is not None for p in row.iter(f"{W}p")) for row in rows]


def short(rows: int, **changes: object) -> Table:
    cells = tuple((Cell(runs=t(f"row {number}")), Cell(runs=t("text"))) for number in range(rows))
    table = Table(anchor="", caption="", columns=(Column(title="A"), Column(title="B")), rows=cells)
    return dataclasses.replace(table, **changes)


def test_a_short_table_stays_on_one_page_with_what_stands_below_it() -> None:
    (plain,) = tables_of(short(5))
    assert kept(plain) == [True, True, True, True, False]
    (with_source,) = tables_of(short(5, source="results/a.csv"))
    assert kept(with_source) == [True] * 5


def test_a_long_table_leaves_no_row_alone_on_a_page() -> None:
    (plain,) = tables_of(short(40))
    assert kept(plain) == [True, *[False] * 37, True, False]


@pytest.mark.parametrize(("rows", "expected"), [(4, [True, True, True, False]), (59, None), (61, [False] * 57)])
def test_raw_data_is_kept_together_only_where_there_is_little_of_it(rows: int, expected: list[bool] | None) -> None:
    table = DataTable(
        anchor="", caption="", columns=(Column(title="A"),), rows=tuple((f"row {at}",) for at in range(rows))
    )
    (drawn,) = tables_of(table)
    found = kept(drawn)
    last = [True, True, True, False]
    if rows > 4:
        expected = [*(expected or [True, *[False] * (rows - 5)]), *last]
    assert found == expected


def test_a_dense_table_is_set_in_the_smallest_type() -> None:
    table = DataTable(anchor="", caption="", columns=(Column(title="A"),), rows=(("a",),), dense=True)
    (drawn,) = tables_of(table)
    assert {node.get(f"{W}val") for node in drawn.iter(f"{W}pStyle")} == {"DenseHeading", "DenseText"}


def test_a_table_of_many_figures_is_set_smaller_where_that_spares_each_row_a_second_line() -> None:
    titles = ("Group", "n", "Min", "Mean", "Max", "SD", "k", "Lower bound", "Reliability shown", "Margin", "Verdict")
    numbers = (
        "10",
        "19.597",
        "20.4115",
        "21.434",
        "0.5826",
        "4.607",
        "17.7272",
        ">\u00a099.9999\u00a0%",
        "3.7272",
        "✔\u00a0met",
    )
    columns = tuple(Column(title=title, width=2.0 if title == "Group" else 1.0) for title in titles)

    def styles(group: str) -> set[str | None]:
        rows = tuple(tuple(Cell(runs=t(text)) for text in (group, *numbers)) for _ in range(5))
        (drawn,) = tables_of(Table(anchor="", caption="", columns=columns, rows=rows))
        return {node.get(f"{W}val") for node in drawn.iter(f"{W}pStyle")}

    assert styles("aged") == {"TableHeading", "TableText"}
    assert styles("LM-06-018, fresh") == {"DataHeading", "DataText"}
