"""XLSX registers: the same project as from CSV, and what a sheet can hide from a fast reader."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import xlsxwriter
from openpyxl.worksheet.worksheet import Worksheet

from reportgen.problems import Place, UnreadableInput
from reportgen.project.read import read_project
from reportgen.project.sheets import read_xlsx
from tests.good_project import good_files, write_good_project

REGISTERS = ("user_needs", "risks", "design_inputs", "equipment", "lots")
COLUMNS = ("id", "statement")


def _typed(text: str) -> Any:
    """A cell as a spreadsheet keeps it: numbers as numbers, dates as dates."""
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        return date.fromisoformat(text)
    try:
        return float(text) if "." in text else int(text)
    except ValueError:
        return text or None


def _workbook(text: str) -> openpyxl.Workbook:
    workbook = openpyxl.Workbook()
    assert isinstance(workbook.active, Worksheet)
    for row in csv.reader(io.StringIO(text)):
        workbook.active.append([_typed(cell) for cell in row])
    return workbook


def _bytes(workbook: openpyxl.Workbook) -> bytes:
    stream = io.BytesIO()
    workbook.save(stream)
    return stream.getvalue()


def _simple(change: Callable[[Any], object] = lambda _: None) -> bytes:
    workbook = _workbook("id,statement\nA,first\nB,second\n")
    change(workbook)
    return _bytes(workbook)


def _problems(data: bytes) -> list[tuple[Place, str]]:
    _, problems = read_xlsx(data, file="x.xlsx", register="user_needs", columns=COLUMNS)
    return [(problem.place, problem.found) for problem in problems]


@pytest.mark.parametrize("register", REGISTERS)
def test_a_project_reads_the_same_from_a_workbook(register: str, tmp_path: Path) -> None:
    plain = read_project(write_good_project(tmp_path / "csv"))
    folder = write_good_project(tmp_path / "xlsx")
    (folder / f"{register}.csv").unlink()
    (folder / f"{register}.xlsx").write_bytes(_bytes(_workbook(good_files()[f"{register}.csv"])))
    assert read_project(folder).model_dump(exclude={"folder", "sources"}) == plain.model_dump(
        exclude={"folder", "sources"}
    )


def test_places_name_the_sheet(tmp_path: Path) -> None:
    folder = write_good_project(tmp_path)
    (folder / "risks.csv").unlink()
    text = good_files()["risks.csv"].replace("repeated,minor", "repeated,minr")
    (folder / "risks.xlsx").write_bytes(_bytes(_workbook(text)))
    with pytest.raises(UnreadableInput) as caught:
        read_project(folder)
    (problem,) = caught.value.problems
    assert problem.place == Place("risks.xlsx", row=4, column="severity", sheet="Sheet")


def test_the_sheet_named_like_the_register_is_read() -> None:
    def change(workbook: Any) -> None:
        workbook.active.title = "Notes"
        sheet = workbook.create_sheet("User needs")
        sheet.append(["id", "statement"])
        sheet.append(["C", "third"])

    table, problems = read_xlsx(_simple(change), file="x.xlsx", register="user_needs", columns=COLUMNS)
    assert problems == []
    assert table is not None
    assert (table.sheet, table.rows[0].cells["id"]) == ("User needs", "C")


def test_a_hidden_sheet_is_passed_over() -> None:
    def change(workbook: Any) -> None:
        hidden = workbook.create_sheet("Old", 0)
        hidden.append(["anything"])
        hidden.sheet_state = "hidden"

    table, problems = read_xlsx(_simple(change), file="x.xlsx", register="user_needs", columns=COLUMNS)
    assert problems == []
    assert table is not None
    assert table.sheet == "Sheet"


def test_hidden_rows_and_columns_count_like_the_others() -> None:
    def change(workbook: Any) -> None:
        workbook.active.row_dimensions[2].hidden = True
        workbook.active.column_dimensions["B"].hidden = True

    table, _ = read_xlsx(_simple(change), file="x.xlsx", register="user_needs", columns=COLUMNS)
    assert table is not None
    assert [row.cells["statement"] for row in table.rows] == ["first", "second"]


def test_rows_keep_their_numbers_below_blank_ones() -> None:
    def change(workbook: Any) -> None:
        workbook.active.insert_rows(1, 2)
        workbook.active.insert_rows(5)

    table, _ = read_xlsx(_simple(change), file="x.xlsx", register="user_needs", columns=COLUMNS)
    assert table is not None
    assert (table.heading_row, [row.number for row in table.rows]) == (3, [4, 6])


def test_a_formula_that_was_never_computed_is_told() -> None:
    def change(workbook: Any) -> None:
        workbook.active["B3"] = '="sec"&"ond"'

    place = Place("x.xlsx", row=3, column="statement", sheet="Sheet")
    assert _problems(_simple(change)) == [(place, "a formula without a stored value")]


def test_a_computed_formula_is_a_value() -> None:
    data = _rewritten(
        _simple(), lambda xml: re.sub(rb'<c r="B3"[^>]*>.*?</c>', b'<c r="B3" t="str"><f>1</f><v>second</v></c>', xml)
    )
    assert _problems(data) == []


def test_an_error_in_a_cell_is_told() -> None:
    data = _rewritten(
        _simple(), lambda xml: re.sub(rb'<c r="B3"[^>]*>.*?</c>', b'<c r="B3" t="e"><v>#N/A</v></c>', xml)
    )
    place = Place("x.xlsx", row=3, column="statement", sheet="Sheet")
    assert _problems(data) == [(place, "the error #N/A")]


def test_merged_cells_are_told() -> None:
    place = Place("x.xlsx", row=2, column="statement", sheet="Sheet")
    data = _simple(lambda workbook: workbook.active.merge_cells("B2:B3"))
    assert _problems(data) == [(place, "merged cells over 2 rows and 1 columns")]


def test_a_cell_far_away_does_not_take_the_memory() -> None:
    """The whole rectangle up to XFD1048576 would be 17,000 million cells."""

    def change(workbook: Any) -> None:
        workbook.active["XFD1048576"] = "x"

    assert _problems(_simple(change)) == [(Place("x.xlsx", sheet="Sheet"), "cells in use as far away as XFD1048576")]


def test_a_workbook_that_unpacks_without_end_is_refused() -> None:
    stream = io.BytesIO(_simple())
    with zipfile.ZipFile(stream, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet9.xml", b" " * (300 * 1024 * 1024))
    assert _problems(stream.getvalue()) == [(Place("x.xlsx"), "a workbook that unpacks to more than 256 MB")]


def test_entities_in_a_workbook_do_not_multiply() -> None:
    bomb = b'<!DOCTYPE x [<!ENTITY a "' + b"x" * 1000 + b'">'
    for before, after in zip("abcdefgh", "bcdefghi", strict=True):
        bomb += f'<!ENTITY {after} "{f"&{before};" * 50}">'.encode()
    data = _rewritten(_simple(), lambda _: b"<a/>", part="xl/workbook.xml", whole=bomb + b"]><x>&i;</x>")
    assert _problems(data) == [(Place("x.xlsx"), "a file that is no readable .xlsx workbook, whatever its ending")]


def _rewritten(
    data: bytes,
    change: Callable[[bytes], bytes],
    *,
    part: str = "xl/worksheets/sheet1.xml",
    whole: bytes | None = None,
) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(stream, "w") as new:
        for entry in old.infolist():
            content = old.read(entry)
            if entry.filename == part:
                content = change(content) if whole is None else whole
            new.writestr(entry.filename, content)
    return stream.getvalue()


def test_a_row_far_away_counts_even_without_cell_addresses() -> None:
    far = b'<row r="9000000"><c t="str"><v>x</v></c></row></sheetData>'
    data = _rewritten(_simple(), lambda xml: xml.replace(b"</sheetData>", far))
    assert _problems(data) == [(Place("x.xlsx", sheet="Sheet"), "cells in use as far away as row 9000000")]


@pytest.mark.parametrize("address", [b"B99999999999999", b"B-1", b"2B", b"ZZZZ2", b"b2", b""])
def test_an_address_that_is_none_is_not_passed_on(address: bytes) -> None:
    """The fast reader would reserve memory for what such an address says, and end the program."""
    data = _rewritten(_simple(), lambda xml: xml.replace(b'r="B2"', b'r="' + address + b'"'))
    assert _problems(data) == [(Place("x.xlsx"), "a file that is no readable .xlsx workbook, whatever its ending")]


@pytest.mark.parametrize("part", ["xl/sharedStrings.xml", "xl/styles.xml"])
def test_a_part_that_claims_more_than_it_can_hold_is_not_passed_on(part: str) -> None:
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream) as workbook:
        sheet = workbook.add_worksheet()
        for number, row in enumerate((("id", "statement"), ("A", "first"))):
            sheet.write_row(number, 0, row)
    data = stream.getvalue()
    assert _problems(data) == []
    lying = _rewritten(data, lambda xml: re.sub(rb'ount="\d+"', b'ount="99999999999"', xml), part=part)
    assert _problems(lying) == [(Place("x.xlsx"), "a file that is no readable .xlsx workbook, whatever its ending")]


@pytest.mark.parametrize("writer", ["openpyxl", "xlsxwriter"])
def test_a_number_shown_with_zeros_before_it_is_read_as_it_is_shown(writer: str) -> None:
    if writer == "openpyxl":

        def change(workbook: Any) -> None:
            sheet = workbook.active
            for row, value in ((2, 7), (3, "7"), (4, 70000), (5, 7)):
                sheet.cell(row, 1, value).number_format = "0000" if row < 5 else "General"
                sheet.cell(row, 2, "words")

        data = _simple(change)
    else:
        stream = io.BytesIO()
        book = xlsxwriter.Workbook(stream)
        sheet, zeros = book.add_worksheet(), book.add_format({"num_format": "0000"})
        sheet.write_row(0, 0, ("id", "statement"))
        sheet.write_number(1, 0, 7, zeros)
        sheet.write_string(2, 0, "7", zeros)
        sheet.write_number(3, 0, 70000, zeros)
        sheet.write_number(4, 0, 7)
        for row in range(1, 5):
            sheet.write_string(row, 1, "words")
        book.close()
        data = stream.getvalue()
    table, problems = read_xlsx(data, file="x.xlsx", register="user_needs", columns=COLUMNS)
    assert problems == []
    assert table is not None
    assert [row.cells["id"] for row in table.rows] == ["0007", "7", "70000", "7"]


def test_a_limit_keeps_the_decimals_that_the_sheet_shows(tmp_path: Path) -> None:
    """Results may be rounded to them (ASTM E29); what a format hides is not lost, and other formats change nothing."""
    folder = write_good_project(tmp_path)
    (folder / "design_inputs.csv").unlink()
    workbook = _workbook(good_files()["design_inputs.csv"])
    sheet: Any = workbook.active
    sheet["F2"].number_format, sheet["F2"].value = "0.000", 10
    sheet["F3"].number_format, sheet["F3"].value = "0.0", 3.25
    sheet["G3"].number_format, sheet["G3"].value = "#,##0.0000", 15
    (folder / "design_inputs.xlsx").write_bytes(_bytes(workbook))
    found = read_project(folder).design_inputs
    assert [(one.lower_limit, one.upper_limit, one.limit_decimals) for one in found[:2]] == [
        (10.0, None, 3),
        (3.25, 15.0, 2),
    ]


def test_the_commonest_format_with_decimals_has_no_code_in_the_file() -> None:
    def change(workbook: Any) -> None:
        workbook.active["A2"].value, workbook.active["A2"].number_format = 1.1, "0.00"

    data = _simple(change)
    assert b"formatCode" not in zipfile.ZipFile(io.BytesIO(data)).read("xl/styles.xml")
    table, _ = read_xlsx(data, file="x.xlsx", register="user_needs", columns=COLUMNS)
    assert table is not None
    assert table.rows[0].cells["id"] == "1.10"
